import { existsSync } from 'node:fs';
import { join } from 'node:path';
import { median } from './baselines.js';
import { numberOf, readCsv, timeOf } from './read-csv.js';
import type { Excuse, Fault, TrueContainer, TrueEvent, Truth } from './truth.js';

const HOUR_MS = 3_600_000;
const DAY_MS = 24 * HOUR_MS;
const YEAR_MS = 365.25 * DAY_MS;
/** After a leak has ended an alarm about it may still come without being false. */
const AFTER_LEAK_MS = 14 * DAY_MS;
/** Fall that the plants' use of a week would make, without which nothing that stops it can be seen. */
const LEAST_DEMAND_MM = 10;
const REPEAT_MS = 30 * DAY_MS;
/**
 * A dying cell is to be told of before it dies, and not half a year before: found is what was said within so many days
 * of its end, and counted from two weeks before it, so that "within 7 days" leaves a week to change it in.
 */
const EARLIEST_BATTERY_MS = 150 * DAY_MS;
const BATTERY_DUE_MS = 14 * DAY_MS;

interface SaidFinding {
  readonly kind: string;
  readonly openedMs: number;
  readonly size: number | null;
  readonly heightMm: number | null;
}

export interface LeakCase {
  readonly litresPerDay: number;
  /** Mean flow while water stands above the crack, against what one night's noise hides (1 sigma). */
  readonly flowRatio: number | null;
  /** Days in all with water over the crack. */
  readonly activeDays: number | null;
  readonly daysToFind: number | null;
  readonly saidSize: number | null;
  readonly heightErrorOfOverflow: number | null;
}

export interface FaultCase {
  readonly kind: string;
  readonly daysToFind: number | null;
  /** For a blocked port: when the second event that shows it was over, days from the onset; null where there was none. */
  readonly secondEvidenceDays: number | null;
  readonly evidence: number;
  /** The fault had something to show itself by: use to miss, water to miss it in. */
  readonly observable: boolean;
}

export interface FindingSample {
  readonly leaks: readonly LeakCase[];
  readonly faults: readonly FaultCase[];
  readonly leakFalseAlarms: number;
  /** Container-years without a leak, on pots with no other fault. */
  readonly leakFreeYears: number;
  readonly leakFalseAlarmsOnFaulty: number;
  readonly leakFreeYearsOnFaulty: number;
  /** False findings of each other kind, on pots without any fault. */
  readonly falseFindings: Readonly<Record<string, number>>;
  readonly faultFreeYears: number;
  /** On pots that had a fault, but not this one nor one that looks like it. */
  readonly falseOnFaulty: Readonly<Record<string, number>>;
  readonly containerYears: number;
}

/** Kinds of findings that a true fault may rightly be called. */
const CALLED: Readonly<Record<string, readonly string[]>> = {
  overflow_blocked: ['overflow_blocked', 'overflow_partly_blocked'],
  overflow_partly_blocked: ['overflow_partly_blocked', 'overflow_blocked'],
  wick_failed: ['wick_failed'],
  demand_collapsed: ['demand_collapsed'],
  sensor_stuck: ['sensor_stuck'],
  sensor_drift: ['sensor_drift'],
  sensor_unplugged: ['sensor_unplugged'],
  sensor_fouled: ['sensor_fouled'],
  node_silent: ['node_silent'],
  nodes_swapped: ['nodes_swapped'],
  clock_wrong: ['clock_wrong'],
  battery_low: ['battery_low'],
};

/** Findings that a fault may bring about besides its own name, and that are then not false. */
const EXCUSED: Readonly<Record<string, readonly string[]>> = {
  overflow_blocked: ['waterlogged'],
  overflow_partly_blocked: ['waterlogged'],
  battery_low: ['node_silent'],
  sensor_fouled: ['sensor_drift'],
  wick_failed: ['demand_collapsed', 'wick_limited'],
  demand_collapsed: ['wick_failed'],
  sensor_drift: ['sensor_fouled', 'overflow_blocked', 'leak'],
  node_silent: [],
};

/** What a gateway's outage or the gardeners bring about is no false finding, though no fault either. */
const EXPLAINED_BY: Readonly<Record<string, Excuse['kind']>> = {
  node_silent: 'outage',
  demand_collapsed: 'plants_changed',
  battery_low: 'cell_old',
  wick_limited: 'weak_wick',
};

/** One night's standard error in L/day of a leak seen by a line through seven hours (the yardstick of flow ratios). */
export function oneNightLitresPerDay(container: Pick<TrueContainer, 'areaM2' | 'noiseMm' | 'intervalS'>): number {
  const nightHours = 7;
  const readings = (nightHours * 3600) / container.intervalS;
  return (24 * container.areaM2 * container.noiseMm * Math.sqrt(12 / readings)) / nightHours;
}

