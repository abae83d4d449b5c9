import type { Alarm, AlarmTransition } from '../domain/alarm.js';
import { type AlarmEffect, type AlarmEvent, step } from './alarm-life.js';
import { type AlarmCondition, conditionsOf } from './conditions.js';
import { pointSettings } from './point-settings.js';
import { compare, type SiteSituation } from './situation.js';

export interface AlarmChanges {
  /** All alarms of the site after the changes. */
  readonly all: readonly Alarm[];
  readonly changed: readonly Alarm[];
  readonly transitions: readonly AlarmTransition[];
  readonly effects: readonly AlarmEffect[];
}

/** Brings a site's alarms into line with its situation. Doing it again changes nothing. */
export function reconcileAlarms(situation: SiteSituation): AlarmChanges {
  const known = new Map(situation.alarms.map((alarm) => [alarm.id, alarm]));
  const changed: Alarm[] = [];
  const transitions: AlarmTransition[] = [];
  const effects: AlarmEffect[] = [];
  for (const condition of conditionsOf(situation)) {
    const before = known.get(condition.alarmId) ?? newAlarm(situation, condition);
    let alarm = before;
    for (const event of eventsFor(before, condition)) {
      const result = step(
        alarm,
        event,
        situation.nowMs,
        pointSettings(situation.overrides, condition.kind, condition.containerId).settings,
      );
      alarm = result.alarm;
      transitions.push(...result.transitions);
      effects.push(...result.effects);
    }
    if (alarm === before && known.has(alarm.id)) continue;
    known.set(alarm.id, alarm);
    changed.push(alarm);
  }
  const all = [...known.values()].sort((a, b) => compare(a.id, b.id));
  return { all, changed, transitions, effects };
}

/** A suppression that begins comes before the condition, so that nothing is announced; one that ends comes after it. */
function eventsFor(alarm: Alarm, condition: AlarmCondition): readonly AlarmEvent[] {
  const isCondition: AlarmEvent = {
    kind: 'condition',
    active: condition.active,
    sinceMs: condition.sinceMs,
    readingMs: condition.readingMs,
    endedByDecision: condition.endedByDecision,
    priority: condition.priority,
    message: condition.message,
  };
  const byRule = alarm.state === 'suppressed_by_design' && (alarm.heldBy ?? '').startsWith('rule:');
  const other = byRule && alarm.heldBy !== condition.suppressedBy;
  const worthHiding = condition.active || alarm.state !== 'normal';
  const events: AlarmEvent[] = [];
  if (condition.suppressedBy !== null && !byRule && worthHiding) {
    events.push({ kind: 'suppress', by: condition.suppressedBy, reason: condition.suppressedBy });
  }
  events.push(isCondition);
  if (other) events.push({ kind: 'unsuppress', by: alarm.heldBy ?? 'rule' });
  return events;
}

function newAlarm(situation: SiteSituation, condition: AlarmCondition): Alarm {
  return {
    id: condition.alarmId,
    kind: condition.kind,
    siteId: situation.site.id,
    containerId: condition.containerId,
    nodeId: condition.nodeId,
    gatewayId: condition.gatewayId,
    priority: condition.priority,
    state: 'normal',
    beneath: 'normal',
    conditionActive: false,
    conditionSinceMs: condition.sinceMs,
    raisedMs: null,
    acknowledgedMs: null,
    acknowledgedBy: null,
    shelvedUntilMs: null,
    heldReason: null,
    heldBy: null,
    message: condition.message,
  };
}
