import { existsSync } from 'node:fs';
import { join } from 'node:path';
import { median, type NAIVE_WAYS, type NaiveAnswers, naiveAnswers } from './baselines.js';
import { readCsv, timeOf } from './read-csv.js';
import type { LevelSeries } from './series.js';
import type { Fault, Truth } from './truth.js';

const DAY_MS = 86_400_000;
export const CAP_DAYS = 45;
const OLD_ENOUGH_MS = 14 * DAY_MS;
const FAULT_BEFORE_MS = 14 * DAY_MS;
/** What the horizon of a forecast stands for where a quantile is left empty. */
const BEYOND_DAYS = 60;

export interface LeadQuantiles {
  readonly p10: number | null;
  readonly p50: number | null;
  readonly p90: number | null;
}

export interface OriginSample {
  readonly containerId: string;
  readonly covered: boolean;
  readonly cam: boolean;
  readonly moisture: boolean;
  readonly climate: string;
  readonly young: boolean;
  readonly health: 'healthy' | 'leak' | 'fault';
  readonly dryLead: number | null;
  readonly stressLead: number | null;
  readonly alreadyDry: boolean;
  readonly alreadyStressed: boolean;
  /** Null where the forecasts hold no row for the origin. */
  readonly dry: LeadQuantiles | null;
  readonly stress: LeadQuantiles | null;
  readonly naive: NaiveAnswers;
  /** Last level over the wick foot against the overflow's. */
  readonly fill: number | null;
}

/** Pairs each true origin with what the product said then, and with what the naive ways would have said. */
export async function collectOrigins(
  truth: Truth,
  series: ReadonlyMap<string, LevelSeries>,
  outDir: string | null,
): Promise<OriginSample[]> {
  const said = new Map<string, { dry: LeadQuantiles; stress: LeadQuantiles }>();
  if (outDir !== null) {
    const path = join(outDir, 'forecasts.csv');
    if (!existsSync(path)) throw new Error(`${outDir} holds no forecasts.csv: run "brimline replay" into it first.`);
    await readCsv(path, (row) => {
      const originMs = timeOf(row('origin'))!;
      const lead = (column: string): number | null => {
        const ms = timeOf(row(column));
        return ms === null ? null : (ms - originMs) / DAY_MS;
      };
      said.set(`${row('container')}@${originMs}`, {
        dry: { p10: lead('dry_p10'), p50: lead('dry_p50'), p90: lead('dry_p90') },
        stress: { p10: lead('stress_p10'), p50: lead('stress_p50'), p90: lead('stress_p90') },
      });
    });
  }
  const faults = new Map<string, Fault[]>();
  for (const fault of truth.faults) faults.set(fault.containerId, [...(faults.get(fault.containerId) ?? []), fault]);
  return truth.origins.map((origin) => {
    const container = truth.containers.get(origin.containerId)!;
    const own = series.get(origin.containerId);
    const { originMs } = origin;
    let nodeStartMs = container.startMs;
    for (const start of own?.nodeStartsMs ?? []) if (start <= originMs) nodeStartMs = Math.max(nodeStartMs, start);
    const untilMs = origin.dryMs ?? originMs + BEYOND_DAYS * DAY_MS;
    let health: OriginSample['health'] = 'healthy';
    for (const fault of faults.get(origin.containerId) ?? []) {
      if (fault.fromMs > untilMs || fault.toMs < originMs - FAULT_BEFORE_MS) continue;
      if (fault.kind !== 'leak') health = 'fault';
      else if (health === 'healthy') health = 'leak';
    }
    const naive = naiveAnswers(own, originMs, origin.statedFootMm);
    const answer = said.get(`${origin.containerId}@${originMs}`);
    const level = naive.lastLevelMm;
    return {
      containerId: origin.containerId,
      covered: container.covered,
      cam: container.cam,
      moisture: container.moisture,
      climate: container.climate,
      young: originMs - nodeStartMs < OLD_ENOUGH_MS,
      health,
      dryLead: origin.dryMs === null ? null : (origin.dryMs - originMs) / DAY_MS,
      stressLead: origin.stressMs === null ? null : (origin.stressMs - originMs) / DAY_MS,
      alreadyDry: origin.dryMs === originMs,
      alreadyStressed: origin.stressMs === originMs,
      dry: answer?.dry ?? null,
      stress: answer?.stress ?? null,
      naive,
      fill: level === null ? null : (level - origin.statedFootMm) / (container.overflowMm - origin.statedFootMm),
    };
  });
}

export const LEAD_BINS = [
  { name: '1 d', low: 0.5, high: 1.5 },
  { name: '3 d', low: 2, high: 4 },
  { name: '7 d', low: 5, high: 9 },
  { name: '14 d', low: 10, high: 20 },
] as const;