export async function collectFindings(truth: Truth, outDir: string): Promise<FindingSample> {
  const path = join(outDir, 'findings.csv');
  if (!existsSync(path)) throw new Error(`${outDir} holds no findings.csv: run "brimline replay" into it first.`);
  const said = new Map<string, SaidFinding[]>();
  await readCsv(path, (row) => {
    const list = said.get(row('container')) ?? [];
    list.push({
      kind: row('kind'),
      openedMs: timeOf(row('opened'))!,
      size: numberOf(row('size')),
      heightMm: numberOf(row('height_mm')),
    });
    said.set(row('container'), list);
  });
  const leaks: LeakCase[] = [];
  const faults: FaultCase[] = [];
  const falseFindings: Record<string, number> = {};
  const falseOnFaulty: Record<string, number> = {};
  let faultFreeMs = 0;
  let leakFalseAlarms = 0;
  let leakFreeMs = 0;
  let leakFalseAlarmsOnFaulty = 0;
  let leakFreeMsOnFaulty = 0;
  let totalMs = 0;
  for (const container of truth.containers.values()) {
    const own = truth.faults.filter((f) => f.containerId === container.id);
    const mine = (said.get(container.id) ?? []).sort((a, b) => a.openedMs - b.openedMs);
    const spanMs = container.endMs - container.startMs;
    totalMs += spanMs;
    const trueLeaks = own.filter((f) => f.kind === 'leak');
    let freeMs = spanMs;
    for (const leak of trueLeaks) {
      freeMs -= Math.min(container.endMs, leak.toMs + AFTER_LEAK_MS) - leak.fromMs;
      leaks.push(leakCase(container, leak, mine));
    }
    const alarms = falseAlarms(mine, trueLeaks);
    if (own.some((f) => f.kind !== 'leak')) {
      leakFalseAlarmsOnFaulty += alarms;
      leakFreeMsOnFaulty += freeMs;
    } else {
      leakFalseAlarms += alarms;
      leakFreeMs += freeMs;
    }
    for (const fault of own) if (fault.kind !== 'leak') faults.push(faultCase(truth, container, fault, mine));
    const excuses = truth.excuses.filter((e) => e.containerId === container.id);
    if (own.length === 0) faultFreeMs += spanMs;
    countFalse(mine, own, excuses, own.length === 0 ? falseFindings : falseOnFaulty);
  }
  return {
    leaks,
    faults,
    leakFalseAlarms,
    leakFreeYears: leakFreeMs / YEAR_MS,
    leakFalseAlarmsOnFaulty,
    leakFreeYearsOnFaulty: leakFreeMsOnFaulty / YEAR_MS,
    falseFindings,
    faultFreeYears: faultFreeMs / YEAR_MS,
    falseOnFaulty,
    containerYears: totalMs / YEAR_MS,
  };
}

function falseAlarms(mine: readonly SaidFinding[], leaks: readonly Fault[]): number {
  let count = 0;
  let lastMs = -Infinity;
  for (const finding of mine) {
    if (finding.kind !== 'leak') continue;
    const { openedMs } = finding;
    if (leaks.some((l) => openedMs >= l.fromMs && openedMs <= l.toMs + AFTER_LEAK_MS)) continue;
    if (openedMs - lastMs > REPEAT_MS) {
      count++;
      lastMs = openedMs;
    }
  }
  return count;
}

function leakCase(container: TrueContainer, leak: Fault, mine: readonly SaidFinding[]): LeakCase {
  const found = mine.find(
    (f) => f.kind === 'leak' && f.openedMs >= leak.fromMs && f.openedMs <= leak.toMs + AFTER_LEAK_MS,
  );
  const active = leak.activeLitresPerDay;
  return {
    litresPerDay: leak.size!,
    flowRatio: active === null ? null : active / oneNightLitresPerDay(container),
    activeDays: leak.activeDays,
    daysToFind: found === undefined ? null : (found.openedMs - leak.fromMs) / DAY_MS,
    saidSize: found?.size ?? null,
    heightErrorOfOverflow:
      found?.heightMm == null || leak.heightMm === null
        ? null
        : Math.abs(found.heightMm - leak.heightMm) / container.overflowMm,
  };
}

