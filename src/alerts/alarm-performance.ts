import type { AlarmKind, AlarmPriority, AlarmTransition } from '../domain/alarm.js';
import type { EpochMs } from '../domain/ids.js';
import type { TextCode } from '../domain/texts/en/index.js';
import { compare } from './situation.js';

const MINUTE_MS = 60_000;
const HOUR_MS = 3_600_000;
const DAY_MS = 86_400_000;

/**
 * Figures of ANSI/ISA-18.2-2016 and IEC 62682 for one operator position; from memory and readers' summaries, the
 * standards were not at hand. They are measured against, not enforced.
 */
export const PERFORMANCE_TARGETS = {
  alarmsPerDay: { acceptable: 144, manageable: 288 },
  alarmsPerHour: { acceptable: 6, manageable: 12 },
  alarmsPerTenMinutes: { acceptable: 1, manageable: 2 },
  tenMinutesAboveTenFraction: 0.01,
  hoursAboveThirtyFraction: 0.01,
  mostInTenMinutes: 10,
  floodTimeFraction: 0.01,
  topTenShareFraction: 0.05,
  staleOnAnyDay: 5,
  priorityFractions: { low: 0.8, medium: 0.15, high: 0.05 },
} as const;

const TEN_MINUTES_MS = 10 * MINUTE_MS;
/** A flood begins above ten new alarms in ten minutes, and ends below five. */
const FLOOD_BEGINS_ABOVE = 10;
const FLOOD_ENDS_BELOW = 5;
const STALE_AFTER_MS = DAY_MS;
/** An alarm chatters when it comes three times or more within a minute. */
const CHATTER_COUNT = 3;
const CHATTER_WITHIN_MS = MINUTE_MS;
/** An alarm that is gone again within a minute is fleeting; the standard gives no figure, this one is ours. */
const FLEETING_WITHIN_MS = MINUTE_MS;

/** One time that an alarm called for somebody, and when its condition went; null: it still stands. */
export interface Annunciation {
  readonly alarmId: string;
  readonly kind: AlarmKind;
  readonly priority: AlarmPriority;
  readonly atMs: EpochMs;
  readonly endedMs: EpochMs | null;
  /** Somebody acknowledged it while it stood. */
  readonly answered: boolean;
}

/** An alarm that misbehaves, how badly, and the setting that would cure it. */
export interface BadActor {
  readonly alarmId: string;
  readonly kind: AlarmKind;
  readonly count: number;
  readonly cure: TextCode;
}

export interface AlarmPerformance {
  readonly fromMs: EpochMs;
  readonly toMs: EpochMs;
  readonly operators: number;
  readonly alarms: number;
  readonly perOperatorDay: number;
  readonly perOperatorHour: number;
  readonly perOperatorTenMinutes: number;
  readonly mostInTenMinutes: number;
  readonly tenMinutesAboveTenFraction: number;
  readonly hoursAboveThirtyFraction: number;
  readonly floods: readonly { readonly fromMs: EpochMs; readonly toMs: EpochMs; readonly alarms: number }[];
  readonly floodTimeFraction: number;
  readonly priorityFractions: Readonly<Record<AlarmPriority, number>>;
  readonly chattering: readonly BadActor[];
  readonly fleeting: readonly BadActor[];
  /** Standing for more than a day, at the end of the period. */
  readonly stale: readonly BadActor[];
  readonly topTen: readonly BadActor[];
  readonly topTenShareFraction: number;
}

