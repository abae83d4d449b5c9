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
export type ShelveBody = z.input<typeof shelve>;