export interface BinScore {
  readonly bin: string;
  readonly n: number;
  readonly maeDays: number | null;
  readonly medianDays: number | null;
  readonly biasDays: number | null;
  readonly cover80: number | null;
  readonly pinball: number | null;
}

const cap = (lead: number | null): number => (lead === null ? CAP_DAYS : Math.min(CAP_DAYS, lead));

function pinball(quantile: number, forecast: number, truth: number): number {
  return truth >= forecast ? quantile * (truth - forecast) : (1 - quantile) * (forecast - truth);
}

/** Scores of (truth, forecast) pairs in each bin of the true lead. */
export function scoreLeads(
  pairs: readonly { readonly truth: number; readonly said: LeadQuantiles | null }[],
): BinScore[] {
  return LEAD_BINS.map(({ name, low, high }) => {
    const inside = pairs.filter((p) => p.truth >= low && p.truth <= high);
    if (inside.length === 0) {
      return { bin: name, n: 0, maeDays: null, medianDays: null, biasDays: null, cover80: null, pinball: null };
    }
    const errors = inside.map((p) => cap(p.said?.p50 ?? null) - p.truth);
    const absolute = errors.map(Math.abs);
    let covered = 0;
    let loss = 0;
    for (const { truth, said } of inside) {
      const p10 = said?.p10 ?? BEYOND_DAYS;
      const p90 = said?.p90 ?? BEYOND_DAYS;
      if (said !== null && p10 <= truth && truth <= p90) covered++;
      loss +=
        (pinball(0.1, cap(said?.p10 ?? null), truth) +
          pinball(0.5, cap(said?.p50 ?? null), truth) +
          pinball(0.9, cap(said?.p90 ?? null), truth)) /
        3;
    }
    return {
      bin: name,
      n: inside.length,
      maeDays: mean(absolute),
      medianDays: median(absolute),
      biasDays: mean(errors),
      cover80: covered / inside.length,
      pinball: loss / inside.length,
    };
  });
}

export function mean(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length;
}

/** Which origins count: not dry already, dry within 45 days, the node two weeks old, nothing wrong. */
export function countsForDry(sample: OriginSample): boolean {
  return !sample.alreadyDry && sample.dryLead !== null && sample.dryLead <= CAP_DAYS && !sample.young;
}

export function dryPairs(samples: readonly OriginSample[]): { truth: number; said: LeadQuantiles | null }[] {
  return samples.filter(countsForDry).map((s) => ({ truth: s.dryLead!, said: s.dry }));
}

/** Stress counts also where the reservoir is dry already, as long as the soil is not. */
export function stressPairs(samples: readonly OriginSample[]): { truth: number; said: LeadQuantiles | null }[] {
  return samples
    .filter((s) => !s.young && !s.alreadyStressed && s.stressLead !== null && s.stressLead <= CAP_DAYS)
    .map((s) => ({ truth: s.stressLead!, said: s.stress }));
}

export function naivePairs(
  samples: readonly OriginSample[],
  way: (typeof NAIVE_WAYS)[number],
): { truth: number; said: LeadQuantiles | null }[] {
  return samples.filter(countsForDry).map((s) => {
    const lead = s.naive.leadDays[way];
    return { truth: s.dryLead!, said: { p10: lead, p50: lead, p90: lead } };
  });
}

export interface RuleScore {
  readonly rule: string;
  readonly recall: number | null;
  readonly precision: number | null;
  readonly positives: number;
}

/** "Dry within 48 h" by several rules, at all healthy origins of old enough nodes that are not dry yet. */
export function scoreRules(samples: readonly OriginSample[]): RuleScore[] {
  const counted = samples.filter((s) => !s.young && !s.alreadyDry);
  const rules: readonly (readonly [string, (s: OriginSample) => boolean])[] = [
    ['p10 within 48 h', (s) => s.dry?.p10 != null && s.dry.p10 <= 2],
    ['p50 within 48 h', (s) => s.dry?.p50 != null && s.dry.p50 <= 2],
    ['level at 20 %', (s) => s.fill !== null && s.fill <= 0.2],
    ['level at 30 %', (s) => s.fill !== null && s.fill <= 0.3],
    ['Theil-Sen within 48 h', (s) => s.naive.leadDays['Theil-Sen'] !== null && s.naive.leadDays['Theil-Sen'] <= 2],
  ];
  return rules.map(([rule, test]) => {
    let hit = 0;
    let said = 0;
    let positives = 0;
    for (const s of counted) {
      const isTrue = s.dryLead !== null && s.dryLead <= 2;
      const isSaid = test(s);
      if (isTrue) positives++;
      if (isSaid) said++;
      if (isTrue && isSaid) hit++;
    }
    return {
      rule,
      positives,
      recall: positives > 0 ? hit / positives : null,
      precision: said > 0 ? hit / said : null,
    };
  });
}
