import { timingSafeEqual } from 'node:crypto';
import type { FastifyRequest } from 'fastify';
import { z } from 'zod';
import { DomainError, type ErrorCode } from '../../domain/errors.js';
import { EN } from '../../domain/texts/en/index.js';
import type { Api, HttpDeps } from '../api.js';
import { STATUS } from '../problem.js';
import { list } from '../schemas/common.js';

const LOOPBACK = /^(?:127\.|::1$|::ffff:127\.)/;

/** For whoever runs the server: is it alive, can it work, how does it do, what does it offer. */
export function addHealthRoutes(api: Api, deps: HttpDeps): void {
  api.route({
    method: 'GET',
    url: '/healthz',
    schema: { summary: 'The process runs', security: [], response: { 200: z.object({ status: z.literal('ok') }) } },
    handler: async () => ({ status: 'ok' as const }),
  });

  const readiness = z.object({ status: z.enum(['ready', 'not_ready']), reasons: list(z.string()) });
  api.route({
    method: 'GET',
    url: '/readyz',
    schema: {
      summary: 'The server can do its work; 503 with the reasons where it cannot',
      security: [],
      response: { 200: readiness, 503: readiness },
    },
    handler: async (_request, reply) => {
      const reasons = await deps.notReady();
      if (reasons.length === 0) return { status: 'ready' as const, reasons };
      return reply.code(503).send({ status: 'not_ready' as const, reasons });
    },
  });

  api.get('/metrics', { schema: { hide: true } }, async (request, reply) => {
    refuseStrangers(request, deps.settings.metricsToken);
    return reply.type(deps.metrics.contentType).send(await deps.metrics.metrics());
  });

  api.get('/api/openapi.json', { schema: { hide: true } }, async (_request, reply) =>
    reply.type('application/json; charset=utf-8').send(JSON.stringify(api.swagger())),
  );

  const codes = ['internal', ...(Object.keys(STATUS) as ErrorCode[])] as const;
  api.route({
    method: 'GET',
    url: '/api/problems/:code',
    schema: {
      summary: 'What a kind of refusal means, and what to do',
      security: [],
      params: z.object({ code: z.enum(codes) }),
      response: { 200: z.object({ code: z.string(), status: z.number().int(), title: z.string(), next: z.string() }) },
    },
    handler: async (request) => {
      const { code } = request.params;
      return {
        code,
        status: code === 'internal' ? 500 : STATUS[code],
        title: EN[`error.${code}`],
        next: EN[`error.${code}.next`],
      };
    },
  });
}

/** The numbers tell much about the firm: this machine may read them, others with the token only. */
function refuseStrangers(request: FastifyRequest, token: string | null): void {
  const { authorization } = request.headers;
  if (token !== null && authorization !== undefined) {
    const given = Buffer.from(authorization);
    const wanted = Buffer.from(`Bearer ${token}`);
    if (given.length === wanted.length && timingSafeEqual(given, wanted)) return;
  }
  const viaProxy = request.headers['x-forwarded-for'] !== undefined || request.headers.forwarded !== undefined;
  const { remoteAddress } = request.socket;
  if (!viaProxy && remoteAddress !== undefined && LOOPBACK.test(remoteAddress)) return;
  throw new DomainError(
    'not_allowed',
    'Metrics are shown to this machine only. For others set BRIMLINE_METRICS_TOKEN, and send it as a bearer token.',
  );
}