/** Where each alarm called for somebody: the transitions into the unacknowledged state. */
export function annunciationsOf(
  transitions: readonly AlarmTransition[],
  about: (alarmId: string) => { readonly kind: AlarmKind; readonly priority: AlarmPriority } | null,
): readonly Annunciation[] {
  const standing = new Map<string, Annunciation>();
  const list: Annunciation[] = [];
  const end = (alarmId: string, atMs: EpochMs): void => {
    const open = standing.get(alarmId);
    if (open === undefined) return;
    list.push({ ...open, endedMs: atMs });
    standing.delete(alarmId);
  };
  for (const { alarmId, atMs, from, to, priority } of [...transitions].sort((a, b) => a.atMs - b.atMs)) {
    if (to === 'unacknowledged' && from !== 'unacknowledged') {
      end(alarmId, atMs);
      const known = about(alarmId);
      // What it was worth when it called, and not what became of it since.
      if (known !== null) {
        standing.set(alarmId, {
          alarmId,
          ...known,
          priority: priority ?? known.priority,
          atMs,
          endedMs: null,
          answered: false,
        });
      }
    } else if (to === 'acknowledged') {
      const open = standing.get(alarmId);
      if (open !== undefined) standing.set(alarmId, { ...open, answered: true });
    } else if (to !== 'unacknowledged') {
      end(alarmId, atMs);
    }
  }
  return [...list, ...standing.values()].sort((a, b) => a.atMs - b.atMs || compare(a.alarmId, b.alarmId));
}

/**
 * How the alarm system did in [fromMs, toMs) for the people who answer it.
 * @param operators how many share the load; at least one
 */
export function performanceOf(
  annunciations: readonly Annunciation[],
  fromMs: EpochMs,
  toMs: EpochMs,
  operators: number,
): AlarmPerformance {
  const raised = annunciations.filter((one) => one.atMs >= fromMs && one.atMs < toMs);
  const spanMs = Math.max(1, toMs - fromMs);
  const perOperator = raised.length / operators;
  const tens = countsByPeriod(raised, fromMs, toMs, TEN_MINUTES_MS).map((count) => count / operators);
  const hours = countsByPeriod(raised, fromMs, toMs, HOUR_MS).map((count) => count / operators);
  const floods = floodsOf(raised, fromMs, toMs, operators);
  const byAlarm = groupByAlarm(raised);
  const topTen = [...byAlarm.values()]
    .sort((a, b) => b.length - a.length || compare(a[0]!.alarmId, b[0]!.alarmId))
    .slice(0, 10);
  return {
    fromMs,
    toMs,
    operators,
    alarms: raised.length,
    perOperatorDay: (perOperator * DAY_MS) / spanMs,
    perOperatorHour: (perOperator * HOUR_MS) / spanMs,
    perOperatorTenMinutes: (perOperator * TEN_MINUTES_MS) / spanMs,
    mostInTenMinutes: Math.max(0, ...tens),
    tenMinutesAboveTenFraction: share(tens, (count) => count > 10),
    hoursAboveThirtyFraction: share(hours, (count) => count > 30),
    floods,
    floodTimeFraction: floods.reduce((sum, flood) => sum + flood.toMs - flood.fromMs, 0) / spanMs,
    priorityFractions: {
      low: share(raised, (one) => one.priority === 'low'),
      medium: share(raised, (one) => one.priority === 'medium'),
      high: share(raised, (one) => one.priority === 'high'),
    },
    chattering: actors(
      [...byAlarm.values()].map((list) => [list, chatters(list)]),
      'performance.cure.chattering',
    ),
    fleeting: actors(
      [...byAlarm.values()].map((list) => [list, fleetingIn(list)]),
      'performance.cure.fleeting',
    ),
    stale: actors(
      [...groupByAlarm(annunciations)].map(([, list]) => [list, list.filter((one) => isStale(one, toMs)).length]),
      'performance.cure.stale',
    ),
    topTen: topTen.map((list) => actor(list, list.length, 'performance.cure.frequent')),
    topTenShareFraction: raised.length === 0 ? 0 : topTen.reduce((sum, list) => sum + list.length, 0) / raised.length,
  };
}

function countsByPeriod(
  raised: readonly Annunciation[],
  fromMs: EpochMs,
  toMs: EpochMs,
  periodMs: number,
): readonly number[] {
  const counts = new Array<number>(Math.max(1, Math.ceil((toMs - fromMs) / periodMs))).fill(0);
  for (const { atMs } of raised) counts[Math.floor((atMs - fromMs) / periodMs)]! += 1;
  return counts;
}

