import { z } from 'zod';
import { eraseAccount, exportAccount } from '../../app/people/personal-data.js';
import { type Api, type HttpDeps, who } from '../api.js';
import { id, nothing } from '../schemas/common.js';
import { erasure, personalData } from '../schemas/personal-data.js';
import { toWire } from '../wire.js';

export function addPersonalDataRoutes(api: Api, { app }: HttpDeps): void {
  const tags = ['registry'];
  const params = z.object({ id });

  api.route({
    method: 'GET',
    url: '/api/v1/accounts/:id/personal-data',
    schema: { tags, summary: 'All that is kept about a client account', params, response: { 200: personalData } },
    handler: async (request) => toWire(await exportAccount(app, who(request), request.params.id)),
  });

  api.route({
    method: 'POST',
    url: '/api/v1/accounts/:id/erase',
    schema: {
      tags,
      summary: 'Take out all that tells who a client is; the ledger stays, nameless. It cannot be undone',
      params,
      body: erasure,
      response: { 204: nothing },
    },
    handler: async (request, reply) => {
      await eraseAccount(app, who(request), request.params.id);
      return reply.code(204).send();
    },
  });
}
