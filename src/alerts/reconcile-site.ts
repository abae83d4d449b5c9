import type { Alarm } from '../domain/alarm.js';
import type { Write } from '../domain/change-set.js';
import type { Task } from '../domain/work.js';
import type { AlarmEffect } from './alarm-life.js';
import { reconcileAlerts, stopTopic, wantedAlerts } from './alert-rules.js';
import { reconcileAlarms } from './reconcile-alarms.js';
import { reconcileTasks } from './reconcile-tasks.js';
import type { SiteSituation } from './situation.js';
import { isOpen } from './task-life.js';

export interface SiteChanges {
  readonly writes: readonly Write[];
  readonly effects: readonly AlarmEffect[];
}

/** Alarms look at tasks and tasks at alarms; two rounds settle it, and the third proves it. */
const MOST_ROUNDS = 4;

/**
 * Alarms, tasks, stops and alerts of one site as they have to be now, as the writes that bring them there. They are a
 * function of the situation and not of the way to it: what was the matter last week and is over makes no alarm now, and
 * doing it twice writes nothing the second time.
 */
export function reconcileSite(situation: SiteSituation): SiteChanges {
  const today = situation.days.dayOf(situation.nowMs);
  // A stop whose day is over did not take place; what it was for is proposed again.
  const missed = situation.stops.filter((stop) => stop.day < today);
  let current: SiteSituation = { ...situation, stops: situation.stops.filter((stop) => stop.day >= today) };
  const alarms = new Map<string, Alarm>();
  const tasks = new Map<string, Task>();
  const transitions: Write[] = [];
  const effects: AlarmEffect[] = [];
  for (let round = 0; round < MOST_ROUNDS; round += 1) {
    const alarmChanges = reconcileAlarms(current);
    const taskChanges = reconcileTasks({ ...current, alarms: alarmChanges.all });
    for (const alarm of alarmChanges.changed) alarms.set(alarm.id, alarm);
    for (const task of taskChanges.changed) tasks.set(task.id, task);
    transitions.push(...alarmChanges.transitions.map((row): Write => ({ kind: 'alarm_transition', row })));
    transitions.push(...taskChanges.transitions.map((row): Write => ({ kind: 'task_transition', row })));
    effects.push(...alarmChanges.effects);
    current = { ...current, alarms: alarmChanges.all, tasks: taskChanges.all };
    if (alarmChanges.changed.length === 0 && taskChanges.changed.length === 0) break;
  }
  const alerts = reconcileAlerts(
    stopTopic(current.site.id),
    current.site.id,
    current.alerts,
    wantedAlerts(current, current.alarms, current.tasks.filter(isOpen)),
    current.nowMs,
  );
  return {
    writes: [
      ...missed.map((stop): Write => ({ kind: 'round_stop', row: { ...stop, state: 'cancelled' } })),
      ...[...alarms.values()].map((row): Write => ({ kind: 'alarm', row })),
      ...[...tasks.values()].map((row): Write => ({ kind: 'task', row })),
      ...transitions,
      ...alerts.map((row): Write => ({ kind: 'alert', row })),
    ],
    effects,
  };
}
