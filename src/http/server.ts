import { randomUUID } from 'node:crypto';
import { createServer } from 'node:https';
import { Server as TlsServer } from 'node:tls';
import cookie from '@fastify/cookie';
import helmet from '@fastify/helmet';
import rateLimit from '@fastify/rate-limit';
import { type FastifyServerFactory, fastify, LogController } from 'fastify';
import { serializerCompiler, validatorCompiler, type ZodTypeProvider } from 'fastify-type-provider-zod';
import { DomainError } from '../domain/errors.js';
import type { Api, HttpDeps } from './api.js';
import { addCompression } from './compression.js';
import { makeSessionCookie } from './cookies.js';
import { addDashboard } from './dashboard.js';
import { addGuards } from './guards.js';
import { addHttpMetrics } from './metrics.js';
import { addOpenApi } from './openapi.js';
import { sendProblem } from './problem.js';
import { addAccessRoutes } from './routes/access.js';
import { addAlarmRoutes } from './routes/alarms.js';
import { addAssignmentRoutes } from './routes/assignments.js';
import { addChangeRoutes } from './routes/changes.js';
import { addCommissioningRoutes } from './routes/commissioning.js';
import { addContactRoutes } from './routes/contacts.js';
import { addContainerRoutes } from './routes/containers.js';
import { addCrewRoutes } from './routes/crew.js';
import { addDoorRoutes } from './routes/doors.js';
import { addHealthRoutes } from './routes/health.js';
import { addIngestRoutes } from './routes/ingest.js';
import { addPeopleRoutes } from './routes/people.js';
import { addPersonalDataRoutes } from './routes/personal-data.js';
import { addPlanRoutes } from './routes/plan.js';
import { addRegistryRoutes } from './routes/registry.js';
import { addRoundRoutes } from './routes/rounds.js';
import { addSessionRoutes } from './routes/session.js';
import { addSetUpRoutes } from './routes/set-up.js';
import { addTaskRoutes } from './routes/tasks.js';
import { addVisitRoutes } from './routes/visits.js';
import { addWaterRoutes } from './routes/water.js';

/** Longest id in an address; ids that rules make join several others. */
const MAX_PARAM_LENGTH = 220;
/** A machine that hardly gets to run, as after an outage when all starts at once, may take this long to load a plugin. */
const START_TIMEOUT_MS = 120_000;
/** A handler that takes longer is cut off by nobody, but a client that sends slower than this is. */
const REQUEST_TIMEOUT_MS = 60_000;
/** As the framework has it for servers without TLS. */
const KEEP_ALIVE_MS = 72_000;

export interface HttpServer {
  readonly api: Api;
  /** Where it listens, with the port that it got. */
  readonly url: string;
  close(): Promise<void>;
}

