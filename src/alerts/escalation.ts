import type { Alarm, AlarmState, AlarmTransition } from '../domain/alarm.js';
import type { EpochMs, PersonId } from '../domain/ids.js';
import type { Alert } from '../domain/work.js';
import { BY_ITSELF } from './alarm-life.js';
import { reconcileAlerts, type WantedAlert } from './alert-rules.js';

/** Cause of the line in an alarm's history that says that it went on to the owners. */
export const ESCALATED = 'escalated';

/** States in which an alarm calls for somebody who has not seen it. */
const UNSEEN: ReadonlySet<AlarmState> = new Set(['unacknowledged', 'latched_unacknowledged']);

export function isUnseen(alarm: Alarm): boolean {
  return UNSEEN.has(alarm.state);
}

export function escalationTopic(alarmId: string): string {
  return `escalation:${alarmId}`;
}

/** What an escalation comes to for one alarm. */
export interface Escalation {
  /** The line for the alarm's history; null where nothing new happened. */
  readonly transition: AlarmTransition | null;
  /** Alerts to owners to write: raised, or withdrawn since somebody has seen the alarm. */
  readonly alerts: readonly Alert[];
}

/**
 * Whether an alarm that nobody has acknowledged has to go on from the dispatchers to the owners: its time to respond has
 * passed since it called for somebody, it is not shelved, suppressed or out of service, and it has not gone on since it
 * called. An alarm that was held calls anew when it is let go.
 * @param history the alarm's transitions, oldest first
 * @param respondWithinMs from the catalogue
 */
export function isToEscalate(
  alarm: Alarm,
  history: readonly AlarmTransition[],
  nowMs: EpochMs,
  respondWithinMs: number,
): boolean {
  if (!isUnseen(alarm)) return false;
  const calledMs = calledSinceMs(history);
  return calledMs !== null && nowMs - calledMs >= respondWithinMs && !wentOnSince(history, calledMs);
}

/**
 * Brings the owners' alerts about one alarm into line. Doing it again changes nothing.
 * @param standing alerts about the alarm's escalation that were not withdrawn
 * @param owners who are not disabled
 */
export function escalate(
  alarm: Alarm,
  history: readonly AlarmTransition[],
  standing: readonly Alert[],
  owners: readonly PersonId[],
  nowMs: EpochMs,
  respondWithinMs: number,
): Escalation {
  const isDue = isToEscalate(alarm, history, nowMs, respondWithinMs);
  const transition: AlarmTransition | null = isDue
    ? {
        alarmId: alarm.id,
        atMs: nowMs,
        from: alarm.state,
        to: alarm.state,
        cause: ESCALATED,
        actor: BY_ITSELF,
        note: null,
        priority: alarm.priority,
      }
    : null;
  // An owner who came later, or whose alert was lost, is not told of what went on long ago.
  const audience = isDue ? owners : standing.map(({ personId }) => personId);
  const wanted = isUnseen(alarm) ? audience.map((personId) => wantedFor(personId, alarm, history, nowMs)) : [];
  return {
    transition,
    alerts: reconcileAlerts(escalationTopic(alarm.id), alarm.siteId, standing, wanted, nowMs),
  };
}

function wantedFor(personId: PersonId, alarm: Alarm, history: readonly AlarmTransition[], nowMs: EpochMs): WantedAlert {
  return {
    personId,
    message: [alarm.message, { code: 'alert.escalated', params: { calledMs: calledSinceMs(history) ?? nowMs } }],
    containerIds: alarm.containerId === null ? [] : [alarm.containerId],
  };
}

/** Since when the alarm has called for somebody without a break; null where it does not. */
function calledSinceMs(history: readonly AlarmTransition[]): EpochMs | null {
  const last = history.findLast(({ from, to }) => UNSEEN.has(to) !== UNSEEN.has(from));
  return last !== undefined && UNSEEN.has(last.to) ? last.atMs : null;
}

function wentOnSince(history: readonly AlarmTransition[], sinceMs: EpochMs): boolean {
  return history.some(({ cause, atMs }) => cause === ESCALATED && atMs >= sinceMs);
}
