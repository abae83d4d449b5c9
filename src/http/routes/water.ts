import { z } from 'zod';
import { waterUse } from '../../app/pots/water.js';
import { waterReview } from '../../app/pots/water-review.js';
import { enterWeather, weatherDays } from '../../app/weather/weather-entry.js';
import { type Api, type HttpDeps, who } from '../api.js';
import { waterReview as waterReviewJson } from '../schemas/commissioning.js';
import { DAY_SPAN_FAULT, daySpanQuery, flag, id, isDaySpan, list } from '../schemas/common.js';
import { weatherBody, weatherDay, weatherQuery, weatherTaken } from '../schemas/ingest.js';
import { water } from '../schemas/pots.js';
import { toWire } from '../wire.js';

export function addWaterRoutes(api: Api, { app }: HttpDeps): void {
  api.route({
    method: 'GET',
    url: '/api/v1/water',
    schema: {
      tags: ['containers'],
      summary: 'Where the water of a period went, by account, site or container',
      querystring: z
        .object({
          ...daySpanQuery,
          by: z.enum(['account', 'site', 'container']).default('account'),
          byMonth: flag.default(false),
          accountId: id.optional(),
        })
        .refine(isDaySpan, DAY_SPAN_FAULT),
      response: { 200: water },
    },
    handler: async (request) => {
      const { from, to, by, byMonth, accountId } = request.query;
      return waterUse(app, who(request), { by, byMonth, fromDay: from, toDay: to, accountId: accountId ?? null });
    },
  });

  api.route({
    method: 'GET',
    url: '/api/v1/water/review',
    schema: {
      tags: ['containers'],
      summary: 'What a period’s water came to: visits, meter, dry hours, against the period before and its weather',
      querystring: z
        .object({
          ...daySpanQuery,
          by: z.enum(['account', 'site', 'container']).default('account'),
          accountId: id.optional(),
        })
        .refine(isDaySpan, DAY_SPAN_FAULT),
      response: { 200: waterReviewJson },
    },
    handler: async (request) => {
      const { from, to, by, accountId } = request.query;
      return waterReview(app, who(request), { by, fromDay: from, toDay: to, accountId: accountId ?? null });
    },
  });

  api.route({
    method: 'GET',
    url: '/api/v1/weather',
    schema: {
      tags: ['weather'],
      summary: 'A site’s weather by day: observed, or as it is forecast now',
      querystring: weatherQuery.refine(isDaySpan, DAY_SPAN_FAULT),
      response: { 200: z.object({ items: list(weatherDay) }) },
    },
    handler: async (request) => {
      const { siteId, from, to, forecast } = request.query;
      return { items: toWire(await weatherDays(app, who(request), { siteId, fromDay: from, toDay: to, forecast })) };
    },
  });

  api.route({
    method: 'POST',
    url: '/api/v1/weather',
    schema: {
      tags: ['weather'],
      summary: 'Enter days of weather, observed or forecast; a day that is there is replaced',
      body: weatherBody,
      response: { 200: weatherTaken },
    },
    handler: async (request) => {
      const days = request.body.days.map(({ issuedAt, ...day }) => ({ ...day, issuedMs: issuedAt }));
      return { taken: await enterWeather(app, who(request), days) };
    },
  });
}
