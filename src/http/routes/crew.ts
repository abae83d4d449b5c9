import { z } from 'zod';
import {
  addAbsence,
  crew,
  endAbsence,
  saveDepot,
  saveTruck,
  setCrewTerms,
  setSiteTerms,
  siteTerms,
} from '../../app/fieldwork/crew.js';
import { type Api, type HttpDeps, who } from '../api.js';
import { id, longId, nothing } from '../schemas/common.js';
import * as schema from '../schemas/crew.js';

export function addCrewRoutes(api: Api, { app }: HttpDeps): void {
  const tags = ['crew'];

  api.route({
    method: 'GET',
    url: '/api/v1/crew',
    schema: { tags, summary: 'Who drives what, when, and who is away', response: { 200: schema.crew } },
    handler: async (request) => {
      const { absences, ...rest } = await crew(app, who(request));
      return { ...rest, absences: absences.map(({ endedMs: _endedMs, ...row }) => row) };
    },
  });

  api.route({
    method: 'PUT',
    url: '/api/v1/crew/:id',
    schema: {
      tags,
      summary: 'Set how a technician works',
      params: z.object({ id }),
      body: schema.crewTermsBody,
      response: { 200: schema.crewTerms },
    },
    handler: (request) => setCrewTerms(app, who(request), { ...request.body, personId: request.params.id }),
  });

  api.route({
    method: 'POST',
    url: '/api/v1/absences',
    schema: {
      tags,
      summary: 'Enter days on which a person or a truck is away; with neither, nobody works',
      body: schema.newAbsence,
      response: { 201: schema.absence },
    },
    handler: async (request, reply) => {
      const { endedMs: _endedMs, ...row } = await addAbsence(app, who(request), request.body);
      return reply.code(201).send(row);
    },
  });

  api.route({
    method: 'DELETE',
    url: '/api/v1/absences/:id',
    schema: { tags, summary: 'Take an absence back', params: z.object({ id: longId }), response: { 204: nothing } },
    handler: async (request, reply) => {
      await endAbsence(app, who(request), request.params.id);
      return reply.code(204).send();
    },
  });

  addPlaceRoutes(api, app);
  addSiteTermsRoutes(api, app);
}

function addPlaceRoutes(api: Api, app: HttpDeps['app']): void {
  const tags = ['crew'];
  const params = z.object({ id });

  api.route({
    method: 'POST',
    url: '/api/v1/depots',
    schema: { tags, summary: 'Add a depot', body: schema.depot, response: { 201: schema.depot } },
    handler: async (request, reply) => reply.code(201).send(await saveDepot(app, who(request), 'create', request.body)),
  });
  api.route({
    method: 'PUT',
    url: '/api/v1/depots/:id',
    schema: { tags, summary: 'Change a depot', params, body: schema.depotChange, response: { 200: schema.depot } },
    handler: (request) => saveDepot(app, who(request), 'replace', { ...request.body, id: request.params.id }),
  });
  api.route({
    method: 'POST',
    url: '/api/v1/trucks',
    schema: { tags, summary: 'Add a truck', body: schema.truck, response: { 201: schema.truck } },
    handler: async (request, reply) => reply.code(201).send(await saveTruck(app, who(request), 'create', request.body)),
  });
  api.route({
    method: 'PUT',
    url: '/api/v1/trucks/:id',
    schema: { tags, summary: 'Change a truck', params, body: schema.truckChange, response: { 200: schema.truck } },
    handler: (request) => saveTruck(app, who(request), 'replace', { ...request.body, id: request.params.id }),
  });
}

function addSiteTermsRoutes(api: Api, app: HttpDeps['app']): void {
  const tags = ['crew'];
  const params = z.object({ id });

  api.route({
    method: 'GET',
    url: '/api/v1/sites/:id/terms',
    schema: {
      tags,
      summary: 'When and by whom a site may be worked at, and what was agreed',
      params,
      response: { 200: schema.siteTerms },
    },
    handler: (request) => siteTerms(app, who(request), request.params.id),
  });
  api.route({
    method: 'PUT',
    url: '/api/v1/sites/:id/terms',
    schema: {
      tags,
      summary: 'Set when and by whom a site may be worked at',
      params,
      body: schema.siteTermsBody,
      response: { 200: schema.siteTerms },
    },
    handler: (request) => setSiteTerms(app, who(request), { ...request.body, siteId: request.params.id }),
  });
}
