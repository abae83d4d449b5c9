import { firm, saveFirm } from '../../app/people/firm.js';
import { awaitsSetUp } from '../../app/people/set-up.js';
import { type Api, type HttpDeps, who } from '../api.js';
import * as schema from '../schemas/commissioning.js';
import { person } from '../schemas/people.js';
import { toWire } from '../wire.js';

/** A person types a code once or twice; a program that guesses asks more often. */
const SET_UPS_PER_MINUTE = 10;

export function addSetUpRoutes(api: Api, { app, setUpDoor }: HttpDeps): void {
  api.route({
    method: 'GET',
    url: '/api/v1/set-up',
    schema: {
      tags: ['session'],
      summary: 'Whether the server still waits for its first owner',
      response: { 200: schema.setUpState },
    },
    handler: async () => ({ awaits: await awaitsSetUp(app.store) }),
  });

  api.route({
    method: 'POST',
    url: '/api/v1/set-up',
    config: { rateLimit: { max: SET_UPS_PER_MINUTE, timeWindow: 60_000 } },
    schema: {
      tags: ['session'],
      summary: 'Make the first owner, with the code that the server’s console shows; once, while nobody is there',
      body: schema.setUp,
      response: { 201: person },
    },
    handler: async (request, reply) => reply.code(201).send(toWire(await setUpDoor.enter(app, request.body))),
  });

  api.route({
    method: 'GET',
    url: '/api/v1/firm',
    schema: {
      tags: ['registry'],
      summary: 'The firm: its name, the tariff of its water, what new people start with',
      response: { 200: schema.firm },
    },
    handler: async (request) => {
      const row = await firm(app);
      return who(request).role === 'client' ? { ...row, waterPricePerM3: null } : row;
    },
  });

  api.route({
    method: 'PUT',
    url: '/api/v1/firm',
    schema: { tags: ['registry'], summary: 'Change the firm', body: schema.firmChange, response: { 200: schema.firm } },
    handler: async (request) => saveFirm(app, who(request), request.body),
  });
}
