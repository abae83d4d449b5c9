import { z } from 'zod';
import { alarmPerformance, PERFORMANCE_TARGETS } from '../../app/fieldwork/alarm-performance.js';
import { alarmCatalogue, alarmOverrides, overrideAlarm } from '../../app/fieldwork/alarm-settings.js';
import { type AlarmAction, actOnAlarm, alarm, alarms } from '../../app/fieldwork/alarms.js';
import { type Api, type HttpDeps, who } from '../api.js';
import * as schema from '../schemas/alarms.js';
import { list, longId } from '../schemas/common.js';
import { isoInstant, toWire } from '../wire.js';

const MINUTE_MS = 60_000;
const HOUR_MS = 3_600_000;

export function addAlarmRoutes(api: Api, { app }: HttpDeps): void {
  const tags = ['alarms'];
  const params = z.object({ id: longId });

  api.route({
    method: 'GET',
    url: '/api/v1/alarms',
    schema: {
      tags,
      summary: 'Alarms that stand, the most pressing first',
      querystring: schema.alarmsQuery,
      response: { 200: z.object({ items: list(schema.alarmView) }) },
    },
    handler: async (request) => ({ items: toWire(await alarms(app, who(request), request.query)) }),
  });

  api.route({
    method: 'GET',
    url: '/api/v1/alarms/performance',
    schema: {
      tags,
      summary: 'How the alarms did in a period, against the figures of the standards',
      querystring: schema.performanceQuery,
      response: { 200: schema.performanceAnswer },
    },
    handler: async (request) => {
      const { from, to } = request.query;
      const performance = await alarmPerformance(app, who(request), { fromMs: from, toMs: to });
      return { performance: toWire(performance), targets: PERFORMANCE_TARGETS };
    },
  });

  addSettingRoutes(api, app);

  api.route({
    method: 'GET',
    url: '/api/v1/alarms/:id',
    schema: { tags, summary: 'One alarm with its history', params, response: { 200: schema.alarmHistory } },
    handler: async (request) => toWire(await alarm(app, who(request), request.params.id)),
  });

  /** One address an act: what an act needs differs, and so does what it means. */
  const addAct = <Body extends z.ZodType>(
    name: string,
    summary: string,
    body: Body,
    actionOf: (body: z.output<Body>) => AlarmAction,
  ): void => {
    api.route({
      method: 'POST',
      url: `/api/v1/alarms/:id/${name}`,
      schema: { tags, summary, params, body, response: { 200: schema.alarmHistory } },
      handler: async (request) => {
        const action = actionOf(request.body as z.output<Body>);
        const { id } = request.params as z.output<typeof params>;
        return toWire(await actOnAlarm(app, who(request), id, action));
      },
    });
  };

  addAct('acknowledge', 'Acknowledge', schema.acknowledge, ({ note }) => ({ kind: 'acknowledge', note }));
  addAct('shelve', 'Shelve until an instant, for a reason', schema.shelve, ({ until, reason }) => ({
    kind: 'shelve',
    untilMs: until,
    reason,
  }));
  addAct('unshelve', 'End the shelving', schema.noBody, () => ({ kind: 'unshelve' }));
  addAct('suppress', 'Suppress by design, for a reason', schema.reasoned, ({ reason }) => ({
    kind: 'suppress',
    reason,
  }));
  addAct('unsuppress', 'End the suppression', schema.noBody, () => ({ kind: 'unsuppress' }));
  addAct('out-of-service', 'Take out of service, for a reason', schema.reasoned, ({ reason }) => ({
    kind: 'take_out_of_service',
    reason,
  }));
  addAct('return-to-service', 'Return to service', schema.noBody, () => ({ kind: 'return_to_service' }));
  addAct('reset', 'Reset a latched alarm after somebody looked', schema.acknowledge, ({ note }) => ({
    kind: 'reset',
    note,
  }));
}

function addSettingRoutes(api: Api, app: HttpDeps['app']): void {
  const tags = ['alarms'];

  api.route({
    method: 'GET',
    url: '/api/v1/alarms/catalogue',
    schema: {
      tags,
      summary: 'Why each alarm exists, what answers it, and how it behaves where no place wants it otherwise',
      response: { 200: z.object({ items: list(schema.catalogueEntry) }) },
    },
    handler: async (request) => ({
      items: alarmCatalogue(who(request)).map((entry) => ({
        kind: entry.kind,
        cause: { code: entry.cause, params: {} },
        consequence: { code: entry.consequence, params: {} },
        action: { code: entry.action, params: {} },
        respondWithinHours: entry.respondWithinMs / HOUR_MS,
        latching: entry.settings.latching,
        longestShelvingHours: entry.settings.maxShelvingMs / HOUR_MS,
        told: entry.told,
        cautions: entry.cautions,
        ...inMinutes(entry.settings),
        deadbandHours: entry.deadband?.value ?? 0,
        priority: entry.priority,
      })),
    }),
  });

  api.route({
    method: 'GET',
    url: '/api/v1/alarms/overrides',
    schema: {
      tags,
      summary: 'What sites and containers want otherwise, every change as it was made, oldest first',
      querystring: schema.overridesQuery,
      response: { 200: z.object({ items: list(schema.alarmOverride) }) },
    },
    handler: async (request) => {
      const rows = await alarmOverrides(app, who(request), { siteId: request.query.siteId ?? null });
      return {
        items: rows.map(({ onDelayMs, offDelayMs, reAlarmAfterMs, changedMs, ...rest }) => ({
          ...rest,
          onDelayMinutes: minutesOf(onDelayMs),
          offDelayMinutes: minutesOf(offDelayMs),
          reAlarmAfterMinutes: minutesOf(reAlarmAfterMs),
          changedAt: isoInstant(changedMs),
        })),
      };
    },
  });

  api.route({
    method: 'POST',
    url: '/api/v1/alarms/overrides',
    schema: {
      tags,
      summary:
        'Let an alarm behave otherwise at a site or a container, for a reason; with no number, as everywhere again',
      body: schema.newOverride,
      response: { 201: schema.pointBehaviour },
    },
    handler: async (request, reply) => {
      const { onDelayMinutes, offDelayMinutes, reAlarmAfterMinutes, ...rest } = request.body;
      const { settings, priority, deadbandHours } = await overrideAlarm(app, who(request), {
        ...rest,
        onDelayMs: msOf(onDelayMinutes),
        offDelayMs: msOf(offDelayMinutes),
        reAlarmAfterMs: msOf(reAlarmAfterMinutes),
      });
      return reply.code(201).send({ ...inMinutes(settings), priority, deadbandHours });
    },
  });
}

interface Delays {
  readonly onDelayMs: number;
  readonly offDelayMs: number;
  readonly reAlarmAfterMs: number | null;
}

function inMinutes({ onDelayMs, offDelayMs, reAlarmAfterMs }: Delays) {
  return {
    onDelayMinutes: onDelayMs / MINUTE_MS,
    offDelayMinutes: offDelayMs / MINUTE_MS,
    reAlarmAfterMinutes: minutesOf(reAlarmAfterMs),
  };
}

const minutesOf = (ms: number | null): number | null => (ms === null ? null : ms / MINUTE_MS);
const msOf = (minutes: number | null): number | null => (minutes === null ? null : minutes * MINUTE_MS);