function faultCase(truth: Truth, container: TrueContainer, fault: Fault, mine: readonly SaidFinding[]): FaultCase {
  const names = CALLED[fault.kind] ?? [fault.kind];
  const { cellEndMs } = container;
  const dying = fault.kind === 'battery_low' && cellEndMs !== null;
  const earliestMs = dying ? cellEndMs - EARLIEST_BATTERY_MS : fault.fromMs;
  const latestMs = dying ? cellEndMs : fault.toMs + 2 * DAY_MS;
  const dueMs = dying ? cellEndMs - BATTERY_DUE_MS : fault.fromMs;
  const found = mine.find((f) => names.includes(f.kind) && f.openedMs >= earliestMs && f.openedMs <= latestMs);
  const evidence = fault.kind.startsWith('overflow')
    ? truth.events
        .filter((e) => e.containerId === container.id && e.kind === 'above_overflow')
        .filter((e) => e.startMs >= fault.fromMs && e.startMs <= fault.toMs && showsPort(container, e))
    : [];
  const demandMm = (fault.demandLitres7d ?? 0) / container.areaM2;
  return {
    kind: fault.kind,
    daysToFind: found === undefined ? null : (found.openedMs - dueMs) / DAY_MS,
    evidence: evidence.length,
    // The level must have stood above the invert for some hours before anybody could say so.
    secondEvidenceDays: evidence.length >= 2 ? (evidence[1]!.startMs + DAY_MS - fault.fromMs) / DAY_MS : null,
    // A cell that outlives the record is nobody's to tell of yet.
    observable: fault.kind === 'battery_low' ? dying && cellEndMs < container.endMs : demandMm >= LEAST_DEMAND_MM,
  };
}

/** Water stood above the invert by more than the sensor's noise hides, for longer than it takes to say so. */
function showsPort(container: TrueContainer, event: TrueEvent): boolean {
  const aboveMm = event.endLevelMm - container.overflowMm;
  const lastsMs = event.endMs - event.startMs;
  return aboveMm > Math.max(4, 3 * container.noiseMm + 2) && lastsMs > 2 * HOUR_MS + 2 * 1000 * container.intervalS;
}

function countFalse(
  mine: readonly SaidFinding[],
  own: readonly Fault[],
  excuses: readonly Excuse[],
  counts: Record<string, number>,
): void {
  const last = new Map<string, number>();
  for (const finding of mine) {
    if (finding.kind === 'leak') continue;
    const excused = own.some((f) => {
      const names = [...(CALLED[f.kind] ?? [f.kind]), ...(EXCUSED[f.kind] ?? [])];
      return (
        names.includes(finding.kind) &&
        finding.openedMs >= f.fromMs - DAY_MS &&
        finding.openedMs <= f.toMs + AFTER_LEAK_MS
      );
    });
    if (excused) continue;
    const explained = excuses.some(
      (e) => EXPLAINED_BY[finding.kind] === e.kind && finding.openedMs >= e.fromMs && finding.openedMs <= e.toMs,
    );
    if (explained) continue;
    const before = last.get(finding.kind) ?? -Infinity;
    if (finding.openedMs - before <= REPEAT_MS) continue;
    last.set(finding.kind, finding.openedMs);
    counts[finding.kind] = (counts[finding.kind] ?? 0) + 1;
  }
}

export interface LeakClassScore {
  readonly name: string;
  readonly n: number;
  readonly found: number | null;
  readonly within14Days: number | null;
  readonly medianDays: number | null;
}

function leakClass(name: string, cases: readonly LeakCase[]): LeakClassScore {
  const days = cases.flatMap((c) => (c.daysToFind === null ? [] : [c.daysToFind]));
  const n = cases.length;
  return {
    name,
    n,
    found: n > 0 ? days.length / n : null,
    within14Days: n > 0 ? days.filter((d) => d <= 14).length / n : null,
    medianDays: days.length > 0 ? median(days) : null,
  };
}

export interface FaultScore {
  readonly kind: string;
  readonly n: number;
  readonly found: number | null;
  readonly within7Days: number | null;
  readonly medianDays: number | null;
  readonly falsePer100Years: number | null;
  /** On pots with another fault; a count. */
  readonly falseOnFaulty: number;
}

export interface FindingScore {
  readonly leakFalseAlarms: number;
  readonly leakFreeYears: number;
  readonly leakFalseAlarmsPer100Years: number | null;
  readonly leakFalseAlarmsOnFaultyPots: string;
  readonly leakBySize: readonly LeakClassScore[];
  readonly leakByFlowRatio: readonly LeakClassScore[];
  readonly leakByActiveDays: readonly LeakClassScore[];
  readonly leakSizeErrorMedian: number | null;
  readonly leakSizeRatioMedian: number | null;
  readonly leakHeightErrorMedian: number | null;
  readonly faults: readonly FaultScore[];
  readonly blockedShown: { readonly n: number; readonly foundAfterSecond: number | null };
  readonly containerYears: number;
  readonly faultFreeYears: number;
}

