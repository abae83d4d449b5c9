import type { EpochMs, SiteId } from '../domain/ids.js';
import type { Message } from '../domain/message.js';
import type { RoundStop, Task } from '../domain/work.js';
import { compare } from './situation.js';
import { MINUTES_PER_STOP } from './task-catalogue.js';

/** One coming to one site: its open tasks, done together. */
export interface Stop {
  readonly siteId: SiteId;
  /** By due time. */
  readonly tasks: readonly Task[];
  readonly litres: number;
  readonly minutes: number;
  readonly dueFromMs: EpochMs;
  /** The first of its tasks to fall due. */
  readonly dueByMs: EpochMs;
  readonly cautions: readonly string[];
  /** Null: not planned. */
  readonly plan: RoundStop | null;
}

/**
 * Gathers open tasks into stops, one a site, by due time.
 * @param planned for each site the stop on a round that counts
 */
export function stopsOf(tasks: readonly Task[], planned: ReadonlyMap<SiteId, RoundStop>): readonly Stop[] {
  const bySite = new Map<SiteId, Task[]>();
  for (const task of tasks) {
    const list = bySite.get(task.siteId) ?? [];
    list.push(task);
    bySite.set(task.siteId, list);
  }
  return [...bySite]
    .map(([siteId, list]) => stopOf(siteId, list, planned.get(siteId) ?? null))
    .sort((a, b) => a.dueByMs - b.dueByMs || compare(a.siteId, b.siteId));
}

/** @throws RangeError without tasks: nobody comes for nothing */
export function stopOf(siteId: SiteId, tasks: readonly Task[], plan: RoundStop | null): Stop {
  if (tasks.length === 0) throw new RangeError(`a stop at ${siteId} without tasks`);
  const sorted = [...tasks].sort((a, b) => a.dueByMs - b.dueByMs || compare(a.id, b.id));
  return {
    siteId,
    tasks: sorted,
    litres: Math.round(sorted.reduce((total, task) => total + (task.litres ?? 0), 0) * 10) / 10,
    minutes: MINUTES_PER_STOP + sorted.reduce((total, task) => total + task.minutes, 0),
    dueFromMs: Math.min(...sorted.map((task) => task.dueFromMs)),
    dueByMs: sorted[0]!.dueByMs,
    cautions: [...new Set(sorted.flatMap((task) => task.cautions))],
    plan,
  };
}

/**
 * Why a stop cannot wait until the crew goes out next: what falls due before the end of the next working day.
 * Empty where everything can wait.
 */
export function whyNow(stop: Stop, horizonMs: EpochMs | null, nowMs: EpochMs): readonly Message[] {
  if (horizonMs === null) return [];
  const overdue = stop.tasks.filter((task) => task.dueByMs < nowMs);
  const due = stop.tasks.filter((task) => task.dueByMs >= nowMs && task.dueByMs < horizonMs);
  const reasons: Message[] = [];
  if (overdue.length > 0) {
    reasons.push({ code: 'stop.overdue', params: { tasks: overdue.length, dueByMs: overdue[0]!.dueByMs } });
  }
  if (due.length > 0) reasons.push({ code: 'stop.due', params: { tasks: due.length, dueByMs: due[0]!.dueByMs } });
  return reasons;
}
