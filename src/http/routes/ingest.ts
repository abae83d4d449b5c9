import { isUtf8 } from 'node:buffer';
import { quarantine } from '../../app/readings/quarantine.js';
import type { QuarantinedRecord } from '../../domain/reading.js';
import { type Api, type HttpDeps, pageRequest, who } from '../api.js';
import { pageOf, pageQuery } from '../schemas/common.js';
import { type QuarantinedJson, quarantined, rerun, rerunOutcome } from '../schemas/ingest.js';
import { toWire } from '../wire.js';

export function addIngestRoutes(api: Api, deps: HttpDeps): void {
  const tags = ['quarantine'];

  api.route({
    method: 'GET',
    url: '/api/v1/quarantine',
    schema: {
      tags,
      summary: 'What was refused, newest first, with its bytes and the reason',
      querystring: pageQuery,
      response: { 200: pageOf(quarantined) },
    },
    handler: async (request) => {
      const page = await quarantine(deps.app, who(request), pageRequest(request.query));
      return { items: page.rows.map(quarantinedJson), nextCursor: page.nextCursor };
    },
  });

  api.route({
    method: 'POST',
    url: '/api/v1/quarantine/rerun',
    schema: {
      tags,
      summary: 'Run refused records again, after the cause was mended',
      body: rerun,
      response: { 200: rerunOutcome },
    },
    handler: async (request) => {
      const items = await deps.rerun(who(request), request.body.ids);
      const taken = items.filter((item) => item.taken).length;
      return { taken, refusedAgain: items.length - taken, items };
    },
  });
}

function quarantinedJson({ raw, ...rest }: QuarantinedRecord): QuarantinedJson {
  const bytes = Buffer.from(raw);
  return {
    ...toWire(rest),
    rawBase64: bytes.toString('base64'),
    rawText: isUtf8(bytes) ? bytes.toString('utf8') : null,
  };
}
