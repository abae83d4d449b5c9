import type { FastifyRequest } from 'fastify';
import { z } from 'zod';
import { invite, type OpenInvitation } from '../../app/people/invitations.js';
import { addPerson, changePerson, endSessions, people, setPassword } from '../../app/people/people.js';
import { peopleDoors, resetSecondFactor } from '../../app/people/second-factor.js';
import { type Api, type HttpDeps, who } from '../api.js';
import { id, list, nothing } from '../schemas/common.js';
import {
  addedPerson,
  newPassword,
  newPerson,
  openInvitation,
  passwordChange,
  person,
  personChange,
  personDoors,
} from '../schemas/people.js';
import { isoInstant, toWire } from '../wire.js';

export function addPeopleRoutes(api: Api, deps: HttpDeps): void {
  const { app } = deps;
  const tags = ['people'];
  const params = z.object({ id });

  api.route({
    method: 'GET',
    url: '/api/v1/people',
    schema: { tags, summary: 'Everybody, by name', response: { 200: z.object({ items: list(person) }) } },
    handler: async (request) => ({ items: toWire(await people(app, who(request))) }),
  });

  api.route({
    method: 'GET',
    url: '/api/v1/people/doors',
    schema: { tags, summary: 'Who has a second factor', response: { 200: z.object({ items: list(personDoors) }) } },
    handler: async (request) => ({ items: [...(await peopleDoors(app, who(request)))] }),
  });

  api.route({
    method: 'DELETE',
    url: '/api/v1/people/:id/sessions',
    schema: { tags, summary: 'Sign a person out on every device', params, response: { 204: nothing } },
    handler: async (request, reply) => {
      await endSessions(app, who(request), request.params.id);
      return reply.code(204).send();
    },
  });

  api.route({
    method: 'POST',
    url: '/api/v1/people',
    schema: { tags, summary: 'Add a person', body: newPerson, response: { 201: addedPerson } },
    handler: async (request, reply) => {
      const { id: given, password, invite: invited, ...rest } = request.body;
      const input = { ...rest, id: given ?? null, password: password ?? null };
      const inviteAtMs = deps.processClock.nowMs();
      const { invitation, ...added } = await addPerson(app, who(request), invited ? { ...input, inviteAtMs } : input);
      const link = invitation === null ? null : wireInvitation(deps, request, invitation);
      return reply.code(201).send({ ...toWire(added), invitation: link });
    },
  });

  api.route({
    method: 'PUT',
    url: '/api/v1/people/:id',
    schema: {
      tags,
      summary: 'Change a person; a disabled one can no longer sign in',
      params,
      body: personChange,
      response: { 200: person },
    },
    handler: async (request) => toWire(await changePerson(app, who(request), request.params.id, request.body)),
  });

  api.route({
    method: 'PUT',
    url: '/api/v1/people/:id/password',
    schema: {
      tags,
      summary: 'Set a person’s password; made here, and shown once, where none is sent',
      params,
      body: passwordChange,
      response: { 200: newPassword },
    },
    handler: async (request) => ({
      password: await setPassword(app, who(request), request.params.id, request.body.password ?? null),
    }),
  });

  api.route({
    method: 'POST',
    url: '/api/v1/people/:id/invitation',
    schema: {
      tags,
      summary: 'Make the link with which a person sets a password, a first or a new one; earlier links end',
      params,
      response: { 201: openInvitation },
    },
    handler: async (request, reply) => {
      const open = await invite(app, who(request), deps.processClock, request.params.id);
      return reply.code(201).send(wireInvitation(deps, request, open));
    },
  });

  api.route({
    method: 'DELETE',
    url: '/api/v1/people/:id/second-factor',
    schema: {
      tags,
      summary: 'Take a person’s second factor away, for somebody who has lost phone and recovery codes',
      params,
      response: { 204: nothing },
    },
    handler: async (request, reply) => {
      await resetSecondFactor(app, who(request), request.params.id);
      return reply.code(204).send();
    },
  });
}

/** The token stands behind the `#`, which browsers send to no server and write into no log. */
function wireInvitation({ settings }: HttpDeps, request: FastifyRequest, open: OpenInvitation) {
  const base = settings.publicUrl ?? `${request.protocol}://${request.host}`;
  return {
    token: open.token,
    link: `${base}/#/welcome/${open.token}`,
    purpose: open.purpose,
    expiresAt: isoInstant(open.expiresMs),
  };
}
