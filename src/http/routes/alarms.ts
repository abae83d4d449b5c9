import { z } from 'zod';
import { alarmPerformance, PERFORMANCE_TARGETS } from '../../app/alarm-performance.js';
import { type AlarmAction, actOnAlarm, alarm, alarms } from '../../app/alarms.js';
import { type Api, type HttpDeps, who } from '../api.js';
import * as schema from '../schemas/alarms.js';
import { list, longId } from '../schemas/common.js';
import { toWire } from '../wire.js';

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
