import { z } from 'zod';
import { audit, edits } from '../../app/changes.js';
import { DomainError } from '../../domain/errors.js';
import { type Api, type HttpDeps, pageRequest, signedIn, who, wirePage } from '../api.js';
import { ChangeStream } from '../change-stream.js';
import type { SessionCookie } from '../cookies.js';
import { identify } from '../guards.js';
import { countStreams } from '../metrics.js';
import { auditEntry, auditQuery, edit, editsQuery } from '../schemas/changes.js';
import { pageOf } from '../schemas/common.js';
import { isoInstant } from '../wire.js';

/** Commits come in bursts; their changes are read together, after so long at most. */
const GATHER_MS = 100;
/** Commits of other processes on the same data folder, an import for instance, are not announced. */
const LOOK_MS = 1_000;

export function addChangeRoutes(api: Api, deps: HttpDeps, cookie: SessionCookie): void {
  const streams = new Set<ChangeStream>();
  followStore(api, deps);
  countStreams(deps.metrics, () => streams.size);
  api.addHook('preClose', async () => {
    for (const stream of streams) stream.goodbye('The server stops. Connect again in a moment.');
  });

  api.route({
    method: 'GET',
    url: '/api/v1/changes',
    schema: {
      tags: ['changes'],
      summary: 'Live changes as server-sent events; resumes after the header Last-Event-ID',
      description:
        'Events: `hello` first, then `change` (data: schema Change; the id is its seq), `reset` where too much was missed to list it (load everything anew), `goodbye` before the server ends the stream.',
      headers: z.object({
        'last-event-id': z.coerce.number({ error: 'is not the id of an event' }).int().min(0).optional(),
      }),
      querystring: z.object({
        after: z.coerce
          .number({ error: 'is not the id of an event' })
          .int()
          .min(0)
          .optional()
          .meta({ description: 'As Last-Event-ID, for callers that cannot send the header' }),
      }),
      response: {
        200: {
          description: 'A stream of server-sent events',
          content: { 'text/event-stream': { schema: z.string() } },
        },
      },
    },
    handler: async (request, reply) => {
      if (streams.size >= deps.settings.changeStreams) {
        throw new DomainError('too_many_attempts', 'Too many open change streams. Close some pages, then try again.');
      }
      const stillSignedIn = async (): Promise<boolean> => (await identify(deps, request, cookie)) !== null;
      const after = request.headers['last-event-id'] ?? request.query.after ?? null;
      const stream = new ChangeStream(deps, reply.raw, signedIn(request), after, stillSignedIn);
      reply.hijack();
      streams.add(stream);
      stream.start(() => streams.delete(stream));
    },
  });

  api.route({
    method: 'GET',
    url: '/api/v1/audit',
    schema: {
      tags: ['changes'],
      summary: 'What people and commands changed, newest first',
      querystring: auditQuery,
      response: { 200: pageOf(auditEntry) },
    },
    handler: async (request) => wirePage(await audit(deps.app, who(request), pageRequest(request.query))),
  });

  api.route({
    method: 'GET',
    url: '/api/v1/edits',
    schema: {
      tags: ['changes'],
      summary: 'What people and commands changed, with the values before and after, newest first',
      querystring: editsQuery,
      response: { 200: pageOf(edit) },
    },
    handler: async (request) => {
      const filter = { key: request.query.key ?? null };
      const { rows, nextCursor } = await edits(deps.app, who(request), pageRequest(request.query), filter);
      const items = rows.map(({ atMs, erasedMs, ...row }) => ({
        ...row,
        at: isoInstant(atMs),
        erasedAt: erasedMs === null ? null : isoInstant(erasedMs),
      }));
      return { items, nextCursor };
    },
  });
}

function followStore(api: Api, { app, feed, log }: HttpDeps): void {
  let gathering: NodeJS.Timeout | null = null;
  const refresh = (): void => {
    feed.refresh().catch((err: unknown) => log.error({ err }, 'the change log could not be read'));
  };
  const stopListening = app.store.onCommit(() => {
    gathering ??= setTimeout(() => {
      gathering = null;
      refresh();
    }, GATHER_MS);
  });
  const look = setInterval(refresh, LOOK_MS);
  api.addHook('onClose', async () => {
    stopListening();
    clearInterval(look);
    if (gathering !== null) clearTimeout(gathering);
  });
}
