import { renderSVG } from 'uqr';
import { z } from 'zod';
import { apiTokens, makeApiToken, revokeApiToken } from '../../app/people/api-tokens.js';
import { acceptInvitation, lookAtInvitation } from '../../app/people/invitations.js';
import { beginSecondFactor, secondFactorState } from '../../app/people/second-factor.js';
import {
  askPasswordAgain,
  changeOwnPassword,
  dropOwnSecondFactor,
  turnOnSecondFactor,
} from '../../app/people/sessions.js';
import { type Api, type HttpDeps, signedIn, who } from '../api.js';
import type { SessionCookie } from '../cookies.js';
import { id, list, nothing } from '../schemas/common.js';
import * as schema from '../schemas/people.js';
import { apiToken, madeApiToken, newApiToken } from '../schemas/tokens.js';
import { isoInstant, toWire } from '../wire.js';

/** The ways in beside log-in and password: links, second factors, tokens for programs. */
export function addDoorRoutes(api: Api, deps: HttpDeps, cookie: SessionCookie): void {
  addInvitationRoutes(api, deps);
  addPasswordRoutes(api, deps, cookie);
  addSecondFactorRoutes(api, deps, cookie);
  addTokenRoutes(api, deps);
}

/** Routes that take a secret are asked as seldom as the log-in. */
function guarded({ settings }: HttpDeps) {
  return { rateLimit: { max: settings.logInsPerMinute, timeWindow: 60_000 } };
}

function addInvitationRoutes(api: Api, deps: HttpDeps): void {
  const tags = ['session'];
  const { app, processClock } = deps;

  api.route({
    method: 'POST',
    url: '/api/v1/invitations/look',
    config: guarded(deps),
    schema: {
      tags,
      summary: 'Whom a link is for; looking does not use it up',
      body: schema.invitationLook,
      response: { 200: schema.invitationShown },
    },
    handler: async (request) => {
      const { person, invitation } = await lookAtInvitation(app, processClock, request.body.token);
      const { purpose, expiresMs } = invitation;
      return { name: person.name, login: person.login, purpose, expiresAt: isoInstant(expiresMs) };
    },
  });

  api.route({
    method: 'POST',
    url: '/api/v1/invitations/accept',
    config: guarded(deps),
    schema: {
      tags,
      summary: 'Set a password with a link; works once',
      body: schema.invitationAccept,
      response: { 204: nothing },
    },
    handler: async (request, reply) => {
      await acceptInvitation(app, processClock, request.body);
      return reply.code(204).send();
    },
  });
}

function addPasswordRoutes(api: Api, deps: HttpDeps, cookie: SessionCookie): void {
  api.route({
    method: 'PUT',
    url: '/api/v1/password',
    config: guarded(deps),
    schema: {
      tags: ['session'],
      summary: 'Set the own password; every other session ends',
      body: schema.ownPassword,
      response: { 204: nothing },
    },
    handler: async (request, reply) => {
      const input = { ...request.body, address: request.ip };
      const made = await changeOwnPassword(deps.app, deps.sessions, signedIn(request), input);
      cookie.set(reply, made.token, made.session.expiresMs);
      return reply.code(204).send();
    },
  });
}

function addSecondFactorRoutes(api: Api, deps: HttpDeps, cookie: SessionCookie): void {
  const tags = ['session'];
  const { app, sessions } = deps;

  api.route({
    method: 'GET',
    url: '/api/v1/second-factor',
    schema: { tags, summary: 'Whether one has a second factor', response: { 200: schema.secondFactorState } },
    handler: (request) => secondFactorState(app, signedIn(request).person, sessions.secondFactor),
  });

  api.route({
    method: 'POST',
    url: '/api/v1/second-factor',
    config: guarded(deps),
    schema: {
      tags,
      summary: 'Begin to set up a second factor; it counts once a code of it was confirmed',
      body: schema.secondFactorBegin,
      response: { 200: schema.secondFactorBegun },
    },
    handler: async (request) => {
      const { person } = signedIn(request);
      await askPasswordAgain(app, sessions, person, { ...request.body, address: request.ip });
      const begun = await beginSecondFactor(app, person);
      return { ...begun, qrSvg: renderSVG(begun.uri, { border: 4, ecc: 'M' }) };
    },
  });

  api.route({
    method: 'POST',
    url: '/api/v1/second-factor/confirm',
    config: guarded(deps),
    schema: {
      tags,
      summary: 'Turn the second factor on with its first code; every other session ends',
      body: schema.secondFactorConfirm,
      response: { 200: schema.recoveryCodes },
    },
    handler: async (request, reply) => {
      const made = await turnOnSecondFactor(app, sessions, signedIn(request), request.body.code);
      cookie.set(reply, made.token, made.session.expiresMs);
      return { recoveryCodes: [...made.recoveryCodes] };
    },
  });

  api.route({
    method: 'POST',
    url: '/api/v1/second-factor/drop',
    config: guarded(deps),
    schema: {
      tags,
      summary: 'Take the own second factor away, with password and code; every other session ends',
      body: schema.secondFactorDrop,
      response: { 204: nothing },
    },
    handler: async (request, reply) => {
      const input = { ...request.body, address: request.ip };
      const made = await dropOwnSecondFactor(app, sessions, signedIn(request), input);
      cookie.set(reply, made.token, made.session.expiresMs);
      return reply.code(204).send();
    },
  });
}

function addTokenRoutes(api: Api, { app, processClock }: HttpDeps): void {
  const tags = ['people'];

  api.route({
    method: 'GET',
    url: '/api/v1/tokens',
    schema: {
      tags,
      summary: 'One’s own tokens for programs; to an owner everybody’s',
      response: { 200: z.object({ items: list(apiToken) }) },
    },
    handler: async (request) => ({ items: toWire(await apiTokens(app, who(request))) }),
  });

  api.route({
    method: 'POST',
    url: '/api/v1/tokens',
    schema: {
      tags,
      summary: 'Make a token with which a program does some of what one may do, for a time',
      body: newApiToken,
      response: { 201: madeApiToken },
    },
    handler: async (request, reply) => {
      const { token, row } = await makeApiToken(app, who(request), processClock, request.body);
      return reply.code(201).send({ token, apiToken: toWire(row) });
    },
  });

  api.route({
    method: 'DELETE',
    url: '/api/v1/tokens/:id',
    schema: { tags, summary: 'End a token at once', params: z.object({ id }), response: { 204: nothing } },
    handler: async (request, reply) => {
      await revokeApiToken(app, who(request), processClock, request.params.id);
      return reply.code(204).send();
    },
  });
}
