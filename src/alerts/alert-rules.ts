import type { Alarm } from '../domain/alarm.js';
import type { ContainerId, EpochMs, PersonId } from '../domain/ids.js';
import type { Message } from '../domain/message.js';
import type { Alert, Task, TaskKind } from '../domain/work.js';
import { CATALOGUE } from './catalogue.js';
import { SENT, sayTheSame } from './messages.js';
import { compare, plannedStop, type SiteSituation, stopIsInTime } from './situation.js';
import { type Stop, stopOf, whyNow } from './stops.js';
import { decidedHorizonMs } from './work-calendar.js';

export function stopTopic(siteId: string): string {
  return `stop:${siteId}`;
}

/** What one person should be told about a site now. */
export interface WantedAlert {
  readonly personId: PersonId;
  readonly message: readonly Message[];
  readonly containerIds: readonly ContainerId[];
}

/** Alarms that somebody has yet to see. */
function toSee(alarms: readonly Alarm[]): readonly Alarm[] {
  return alarms
    .filter((alarm) => alarm.state === 'unacknowledged' || alarm.state === 'latched_unacknowledged')
    .sort((a, b) => URGENCY[b.priority] - URGENCY[a.priority] || compare(a.id, b.id));
}

const URGENCY = { low: 0, medium: 1, high: 2 } as const;

/**
 * Who is to be told what about a site: one message a person. A stop that is planned in time concerns its technician, on
 * its day; all else concerns the dispatchers, and only while something cannot wait or an alarm has not been seen.
 */
export function wantedAlerts(
  situation: SiteSituation,
  alarms: readonly Alarm[],
  openTasks: readonly Task[],
): readonly WantedAlert[] {
  const today = situation.days.dayOf(situation.nowMs);
  const plan = plannedStop(situation.stops, today);
  const stop = openTasks.length === 0 ? null : stopOf(situation.site.id, openTasks, plan);
  const wanted: WantedAlert[] = [];
  if (plan !== null && stop !== null && plan.day === today) {
    wanted.push({
      personId: plan.technicianId,
      message: stopMessages(situation, stop),
      containerIds: containersOf(stop, []),
    });
  }
  const unseen = toSee(alarms).filter((alarm) => CATALOGUE[alarm.kind].told.includes('dispatcher'));
  const horizonMs = decidedHorizonMs(situation.calendar, situation.days, situation.nowMs);
  const pressing = stop !== null && whyNow(stop, horizonMs, situation.nowMs).length > 0;
  const plannedInTime = stop !== null && stopIsInTime(situation, plan, stop.dueByMs);
  if (plannedInTime || (!pressing && unseen.length === 0)) return wanted;
  // The one alert about the crew lists the pots; each site would say it again.
  if (situation.crewIsFull && unseen.length === 0) return wanted;
  const message = [...unseen.map((alarm) => alarm.message), ...(stop === null ? [] : stopMessages(situation, stop))];
  for (const personId of situation.dispatchers) {
    wanted.push({ personId, message, containerIds: containersOf(stop, unseen) });
  }
  return wanted;
}

function containersOf(stop: Stop | null, alarms: readonly Alarm[]): readonly ContainerId[] {
  const ids = [
    ...(stop?.tasks.map((task) => task.containerId) ?? []),
    ...alarms.flatMap((alarm) => (alarm.containerId === null ? [] : [alarm.containerId])),
  ];
  return [...new Set(ids)].sort(compare);
}

function stopMessages(situation: SiteSituation, stop: Stop): readonly Message[] {
  const names = new Map(situation.pots.map((pot) => [pot.container.id, pot.container.name]));
  const pots = new Set(stop.tasks.map((task) => task.containerId)).size;
  const common = { site: situation.site.name, pots, dueByMs: stop.dueByMs };
  const litres = Math.round(stop.litres);
  return [
    litres === 0
      ? { code: 'alert.stop_without_water', params: common }
      : { code: 'alert.stop', params: { ...common, litres } },
    ...stop.tasks.map((task) => taskLine(task, names.get(task.containerId) ?? task.containerId)),
  ];
}

/** One line about a task, as alerts and calendars bear it. */
export function taskLine(task: Task, pot: string): Message {
  const litres = task.litres === null ? null : Math.round(task.litres);
  return { code: TASK_LINES[task.kind], params: { pot, litres, dueByMs: task.dueByMs } };
}

const TASK_LINES = {
  refill: 'alert.task.refill',
  rewet_from_above: 'alert.task.rewet_from_above',
  find_leak: 'alert.task.find_leak',
  clear_overflow: 'alert.task.clear_overflow',
  retest_wick: 'alert.task.retest_wick',
  repack_wick: 'alert.task.repack_wick',
  drain: 'alert.task.drain',
  check_sensor: 'alert.task.check_sensor',
  replace_battery: 'alert.task.replace_battery',
  recover_node: 'alert.task.recover_node',
  feed: 'alert.task.feed',
  flush_salts: 'alert.task.flush_salts',
  replant: 'alert.task.replant',
  commission: 'alert.task.commission',
  inspect: 'alert.task.inspect',
} as const satisfies Record<TaskKind, Message['code']>;

/**
 * The alerts to write so that people are told what is wanted: one a topic and person, updated in place only where it
 * says something else, unread again where something new came in, and withdrawn when it is moot.
 */
export function reconcileAlerts(
  topic: string,
  siteId: string | null,
  standing: readonly Alert[],
  wanted: readonly WantedAlert[],
  nowMs: EpochMs,
): readonly Alert[] {
  const changed: Alert[] = [];
  for (const want of wanted) {
    const alert = standing.find((candidate) => candidate.personId === want.personId && candidate.topic === topic);
    if (alert === undefined) {
      changed.push({
        id: `${topic}:${want.personId}:${nowMs}`,
        personId: want.personId,
        topic,
        revision: 1,
        message: want.message,
        siteId,
        containerIds: want.containerIds,
        createdMs: nowMs,
        changedMs: nowMs,
        readMs: null,
        withdrawnMs: null,
      });
    } else if (!sayTheSame(alert.message, want.message, SENT)) {
      changed.push({
        ...alert,
        revision: alert.revision + 1,
        message: want.message,
        containerIds: want.containerIds,
        changedMs: nowMs,
        readMs: bringsNews(alert.message, want.message) ? null : alert.readMs,
      });
    }
  }
  for (const alert of standing) {
    const stillWanted = alert.topic === topic && wanted.some((want) => want.personId === alert.personId);
    if (!stillWanted && alert.topic === topic) {
      changed.push({ ...alert, revision: alert.revision + 1, changedMs: nowMs, withdrawnMs: nowMs });
    }
  }
  return changed;
}

/** Something that was not in it before: another pot or another kind of work. Numbers that moved are no news. */
function bringsNews(before: readonly Message[], after: readonly Message[]): boolean {
  const subject = (message: Message): string => `${message.code}|${message.params.pot ?? ''}`;
  const told = new Set(before.map(subject));
  return after.some((message) => !told.has(subject(message)));
}