/** Builds the server with all its routes; it does not listen yet. */
export async function buildHttpServer(deps: HttpDeps): Promise<Api> {
  const { settings } = deps;
  const https = deps.tls !== null || (settings.publicUrl?.startsWith('https:') ?? false);
  const api: Api = fastify({
    ...(deps.tls === null ? {} : { serverFactory: tlsServer(deps.tls) }),
    loggerInstance: deps.log,
    logController: new LogController({ disableRequestLogging: true }),
    genReqId: () => randomUUID(),
    bodyLimit: settings.bodyLimitBytes,
    requestTimeout: REQUEST_TIMEOUT_MS,
    pluginTimeout: START_TIMEOUT_MS,
    trustProxy: settings.trustedHops === 0 ? false : (_address: string, hop: number) => hop < settings.trustedHops,
    routerOptions: { maxParamLength: MAX_PARAM_LENGTH },
    return503OnClosing: true,
    forceCloseConnections: 'idle',
    frameworkErrors: sendProblem,
  }).withTypeProvider<ZodTypeProvider>();
  api.setValidatorCompiler(validatorCompiler);
  api.setSerializerCompiler(serializerCompiler);
  api.setErrorHandler(sendProblem);
  // The framework takes plain text as well; nothing here does.
  api.removeContentTypeParser('text/plain');
  api.addHook('onRequest', async (request, reply) => {
    reply.header('x-request-id', request.id);
  });

  await api.register(helmet, {
    contentSecurityPolicy: {
      useDefaults: false,
      directives: {
        defaultSrc: ["'self'"],
        imgSrc: [
          "'self'",
          'data:',
          'blob:',
          ...(settings.mapTiles === null ? [] : [new URL(settings.mapTiles.template).origin]),
        ],
        objectSrc: ["'none'"],
        baseUri: ["'none'"],
        formAction: ["'self'"],
        frameAncestors: ["'none'"],
      },
    },
    strictTransportSecurity: https,
    referrerPolicy: { policy: 'same-origin' },
  });
  await api.register(cookie);
  await api.register(rateLimit, {
    max: settings.requestsPerMinute,
    timeWindow: 60_000,
    cache: 20_000,
    errorResponseBuilder: (_request, context) =>
      new DomainError(
        'too_many_attempts',
        `More than ${context.max} requests a minute came from this address. Wait ${context.after}, then go on.`,
      ),
  });
  const sessionCookie = makeSessionCookie(https);
  addGuards(api, deps, sessionCookie);
  await addOpenApi(api, sessionCookie.name);
  addHttpMetrics(deps.metrics, api);
  addCompression(api);

  addHealthRoutes(api, deps);
  addSessionRoutes(api, deps, sessionCookie);
  addDoorRoutes(api, deps, sessionCookie);
  addSetUpRoutes(api, deps);
  addPeopleRoutes(api, deps);
  addRegistryRoutes(api, deps);
  addCrewRoutes(api, deps);
  addAccessRoutes(api, deps);
  addPersonalDataRoutes(api, deps);
  addAssignmentRoutes(api, deps);
  addContainerRoutes(api, deps);
  addCommissioningRoutes(api, deps);
  addWaterRoutes(api, deps);
  addIngestRoutes(api, deps);
  addRoundRoutes(api, deps);
  addPlanRoutes(api, deps);
  addTaskRoutes(api, deps);
  addVisitRoutes(api, deps);
  addAlarmRoutes(api, deps);
  addContactRoutes(api, deps);
  addChangeRoutes(api, deps, sessionCookie);
  await addDashboard(api, deps, sessionCookie);
  await api.ready();
  return api;
}

/** The framework hands its timeouts to servers of its own making only. */
function tlsServer({ key, cert }: { readonly key: string; readonly cert: string }): FastifyServerFactory {
  return (handler) => {
    const server = createServer({ key, cert, minVersion: 'TLSv1.2' }, (request, response) =>
      handler(request, response),
    );
    server.requestTimeout = REQUEST_TIMEOUT_MS;
    server.keepAliveTimeout = KEEP_ALIVE_MS;
    return server;
  };
}

/**
 * Starts to listen.
 * @throws DomainError `port_in_use`, `not_allowed` where the system forbids the port, `invalid_input` for an address that
 * this machine does not have
 */
export async function listen(api: Api, host: string, port: number): Promise<HttpServer> {
  try {
    await api.listen({ host, port });
  } catch (cause) {
    await api.close();
    throw listenRefusal(cause, host, port);
  }
  const address = api.server.address();
  if (address === null || typeof address === 'string') throw new Error('the HTTP server listens on no port');
  const shown = host.includes(':') ? `[${host}]` : host;
  const scheme = api.server instanceof TlsServer ? 'https' : 'http';
  return { api, url: `${scheme}://${shown}:${address.port}`, close: () => api.close() };
}

function listenRefusal(cause: unknown, host: string, port: number): unknown {
  const code = cause instanceof Error && 'code' in cause ? cause.code : null;
  switch (code) {
    case 'EADDRINUSE':
      return new DomainError(
        'port_in_use',
        `Port ${port} on ${host} is taken by another program, perhaps by a Brimline that still runs. Stop it, or choose another port with --http PORT.`,
        { cause },
      );
    case 'EACCES':
      return new DomainError(
        'not_allowed',
        `The system does not let this user listen on port ${port}. Choose a port above 1023 with --http PORT, or put a proxy in front.`,
        { cause },
      );
    case 'EADDRNOTAVAIL':
      return new DomainError('invalid_input', `This machine has no address ${host}. Choose another with --host.`, {
        cause,
      });
    default:
      return cause;
  }
}
