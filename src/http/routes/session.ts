import { z } from 'zod';
import { setPreferences } from '../../app/people/people.js';
import { type SignedIn, signIn, signOut } from '../../app/people/sessions.js';
import { type Action, PERMISSIONS, type Reach } from '../../domain/access.js';
import { type Api, type HttpDeps, signedIn, who } from '../api.js';
import type { SessionCookie } from '../cookies.js';
import { flag, nothing } from '../schemas/common.js';
import { logIn, type Me, me, person, preferences } from '../schemas/people.js';
import { isoInstant, toWire } from '../wire.js';

export function addSessionRoutes(api: Api, deps: HttpDeps, cookie: SessionCookie): void {
  const tags = ['session'];

  api.route({
    method: 'POST',
    url: '/api/v1/session',
    config: { rateLimit: { max: deps.settings.logInsPerMinute, timeWindow: 60_000 } },
    schema: { tags, summary: 'Sign in; the answer sets the session’s cookie', body: logIn, response: { 200: me } },
    handler: async (request, reply) => {
      const made = await signIn(deps.app, deps.sessions, {
        ...request.body,
        code: request.body.code ?? null,
        address: request.ip,
        replaces: cookie.read(request),
      });
      cookie.set(reply, made.token, made.session.expiresMs);
      return meOf(deps, made);
    },
  });

  api.route({
    method: 'GET',
    url: '/api/v1/session',
    schema: { tags, summary: 'Who one is, what one may do, and what time it is', response: { 200: me } },
    handler: async (request) => meOf(deps, signedIn(request)),
  });

  api.route({
    method: 'DELETE',
    url: '/api/v1/session',
    schema: {
      tags,
      summary: 'Sign out, here or everywhere',
      querystring: z.object({ everywhere: flag.default(false) }),
      response: { 204: nothing },
    },
    handler: async (request, reply) => {
      await signOut(deps.app, signedIn(request), request.query.everywhere);
      cookie.clear(reply);
      return reply.code(204).send();
    },
  });

  api.route({
    method: 'PUT',
    url: '/api/v1/preferences',
    schema: { tags, summary: 'Set one’s own language and units', body: preferences, response: { 200: person } },
    handler: async (request) => toWire(await setPreferences(deps.app, who(request), request.body)),
  });
}

function meOf(deps: HttpDeps, { person: somebody, session, actions, mustEnrol }: SignedIn): Me {
  const permissions: Record<string, Reach> = {};
  for (const action of Object.keys(PERMISSIONS) as Action[]) {
    const within = actions === null || actions.has(action);
    permissions[action] = within ? PERMISSIONS[action][somebody.role] : 'none';
  }
  return {
    person: toWire(somebody),
    sessionExpiresAt: isoInstant(session.expiresMs),
    permissions,
    now: {
      business: isoInstant(deps.app.clock.nowMs()),
      process: isoInstant(deps.processClock.nowMs()),
      speed: deps.speed,
    },
    demo: deps.demo,
    mapTiles: deps.settings.mapTiles,
    mustEnrol,
  };
}
