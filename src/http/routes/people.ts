import { z } from 'zod';
import { addPerson, changePerson, people, setPassword } from '../../app/people.js';
import { type Api, type HttpDeps, who } from '../api.js';
import { id, list } from '../schemas/common.js';
import { addedPerson, newPassword, newPerson, passwordChange, person, personChange } from '../schemas/people.js';
import { toWire } from '../wire.js';

export function addPeopleRoutes(api: Api, { app }: HttpDeps): void {
  const tags = ['people'];
  const params = z.object({ id });

  api.route({
    method: 'GET',
    url: '/api/v1/people',
    schema: { tags, summary: 'Everybody, by name', response: { 200: z.object({ items: list(person) }) } },
    handler: async (request) => ({ items: toWire(await people(app, who(request))) }),
  });

  api.route({
    method: 'POST',
    url: '/api/v1/people',
    schema: { tags, summary: 'Add a person', body: newPerson, response: { 201: addedPerson } },
    handler: async (request, reply) => {
      const { id: given, password, ...rest } = request.body;
      const added = await addPerson(app, who(request), { ...rest, id: given ?? null, password: password ?? null });
      return reply.code(201).send(toWire(added));
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
}
