import { z } from 'zod';
import { commissioningList, commissioningOf, pour, pouredTable, tableOfShape } from '../../app/pots/commissioning.js';
import { askFastReport, levelNow } from '../../app/pots/level-now.js';
import { type Api, type HttpDeps, who } from '../api.js';
import * as schema from '../schemas/commissioning.js';
import { id, list } from '../schemas/common.js';
import { isoInstant, toWire } from '../wire.js';

export function addCommissioningRoutes(api: Api, { app }: HttpDeps): void {
  const tags = ['commissioning'];
  const params = z.object({ id });

  api.route({
    method: 'GET',
    url: '/api/v1/commissioning',
    schema: {
      tags,
      summary: 'Pots that are not finished, have no node, or seem to bear another pot’s node',
      response: { 200: z.object({ items: list(schema.commissioningItem) }) },
    },
    handler: async (request) => ({ items: toWire(await commissioningList(app, who(request))) }),
  });

  api.route({
    method: 'GET',
    url: '/api/v1/containers/:id/commissioning',
    schema: {
      tags,
      summary: 'How far a pot’s commissioning has come: table, node, proof of the wick',
      params,
      response: { 200: schema.commissioning },
    },
    handler: async (request) => toWire(await commissioningOf(app, who(request), request.params.id)),
  });

  api.route({
    method: 'POST',
    url: '/api/v1/first-table',
    schema: {
      tags,
      summary: 'A first strapping table from a reservoir’s shape and size; nothing is kept',
      body: schema.shapeBody,
      response: { 200: schema.tableOfShape },
    },
    handler: async (request) => tableOfShape(who(request), request.body.shape, request.body.size),
  });

  api.route({
    method: 'POST',
    url: '/api/v1/containers/:id/pours',
    schema: {
      tags,
      summary: 'A strapping table with its uncertainty from measured pours; refused ones with the reason',
      params,
      body: schema.poursBody,
      response: { 200: schema.pourResult },
    },
    handler: async (request) => pour(app, who(request), request.params.id, request.body),
  });

  api.route({
    method: 'GET',
    url: '/api/v1/containers/:id/pours',
    schema: {
      tags: ['containers'],
      summary: 'The pours behind the strapping table that holds now; null where it was not poured',
      params,
      response: { 200: z.object({ poured: schema.pourRecord.nullable() }) },
    },
    handler: async (request) => ({ poured: toWire(await pouredTable(app, who(request), request.params.id)) }),
  });

  api.route({
    method: 'GET',
    url: '/api/v1/containers/:id/level',
    schema: {
      tags: ['containers'],
      summary: 'What the sensor says right now, and when its next word is to be expected',
      params,
      response: { 200: schema.levelNow },
    },
    handler: async (request) => toWire(await levelNow(app, who(request), request.params.id)),
  });

  api.route({
    method: 'POST',
    url: '/api/v1/containers/:id/fast-report',
    schema: {
      tags: ['containers'],
      summary: 'Ask the pot’s node to report as fast as it can for some minutes',
      params,
      body: schema.fastReportBody,
      response: { 200: schema.fastReport },
    },
    handler: async (request) => ({
      until: isoInstant(await askFastReport(app, who(request), request.params.id, request.body.minutes)),
    }),
  });
}
