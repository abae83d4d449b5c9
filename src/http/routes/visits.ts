import { z } from 'zod';
import { recordVisit, visit, visits } from '../../app/fieldwork/visits.js';
import { type Api, type HttpDeps, who } from '../api.js';
import { list } from '../schemas/common.js';
import * as schema from '../schemas/work.js';
import { toWire } from '../wire.js';

export function addVisitRoutes(api: Api, { app }: HttpDeps): void {
  const tags = ['work'];

  api.route({
    method: 'GET',
    url: '/api/v1/visits',
    schema: {
      tags,
      summary: 'Visits by the time they happened, newest first',
      querystring: schema.visitsQuery,
      response: { 200: z.object({ items: list(schema.visitView) }) },
    },
    handler: async (request) => {
      const { from, to, containerId, siteId } = request.query;
      const query = { fromMs: from, toMs: to, containerId: containerId ?? null, siteId: siteId ?? null };
      return { items: toWire(await visits(app, who(request), query)) };
    },
  });

  api.route({
    method: 'GET',
    url: '/api/v1/visits/:id',
    schema: {
      tags,
      summary: 'One visit, with what the sensors said of it',
      params: schema.visitParams,
      response: { 200: schema.visitView },
    },
    handler: async (request) => toWire(await visit(app, who(request), request.params.id)),
  });

  api.route({
    method: 'PUT',
    url: '/api/v1/visits/:id',
    schema: {
      tags,
      summary: 'Record a visit under an id of the client’s making; sending it twice records it once',
      params: schema.visitParams,
      body: schema.visitBody,
      response: { 200: schema.visitReceipt },
    },
    handler: async (request) => {
      const person = who(request);
      const { technicianId, startedAt, happenedAt, ...rest } = request.body;
      const receipt = await recordVisit(app, person, {
        ...rest,
        id: request.params.id,
        technicianId: technicianId ?? person.personId,
        startedMs: startedAt ?? happenedAt,
        happenedMs: happenedAt,
      });
      return toWire(receipt);
    },
  });
}
