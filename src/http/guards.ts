import type { FastifyReply, FastifyRequest } from 'fastify';
import { bearerOf } from '../app/people/api-tokens.js';
import { type SignedIn, sessionOf } from '../app/people/sessions.js';
import { authorize, PERMISSIONS } from '../domain/access.js';
import { DomainError } from '../domain/errors.js';
import { type Access, accessOf, subjectOf } from './access-table.js';
import { type Api, type HttpDeps, who } from './api.js';
import type { SessionCookie } from './cookies.js';
import { isLoopback } from './loopback.js';

declare module 'fastify' {
  interface FastifyContextConfig {
    access?: Access;
  }
}

/** Browsers cannot send a header of one's own to another origin without being asked for leave, which we never give. */
export const REQUEST_HEADER = 'x-brimline';
const API_PREFIX = '/api/v1/';
/** What somebody may do who has to set up a second factor first. */
const BEFORE_ENROLMENT: ReadonlySet<string> = new Set([
  'GET /api/v1/session',
  'DELETE /api/v1/session',
  'GET /api/v1/second-factor',
  'POST /api/v1/second-factor',
  'POST /api/v1/second-factor/confirm',
]);
const SAFE_METHODS: ReadonlySet<string> = new Set(['GET', 'HEAD', 'OPTIONS']);

/**
 * Stands before every route of the API: a route without an entry in the access table cannot be registered; unsafe
 * requests from other origins, requests without a session and roles without the right are turned away, the last before
 * the body is read wherever the role alone decides.
 */
export function addGuards(api: Api, deps: HttpDeps, cookie: SessionCookie): void {
  const { host, publicUrl } = deps.settings;
  const ownNamesOnly = publicUrl === null && isLoopback(host);
  api.decorateRequest('signedIn', null);

  const authenticate = async (request: FastifyRequest): Promise<void> => {
    const { access } = request.routeOptions.config;
    if (access === undefined) return;
    if (ownNamesOnly) refuseForeignName(request);
    const bearer = bearerIn(request);
    // Nothing sends a token by itself, as browsers send cookies: there is no request to forge.
    if (bearer === null && !SAFE_METHODS.has(request.method)) refuseForeignOrigin(request, publicUrl);
    if (access === 'public') return;
    request.signedIn = await identify(deps, request, cookie);
    if (bearer !== null && request.signedIn === null) {
      throw new DomainError('not_authenticated', 'The token is unknown, ended or expired. Make another in Settings.');
    }
    const principal = who(request);
    refuseUnenrolled(request);
    if (access === 'session_only' && principal.actions !== undefined) {
      throw new DomainError('not_allowed', 'This is about the log-in itself, which no token may touch. Use the pages.');
    }
    if (typeof access === 'string') return;
    if (principal.actions !== undefined && !principal.actions.has(access.action)) {
      throw new DomainError(
        'not_allowed',
        `This token was not made for “${access.action}”. Make another with that action, and end this one.`,
      );
    }
    if (PERMISSIONS[access.action][principal.role] === 'none') throw notAllowed(request);
  };
  const authorizeSubject = async (request: FastifyRequest): Promise<void> => {
    const { access } = request.routeOptions.config;
    if (access === undefined || typeof access === 'string') return;
    const principal = who(request);
    const decision = authorize(principal, access.action, subjectOf(access, principal, request));
    if (!decision.allowed) throw notAllowed(request);
  };

  api.addHook('onRoute', (route) => {
    if (!route.url.startsWith(API_PREFIX)) return;
    const [method] = Array.isArray(route.method) ? route.method : [route.method];
    route.config = { ...route.config, access: accessOf(String(method), route.url) };
    // On the route and not on the server: so they come after the limit of requests, which was registered before.
    route.onRequest = [...hooksOf(route.onRequest), authenticate];
    route.preHandler = [...hooksOf(route.preHandler), authorizeSubject];
  });
  api.addHook('onSend', async (request: FastifyRequest, reply: FastifyReply) => {
    if (request.routeOptions.config.access !== undefined && !reply.hasHeader('cache-control')) {
      reply.header('cache-control', 'no-store');
    }
  });
}

/** The token after `Authorization: Bearer`; a request that bears one is judged by it alone, never by its cookie. */
function bearerIn(request: FastifyRequest): string | null {
  const { authorization } = request.headers;
  if (authorization === undefined) return null;
  return /^Bearer +(\S+)$/i.exec(authorization)?.[1] ?? '';
}

/** Who is asking: by a token of the API where the request bears one, by the session's cookie otherwise; null: nobody. */
export async function identify(
  deps: HttpDeps,
  request: FastifyRequest,
  cookie: SessionCookie,
): Promise<SignedIn | null> {
  const bearer = bearerIn(request);
  if (bearer !== null) return bearerOf(deps.app, deps.sessions, bearer);
  const token = cookie.read(request);
  return token === null ? null : sessionOf(deps.app, deps.sessions, token);
}

function refuseUnenrolled(request: FastifyRequest): void {
  if (request.signedIn?.mustEnrol !== true) return;
  const method = request.method === 'HEAD' ? 'GET' : request.method;
  if (BEFORE_ENROLMENT.has(`${method} ${request.routeOptions.url}`)) return;
  throw new DomainError('second_factor_missing', 'The firm asks a second factor of your role, and you have none yet.');
}

function hooksOf<Hook>(hooks: Hook | Hook[] | undefined): Hook[] {
  if (hooks === undefined) return [];
  return Array.isArray(hooks) ? hooks : [hooks];
}

/**
 * A server for this machine only is asked for by this machine's names. Another name is that of a page elsewhere which
 * has it resolve to this machine, to reach past the browser's rules (DNS rebinding).
 */
function refuseForeignName(request: FastifyRequest): void {
  if (isLoopback(request.hostname.replace(/^\[|\]$/g, ''))) return;
  throw new DomainError(
    'not_allowed',
    `This server is for its own machine only, and does not answer to the name ${request.hostname}. Where a proxy stands in front, set BRIMLINE_PUBLIC_URL.`,
  );
}

function refuseForeignOrigin(request: FastifyRequest, publicUrl: string | null): void {
  const { origin, host } = request.headers;
  if (origin !== undefined) {
    const own = publicUrl === null ? [`http://${host}`, `https://${host}`] : [publicUrl];
    if (!own.includes(origin)) {
      throw new DomainError(
        'not_allowed',
        `Changes are taken from this server’s own pages only, not from ${origin}. Where a proxy stands in front, set BRIMLINE_PUBLIC_URL.`,
      );
    }
  }
  if (request.headers[REQUEST_HEADER] === undefined) {
    throw new DomainError(
      'not_allowed',
      `Requests that change something have to bear the header ${REQUEST_HEADER}, with any value: it shows that no other site’s page sent them.`,
    );
  }
}

function notAllowed(request: FastifyRequest): DomainError {
  const { role } = who(request);
  return new DomainError('not_allowed', `A ${role} may not do this. Ask the owner, who gives out the roles.`);
}
