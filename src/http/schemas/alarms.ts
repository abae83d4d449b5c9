import { z } from 'zod';
import { flag, id, instant, instantIn, list, longId, message, note, number } from './common.js';
import { role } from './people.js';

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
  'crew_full',
]);

const priority = z.enum(['low', 'medium', 'high']);

export const alarm = z
  .object({
    id: longId,
    kind: alarmKind,
    siteId: id.nullable().meta({ description: 'Null: about the crew as a whole' }),
    containerId: id.nullable(),
    nodeId: id.nullable(),
    gatewayId: id.nullable(),
    priority,
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
    siteName: z.string().nullable(),
    accountId: id.nullable(),
    accountName: z.string().nullable(),
    containerName: z.string().nullable(),
    cause: message,
    consequence: message,
    action: message,
    suppressedBecause: message.nullable().meta({ description: 'The rule that hides it; null: none does' }),
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
        priority: z.enum(['low', 'medium', 'high']).nullable(),
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
  siteId: id.nullable(),
  siteName: z.string().nullable(),
  containerId: id.nullable(),
  containerName: z.string().nullable(),
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

/** What an alarm's behaviour is made of; every one of them may be set otherwise at a site or a container. */
const behaviour = {
  onDelayMinutes: z.number().meta({ description: 'How long the condition holds before the alarm is raised' }),
  offDelayMinutes: z.number().meta({ description: 'How long it is gone before the alarm returns' }),
  reAlarmAfterMinutes: z
    .number()
    .nullable()
    .meta({ description: 'An acknowledged alarm that still stands calls again after this; null: never' }),
  deadbandHours: z
    .number()
    .meta({ description: 'The condition ends only this far on the safe side of where it began' }),
  priority,
};

export const catalogueEntry = z
  .object({
    kind: alarmKind,
    cause: message,
    consequence: message,
    action: message,
    respondWithinHours: z.number(),
    latching: z.boolean().meta({ description: 'Stays until somebody looked' }),
    longestShelvingHours: z.number(),
    told: list(role),
    cautions: list(message.shape.code),
    ...behaviour,
  })
  .meta({ id: 'AlarmCatalogueEntry', description: 'Why an alarm exists, what answers it, and how it behaves' });

export const alarmOverride = z
  .object({
    id: longId,
    kind: alarmKind,
    siteId: id,
    containerId: id.nullable().meta({ description: 'Null: for the whole site' }),
    onDelayMinutes: behaviour.onDelayMinutes.nullable(),
    offDelayMinutes: behaviour.offDelayMinutes.nullable(),
    reAlarmAfterMinutes: behaviour.reAlarmAfterMinutes,
    deadbandHours: behaviour.deadbandHours.nullable(),
    priority: priority.nullable(),
    reason: z.string(),
    changedAt: instant,
    changedBy: z.string(),
  })
  .meta({ id: 'AlarmOverride', description: 'What a place wants otherwise than the catalogue; null: as it has it' });

const minutes = number(0, 100_000).int('is not a whole number').nullable().default(null);

export const newOverride = z.object({
  kind: alarmKind,
  siteId: id,
  containerId: id.nullable().default(null),
  onDelayMinutes: minutes,
  offDelayMinutes: minutes,
  reAlarmAfterMinutes: minutes,
  deadbandHours: number(0, 1_000).nullable().default(null),
  priority: priority.nullable().default(null),
  reason: note,
});

export const pointBehaviour = z
  .object(behaviour)
  .meta({ id: 'AlarmBehaviour', description: 'How the alarm behaves there now' });

export const overridesQuery = z.object({ siteId: id.optional() });

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
export type AlarmCatalogueEntry = z.infer<typeof catalogueEntry>;
export type AlarmOverrideJson = z.infer<typeof alarmOverride>;
export type NewOverrideBody = z.input<typeof newOverride>;
export type ShelveBody = z.input<typeof shelve>;
