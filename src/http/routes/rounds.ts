import { z } from 'zod';
import { moveStop, planStop, removeStop, rounds, setOut } from '../../app/fieldwork/rounds.js';
import { today } from '../../app/fieldwork/today.js';
import { type Api, type HttpDeps, who } from '../api.js';
import { list, longId, nothing } from '../schemas/common.js';
import * as schema from '../schemas/work.js';
import { toWire } from '../wire.js';

export function addRoundRoutes(api: Api, { app }: HttpDeps): void {
  const tags = ['work'];
  const params = z.object({ id: longId });

  api.route({
    method: 'GET',
    url: '/api/v1/today',
    schema: {
      tags,
      summary: 'What changed overnight, what cannot wait, what can, and what nobody knows',
      response: { 200: schema.today },
    },
    handler: async (request) => toWire(await today(app, who(request))),
  });

  api.route({
    method: 'GET',
    url: '/api/v1/rounds',
    schema: {
      tags,
      summary: 'The rounds of a day, each with its stops in order',
      querystring: schema.roundsQuery,
      response: { 200: z.object({ items: list(schema.roundView) }) },
    },
    handler: async (request) => {
      const person = who(request);
      const { day, technicianId } = request.query;
      const own = person.role === 'technician' ? person.personId : null;
      const query = { day: day ?? null, technicianId: technicianId ?? own };
      return { items: toWire(await rounds(app, person, query)) };
    },
  });

  api.route({
    method: 'POST',
    url: '/api/v1/rounds/stops',
    schema: {
      tags,
      summary: 'Put a site’s stop on a technician’s round',
      body: schema.planStop,
      response: { 201: schema.roundStop },
    },
    handler: async (request, reply) => reply.code(201).send(toWire(await planStop(app, who(request), request.body))),
  });

  api.route({
    method: 'PUT',
    url: '/api/v1/rounds/stops/:id',
    schema: {
      tags,
      summary: 'Move a planned stop to another technician, day or place in the order',
      params,
      body: schema.moveStop,
      response: { 200: schema.roundStop },
    },
    handler: async (request) =>
      toWire(await moveStop(app, who(request), { ...request.body, stopId: request.params.id })),
  });

  api.route({
    method: 'DELETE',
    url: '/api/v1/rounds/stops/:id',
    schema: { tags, summary: 'Take a stop off its round', params, response: { 204: nothing } },
    handler: async (request, reply) => {
      await removeStop(app, who(request), request.params.id);
      return reply.code(204).send();
    },
  });

  api.route({
    method: 'POST',
    url: '/api/v1/rounds/stops/:id/set-out',
    schema: { tags, summary: 'Set out for a stop', params, response: { 200: schema.roundStop } },
    handler: async (request) => toWire(await setOut(app, who(request), request.params.id)),
  });
}