/** Sliding windows of ten minutes, judged at each new alarm and where the rate has fallen. */
function floodsOf(raised: readonly Annunciation[], fromMs: EpochMs, toMs: EpochMs, operators: number) {
  const floods: { fromMs: EpochMs; toMs: EpochMs; alarms: number }[] = [];
  const times = raised.map((one) => one.atMs);
  let begunMs: EpochMs | null = null;
  let first = 0;
  let inFlood = 0;
  for (let at = 0; at < times.length; at += 1) {
    const nowMs = times[at]!;
    if (begunMs !== null) {
      const endMs = fallsBelow(times, at, operators);
      if (endMs <= nowMs) {
        floods.push({ fromMs: begunMs, toMs: endMs, alarms: inFlood });
        begunMs = null;
      } else {
        inFlood += 1;
      }
    }
    while (times[first]! <= nowMs - TEN_MINUTES_MS) first += 1;
    const rate = (at - first + 1) / operators;
    if (begunMs === null && rate > FLOOD_BEGINS_ABOVE) {
      begunMs = Math.max(fromMs, times[first]!);
      inFlood = at - first + 1;
    }
  }
  if (begunMs !== null) {
    const endMs = Math.min(toMs, fallsBelow(times, times.length, operators));
    floods.push({ fromMs: begunMs, toMs: endMs, alarms: inFlood });
  }
  return floods;
}

/** When, going by the alarms before `at`, fewer than five lie within the last ten minutes. */
function fallsBelow(times: readonly EpochMs[], at: number, operators: number): EpochMs {
  const still = Math.ceil(FLOOD_ENDS_BELOW * operators);
  const oldest = times[at - still];
  return oldest === undefined ? (times[at - 1] ?? 0) : oldest + TEN_MINUTES_MS;
}

/** How many times three or more came within a minute. */
function chatters(list: readonly Annunciation[]): number {
  let count = 0;
  for (let at = CHATTER_COUNT - 1; at < list.length; at += 1) {
    if (list[at]!.atMs - list[at - CHATTER_COUNT + 1]!.atMs < CHATTER_WITHIN_MS) count += 1;
  }
  return count;
}

/** Short ones that nobody could answer and that did not come again at once: those that did are chattering. */
function fleetingIn(list: readonly Annunciation[]): number {
  return list.filter((one, index) => {
    const short = !one.answered && one.endedMs !== null && one.endedMs - one.atMs < FLEETING_WITHIN_MS;
    const next = list[index + 1];
    return short && (next === undefined || next.atMs - one.atMs >= CHATTER_WITHIN_MS);
  }).length;
}

function isStale(one: Annunciation, atMs: EpochMs): boolean {
  return one.atMs < atMs && (one.endedMs === null || one.endedMs > atMs) && atMs - one.atMs > STALE_AFTER_MS;
}

function actors(counted: readonly (readonly [readonly Annunciation[], number])[], cure: TextCode): readonly BadActor[] {
  return counted
    .filter(([, count]) => count > 0)
    .map(([list, count]) => actor(list, count, cure))
    .sort((a, b) => b.count - a.count || compare(a.alarmId, b.alarmId));
}

function actor(list: readonly Annunciation[], count: number, cure: TextCode): BadActor {
  return { alarmId: list[0]!.alarmId, kind: list[0]!.kind, count, cure };
}

function groupByAlarm(list: readonly Annunciation[]): ReadonlyMap<string, readonly Annunciation[]> {
  const groups = new Map<string, Annunciation[]>();
  for (const one of list) groups.set(one.alarmId, [...(groups.get(one.alarmId) ?? []), one]);
  return groups;
}

function share<Item>(items: readonly Item[], holds: (item: Item) => boolean): number {
  return items.length === 0 ? 0 : items.filter(holds).length / items.length;
}
