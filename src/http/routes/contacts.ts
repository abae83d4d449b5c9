import { z } from 'zod';
import { makeCalendar, ownCalendar, revokeCalendar } from '../../app/fieldwork/calendar-feeds.js';
import {
  addOwnAddress,
  addWebhook,
  firmAddresses,
  ownAddresses,
  ownContactRules,
  removeFirmAddress,
  removeOwnAddress,
  sendAgain,
  setContactRules,
  standIns,
  undelivered,
} from '../../app/fieldwork/contacts.js';
import { DomainError } from '../../domain/errors.js';
import { type Api, type HttpDeps, pageRequest, who, wirePage } from '../api.js';
import { list, longId, nothing, pageOf, pageQuery } from '../schemas/common.js';
import * as schema from '../schemas/contacts.js';
import { isoInstant, toWire } from '../wire.js';

const TAGS = ['contacts'];
const PARAMS = z.object({ id: longId });

export function addContactRoutes(api: Api, deps: HttpDeps): void {
  addRuleRoutes(api, deps);
  addAddressRoutes(api, deps);
  addCalendarRoutes(api, deps);
  addFirmRoutes(api, deps);
}

function addRuleRoutes(api: Api, { app }: HttpDeps): void {
  api.route({
    method: 'GET',
    url: '/api/v1/contact-rules',
    schema: {
      tags: TAGS,
      summary: 'When and about what one is told; the usual rules where none were set',
      response: { 200: schema.contactRules },
    },
    handler: async (request) => ownContactRules(app, who(request)),
  });

  api.route({
    method: 'PUT',
    url: '/api/v1/contact-rules',
    schema: {
      tags: TAGS,
      summary: 'Set when and about what one is told',
      body: schema.contactRulesBody,
      response: { 200: schema.contactRules },
    },
    handler: async (request) => setContactRules(app, who(request), request.body),
  });

  api.route({
    method: 'GET',
    url: '/api/v1/stand-ins',
    schema: {
      tags: TAGS,
      summary: 'Who may be told in one’s place on days away',
      response: { 200: z.object({ items: list(schema.standIn) }) },
    },
    handler: async (request) => ({ items: [...(await standIns(app, who(request)))] }),
  });
}

function addAddressRoutes(api: Api, { app, reach }: HttpDeps): void {
  api.route({
    method: 'GET',
    url: '/api/v1/push-key',
    schema: { tags: TAGS, summary: 'The key to which browsers subscribe', response: { 200: schema.pushKeyAnswer } },
    handler: async () => ({ publicKey: reach.pushPublicKey }),
  });

  api.route({
    method: 'GET',
    url: '/api/v1/addresses',
    schema: { tags: TAGS, summary: 'Where one is reached', response: { 200: schema.addresses } },
    handler: async (request) => ({
      items: toWire(await ownAddresses(app, who(request))),
      sendsMail: reach.sendsMail,
      sendsPush: reach.pushPublicKey !== null,
    }),
  });

  api.route({
    method: 'POST',
    url: '/api/v1/addresses',
    schema: {
      tags: TAGS,
      summary: 'Add a mail address or a browser’s push subscription; again brings its keys up to date',
      body: schema.newAddress,
      response: { 201: schema.address },
    },
    handler: async (request, reply) =>
      reply.code(201).send(toWire(await addOwnAddress(app, who(request), reach, request.body))),
  });

  api.route({
    method: 'DELETE',
    url: '/api/v1/addresses/:id',
    schema: { tags: TAGS, summary: 'End one’s own address', params: PARAMS, response: { 204: nothing } },
    handler: async (request, reply) => {
      await removeOwnAddress(app, who(request), request.params.id);
      return reply.code(204).send();
    },
  });
}

function addCalendarRoutes(api: Api, { app, calendar, settings }: HttpDeps): void {
  api.route({
    method: 'GET',
    url: '/api/v1/calendar',
    schema: {
      tags: TAGS,
      summary: 'Whether a private calendar address is in use, and since when',
      response: { 200: schema.calendar },
    },
    handler: async (request) => {
      const feed = await ownCalendar(app, who(request));
      return { createdAt: feed === null ? null : isoInstant(feed.createdMs) };
    },
  });

  api.route({
    method: 'POST',
    url: '/api/v1/calendar',
    schema: {
      tags: TAGS,
      summary: 'Make a private address of one’s own rounds for a calendar; the one before ends',
      response: { 201: schema.madeCalendar },
    },
    handler: async (request, reply) => {
      const token = await makeCalendar(app, who(request));
      const origin = settings.publicUrl ?? `${request.protocol}://${request.host}`;
      return reply.code(201).send({ url: `${origin}/api/v1/calendars/${token}.ics` });
    },
  });

  api.route({
    method: 'DELETE',
    url: '/api/v1/calendar',
    schema: { tags: TAGS, summary: 'End one’s private calendar address', response: { 204: nothing } },
    handler: async (request, reply) => {
      await revokeCalendar(app, who(request));
      return reply.code(204).send();
    },
  });

  api.route({
    method: 'GET',
    url: '/api/v1/calendars/:token',
    schema: {
      tags: TAGS,
      summary: 'The stops of one technician as iCalendar (RFC 5545); the token is the key',
      params: z.object({ token: longId }),
      response: { 200: z.string().meta({ description: 'text/calendar' }) },
    },
    handler: async (request, reply) => {
      const feed = await calendar(request.params.token.replace(/\.ics$/, ''));
      if (feed === null) {
        throw new DomainError('not_found', 'No calendar is kept here. Make a new address on the settings page.');
      }
      return reply.type('text/calendar; charset=utf-8').serializer(String).send(feed);
    },
  });
}

function addFirmRoutes(api: Api, { app }: HttpDeps): void {
  api.route({
    method: 'GET',
    url: '/api/v1/firm-addresses',
    schema: {
      tags: TAGS,
      summary: 'Webhooks and topics that hear of every alert',
      response: { 200: z.object({ items: list(schema.address) }) },
    },
    handler: async (request) => ({ items: toWire(await firmAddresses(app, who(request))) }),
  });

  api.route({
    method: 'POST',
    url: '/api/v1/firm-addresses',
    schema: {
      tags: TAGS,
      summary: 'Add a signed webhook; the secret is shown once',
      body: schema.newWebhook,
      response: { 201: schema.addedWebhook },
    },
    handler: async (request, reply) =>
      reply.code(201).send(toWire(await addWebhook(app, who(request), request.body.target))),
  });

  api.route({
    method: 'DELETE',
    url: '/api/v1/firm-addresses/:id',
    schema: { tags: TAGS, summary: 'End a webhook', params: PARAMS, response: { 204: nothing } },
    handler: async (request, reply) => {
      await removeFirmAddress(app, who(request), request.params.id);
      return reply.code(204).send();
    },
  });

  api.route({
    method: 'GET',
    url: '/api/v1/undelivered',
    schema: {
      tags: TAGS,
      summary: 'What was given up, oldest first',
      querystring: pageQuery,
      response: { 200: pageOf(schema.undelivered) },
    },
    handler: async (request) => wirePage(await undelivered(app, who(request), pageRequest(request.query))),
  });

  api.route({
    method: 'POST',
    url: '/api/v1/undelivered/:id/send',
    schema: {
      tags: TAGS,
      summary: 'Send what was given up again, under the same id',
      params: PARAMS,
      response: { 200: schema.undeliveredEntry },
    },
    handler: async (request) => toWire(await sendAgain(app, who(request), request.params.id)),
  });
}