const SIZE_CLASSES = [
  [0.15, 0.3],
  [0.3, 0.6],
  [0.6, 1.2],
  [1.2, 2.5],
  [2.5, 8],
] as const;
const RATIO_CLASSES = [
  [0, 0.7],
  [0.7, 1.5],
  [1.5, 3],
  [3, 6],
  [6, Infinity],
] as const;

const ACTIVE_CLASSES = [
  [0, 7],
  [7, 14],
  [14, 30],
  [30, 90],
  [90, Infinity],
] as const;

/** Kinds reported for their false findings even where a fleet holds no true one. */
const ALWAYS_REPORTED = [...Object.keys(CALLED), 'waterlogged', 'wick_limited'];

export function scoreFindings(samples: readonly FindingSample[]): FindingScore {
  const leaks = samples.flatMap((s) => s.leaks);
  const faults = samples.flatMap((s) => s.faults);
  const sum = (value: (s: FindingSample) => number): number => samples.reduce((total, s) => total + value(s), 0);
  const years = sum((s) => s.containerYears);
  const faultFree = sum((s) => s.faultFreeYears);
  const freeYears = sum((s) => s.leakFreeYears);
  const sizeErrors: number[] = [];
  const sizeRatios: number[] = [];
  for (const leak of leaks) {
    if (leak.saidSize === null) continue;
    sizeRatios.push(leak.saidSize / leak.litresPerDay);
    sizeErrors.push(Math.abs(leak.saidSize / leak.litresPerDay - 1));
  }
  const heights = leaks.flatMap((l) => (l.heightErrorOfOverflow === null ? [] : [l.heightErrorOfOverflow]));
  const blocked = faults.filter((f) => f.kind === 'overflow_blocked' && f.secondEvidenceDays !== null);
  return {
    leakFalseAlarms: sum((s) => s.leakFalseAlarms),
    leakFreeYears: freeYears,
    leakFalseAlarmsPer100Years: freeYears > 0 ? (100 * sum((s) => s.leakFalseAlarms)) / freeYears : null,
    leakFalseAlarmsOnFaultyPots: `${sum((s) => s.leakFalseAlarmsOnFaulty)} in ${sum((s) => s.leakFreeYearsOnFaulty).toFixed(0)}`,
    leakBySize: SIZE_CLASSES.map(([low, high]) =>
      leakClass(
        `${low}-${high} L/d`,
        leaks.filter((l) => l.litresPerDay >= low && l.litresPerDay < high),
      ),
    ),
    leakByFlowRatio: RATIO_CLASSES.map(([low, high]) =>
      leakClass(
        high === Infinity ? `over ${low}` : `${low}-${high}`,
        leaks.filter((l) => l.flowRatio !== null && l.flowRatio >= low && l.flowRatio < high),
      ),
    ),
    leakByActiveDays: ACTIVE_CLASSES.map(([low, high]) =>
      leakClass(
        high === Infinity ? `over ${low}` : `${low}-${high}`,
        leaks.filter((l) => l.activeDays !== null && l.activeDays >= low && l.activeDays < high),
      ),
    ),
    leakSizeErrorMedian: sizeErrors.length > 0 ? median(sizeErrors) : null,
    leakSizeRatioMedian: sizeRatios.length > 0 ? median(sizeRatios) : null,
    leakHeightErrorMedian: heights.length > 0 ? median(heights) : null,
    faults: ALWAYS_REPORTED.map((kind) => {
      const cases = faults.filter((f) => f.kind === kind && countable(f));
      const days = cases.flatMap((c) => (c.daysToFind === null ? [] : [c.daysToFind]));
      const n = cases.length;
      return {
        kind,
        n,
        found: n > 0 ? days.length / n : null,
        within7Days: n > 0 ? days.filter((d) => d <= 7).length / n : null,
        medianDays: days.length > 0 ? median(days) : null,
        falsePer100Years: faultFree > 0 ? (100 * sum((s) => s.falseFindings[kind] ?? 0)) / faultFree : null,
        falseOnFaulty: sum((s) => s.falseOnFaulty[kind] ?? 0),
      };
    }),
    blockedShown: {
      n: blocked.length,
      foundAfterSecond:
        blocked.length > 0
          ? blocked.filter((f) => f.daysToFind !== null && f.daysToFind <= f.secondEvidenceDays!).length /
            blocked.length
          : null,
    },
    containerYears: years,
    faultFreeYears: faultFree,
  };
}

const NEED_SOMETHING_TO_SEE = ['wick_failed', 'demand_collapsed', 'battery_low'];

/** A port that never was under water and a wick that nobody drank from could not have been found by anyone. */
function countable(fault: FaultCase): boolean {
  if (fault.kind.startsWith('overflow')) return fault.evidence > 0;
  if (NEED_SOMETHING_TO_SEE.includes(fault.kind)) return fault.observable;
  return true;
}
