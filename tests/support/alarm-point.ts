import type { AlarmEvent, AlarmSettings } from '../../src/alerts/alarm-life.js';
import type { Alarm, AlarmPriority } from '../../src/domain/alarm.js';
import type { Message } from '../../src/domain/message.js';

const MINUTE_MS = 60_000;

export const ALARM_MESSAGE: Message = { code: 'alarm.dry.now', params: { pot: 'Bowl', levelMm: 4 } };

/** No delays, so that each condition takes effect at once. */
export const PLAIN: AlarmSettings = {
  onDelayMs: 0,
  offDelayMs: 0,
  latching: false,
  reAlarmAfterMs: null,
  maxShelvingMs: 7 * 24 * 60 * MINUTE_MS,
};

export const LATCHING: AlarmSettings = { ...PLAIN, latching: true };

/** An alarm point at rest. */
export function restingAlarm(more: Partial<Alarm> = {}): Alarm {
  return {
    id: 'dry:C1',
    kind: 'dry',
    siteId: 'S1',
    containerId: 'C1',
    nodeId: 'N1',
    gatewayId: null,
    priority: 'medium',
    state: 'normal',
    beneath: 'normal',
    conditionActive: false,
    conditionSinceMs: 0,
    raisedMs: null,
    acknowledgedMs: null,
    acknowledgedBy: null,
    shelvedUntilMs: null,
    heldReason: null,
    heldBy: null,
    message: ALARM_MESSAGE,
    ...more,
  };
}

export function condition(active: boolean, atMs: number, more: Partial<Condition> = {}): Condition {
  return {
    kind: 'condition',
    active,
    sinceMs: atMs,
    readingMs: atMs,
    endedByDecision: false,
    priority: 'medium' satisfies AlarmPriority,
    message: ALARM_MESSAGE,
    ...more,
  };
}

type Condition = Extract<AlarmEvent, { kind: 'condition' }>;
