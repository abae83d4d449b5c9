import { z } from 'zod';
import { containerPage, containers } from '../../app/pots/containers.js';
import { addEvent, correctEvent, eventCorrections } from '../../app/pots/events.js';
import { explainPast } from '../../app/pots/explain.js';
import { containerSeries } from '../../app/pots/series.js';
import { containerLedger, ledgerPostings } from '../../app/pots/water.js';
import { saveContainer } from '../../app/registry.js';
import { type Api, type HttpDeps, pageRequest, who, wirePage } from '../api.js';
import {
  DAY_SPAN_FAULT,
  daySpanQuery,
  id,
  instantIn,
  isDaySpan,
  list,
  localDay,
  longId,
  nothing,
  pageOf,
  pageQuery,
} from '../schemas/common.js';
import {
  addedEvent,
  containerDetail,
  containerItem,
  correction,
  eventCorrection,
  explanation,
  ledgerDay,
  ledgerPosting,
  series,
  seriesQuery,
} from '../schemas/pots.js';
import { container, containerChange } from '../schemas/registry.js';
import { isoInstant, toWire } from '../wire.js';

export function addContainerRoutes(api: Api, { app, explain }: HttpDeps): void {
  const tags = ['containers'];
  const params = z.object({ id });

  api.route({
    method: 'GET',
    url: '/api/v1/containers',
    schema: {
      tags,
      summary: 'Containers, with what is known of each now',
      querystring: pageQuery.extend({
        text: z.string().max(200).optional().meta({ description: 'In the name, the place, the site or the id' }),
        siteId: id.optional(),
        accountId: id.optional(),
      }),
      response: { 200: pageOf(containerItem) },
    },
    handler: async (request) => {
      const { text, siteId, accountId } = request.query;
      const filter = { text: text ?? null, siteId: siteId ?? null, accountId: accountId ?? null };
      return wirePage(await containers(app, who(request), pageRequest(request.query), filter));
    },
  });

  api.route({
    method: 'POST',
    url: '/api/v1/containers',
    schema: { tags: ['commissioning'], summary: 'Add a container', body: container, response: { 201: container } },
    handler: async (request, reply) =>
      reply.code(201).send(await saveContainer(app, who(request), 'create', request.body)),
  });

  api.route({
    method: 'GET',
    url: '/api/v1/containers/:id',
    schema: { tags, summary: 'All that is known of one container', params, response: { 200: containerDetail } },
    handler: async (request) => toWire(await containerPage(app, who(request), explain, request.params.id)),
  });

  api.route({
    method: 'PUT',
    url: '/api/v1/containers/:id',
    schema: {
      tags: ['commissioning'],
      summary: 'Change a container; what was derived with the old strapping table is derived anew',
      params,
      body: containerChange,
      response: { 200: container },
    },
    handler: (request) => saveContainer(app, who(request), 'replace', { ...request.body, id: request.params.id }),
  });

  api.route({
    method: 'GET',
    url: '/api/v1/containers/:id/series',
    schema: {
      tags,
      summary: 'Level, litres and the rest over time, with events and findings',
      params,
      querystring: seriesQuery,
      response: { 200: series },
    },
    handler: async (request) => {
      const { from, to, resolution, cleaning } = request.query;
      const { times, ...rest } = await containerSeries(app, who(request), request.params.id, {
        fromMs: from,
        toMs: to,
        resolution: resolution ?? null,
        cleaning,
      });
      return { ...toWire(rest), time: times.map(isoInstant) };
    },
  });

  api.route({
    method: 'GET',
    url: '/api/v1/containers/:id/explanation',
    schema: {
      tags,
      summary: 'What could be said of it at a past instant and why, beside what was said then',
      params,
      querystring: z.object({ at: instantIn }),
      response: { 200: explanation },
    },
    handler: async (request) => toWire(await explainPast(app, who(request), request.params.id, request.query.at)),
  });

  api.route({
    method: 'GET',
    url: '/api/v1/containers/:id/ledger',
    schema: {
      tags,
      summary: 'The account of its water by site-local day',
      params,
      querystring: z.object(daySpanQuery).refine(isDaySpan, DAY_SPAN_FAULT),
      response: { 200: z.object({ items: list(ledgerDay) }) },
    },
    handler: async (request) => {
      const { from, to } = request.query;
      return { items: await containerLedger(app, who(request), request.params.id, { fromDay: from, toDay: to }) };
    },
  });

  api.route({
    method: 'GET',
    url: '/api/v1/containers/:id/ledger/:day',
    schema: {
      tags,
      summary: 'The entry that stands for a day, then those that it replaced',
      params: params.extend({ day: localDay }),
      response: { 200: z.object({ items: list(ledgerPosting) }) },
    },
    handler: async (request) => {
      const { id: containerId, day } = request.params;
      return { items: toWire(await ledgerPostings(app, who(request), containerId, day)) };
    },
  });

  api.route({
    method: 'POST',
    url: '/api/v1/events/:id/correction',
    schema: {
      tags,
      summary: 'Say what an event really was; what follows from it is derived anew',
      params: z.object({ id: longId }),
      body: eventCorrection,
      response: { 204: nothing },
    },
    handler: async (request, reply) => {
      const { startAt, ...rest } = request.body;
      await correctEvent(app, who(request), { ...rest, startMs: startAt, eventId: request.params.id });
      return reply.code(204).send();
    },
  });

  api.route({
    method: 'POST',
    url: '/api/v1/containers/:id/events',
    schema: {
      tags,
      summary: 'Tell of something that happened to the water and was not seen; what follows from it is derived anew',
      params,
      body: addedEvent,
      response: { 201: z.object({ id: longId }) },
    },
    handler: async (request, reply) => {
      const { kind, litres, startAt } = request.body;
      const eventId = await addEvent(app, who(request), {
        containerId: request.params.id,
        kind,
        litres,
        startMs: startAt,
      });
      return reply.code(201).send({ id: eventId });
    },
  });

  api.route({
    method: 'GET',
    url: '/api/v1/containers/:id/corrections',
    schema: {
      tags,
      summary: 'What people said on its events, newest first: who, when, what stood before and what after',
      params,
      response: { 200: z.object({ items: list(correction) }) },
    },
    handler: async (request) => ({
      items: toWire(await eventCorrections(app, who(request), request.params.id)),
    }),
  });
}
