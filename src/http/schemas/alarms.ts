import { z } from 'zod';
import { flag, id, instant, instantIn, list, longId, message, note } from './common.js';

export const alarmState = z.enum([
  'normal',
  'unacknowledged',
  'acknowledged',
  'returned_unacknowledged',
  'latched_unacknowledged',
  'latched_acknowledged',
  'shelved',
  'suppressed_by_design',
  'out_of_service',
]);

export const alarmKind = z.enum([
  'dry',
  'leak',
  'overflow_blocked',
  'wick_failed',
  'waterlogged',
  'node_silent',
  'outage',
]);

export const alarm = z
  .object({
    id: longId,
    kind: alarmKind,
    siteId: id,
    containerId: id.nullable(),
    nodeId: id.nullable(),
    gatewayId: id.nullable(),
    priority: z.enum(['low', 'medium', 'high']),
    state: alarmState,
    beneath: alarmState
      .exclude(['shelved', 'suppressed_by_design', 'out_of_service'])
      .meta({ description: 'The state that goes on beneath one that hides it' }),
    conditionActive: z.boolean(),
    conditionSince: instant,
    raisedAt: instant.nullable(),
    acknowledgedAt: instant.nullable(),
    acknowledgedBy: z.string().nullable(),
    shelvedUntil: instant.nullable(),
    heldReason: z.string().nullable(),
    heldBy: z.string().nullable(),
    message,
  })
  .meta({ id: 'Alarm', description: 'States as in ANSI/ISA-18.2 and IEC 62682' });

export const alarmView = z
  .object({
    alarm,
    siteName: z.string(),
    accountId: id,
    accountName: z.string(),
    containerName: z.string().nullable(),
    cause: message,
    consequence: message,
    action: message,
    respondBy: instant.nullable(),
    cautions: list(z.string()),
  })
  .meta({ id: 'AlarmView' });

export const alarmHistory = alarmView
  .extend({
    transitions: list(
      z.object({
        alarmId: longId,
        at: instant,
        from: alarmState,
        to: alarmState,
        cause: z.string(),
        actor: z.string(),
        note: z.string().nullable(),
      }),
    ),
  })
  .meta({ id: 'AlarmHistory' });

export const alarmsQuery = z.object({
  includeNormal: flag.default(false).meta({ description: 'Also those that do not stand now' }),
});

const badActor = z.object({
  alarmId: longId,
  kind: alarmKind,
  count: z.number().int().meta({ description: 'How many times, in the period' }),
  cure: message.shape.code.meta({ description: 'Code of the text that names the setting which would cure it' }),
});

const share = z.number().meta({ description: 'Fraction, 0-1' });

export const alarmPerformance = z
  .object({
    from: instant,
    to: instant,
    operators: z.number().int().meta({ description: 'Dispatchers who share the load' }),
    alarms: z.number().int().meta({ description: 'How many times alarms called for somebody' }),
    perOperatorDay: z.number(),
    perOperatorHour: z.number(),
    perOperatorTenMinutes: z.number(),
    mostInTenMinutes: z.number(),
    tenMinutesAboveTenFraction: share,
    hoursAboveThirtyFraction: share,
    floods: list(z.object({ from: instant, to: instant, alarms: z.number().int() })),
    floodTimeFraction: share,
    priorityFractions: z.object({ low: share, medium: share, high: share }),
    chattering: list(badActor),
    fleeting: list(badActor),
    stale: list(badActor),
    topTen: list(badActor),
    topTenShareFraction: share,
  })
  .meta({ id: 'AlarmPerformance', description: 'Measures as in ANSI/ISA-18.2 and IEC 62682' });

const range = z.object({ acceptable: z.number(), manageable: z.number() });

export const performanceAnswer = z.object({
  performance: alarmPerformance,
  targets: z
    .object({
      alarmsPerDay: range,
      alarmsPerHour: range,
      alarmsPerTenMinutes: range,
      tenMinutesAboveTenFraction: share,
      hoursAboveThirtyFraction: share,
      mostInTenMinutes: z.number(),
      floodTimeFraction: share,
      topTenShareFraction: share,
      staleOnAnyDay: z.number(),
      priorityFractions: z.object({ low: share, medium: share, high: share }),
    })
    .meta({ description: 'Figures of the standards, for one operator' }),
});

export const performanceQuery = z.object({ from: instantIn, to: instantIn });

/** Bodies of the acts on one alarm; each act has its own address. */
export const acknowledge = z.object({ note: note.nullable().default(null) });
export const shelve = z.object({ until: instantIn, reason: note });
export const reasoned = z.object({ reason: note });
export const noBody = z.object({});

export type AlarmJson = z.infer<typeof alarm>;
export type AlarmStateJson = z.infer<typeof alarmState>;
export type AlarmKindJson = z.infer<typeof alarmKind>;
export type AlarmView = z.infer<typeof alarmView>;
export type AlarmHistory = z.infer<typeof alarmHistory>;
export type AlarmPerformanceJson = z.infer<typeof performanceAnswer>;
export type ShelveBody = z.input<typeof shelve>;
