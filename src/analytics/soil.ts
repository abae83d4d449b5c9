import type { PotContext } from '../domain/analysis.js';
import type { EpochMs } from '../domain/ids.js';
import { HOUR_MS } from '../domain/local-day.js';
import { AT, type PackedDay } from './day-record.js';
import { median, quantile } from './stats/order.js';

/** What is known of the water in the soil. */
export interface SoilState {
  /** Moisture readings of the last two hours, at most twelve: [time, fraction]. */
  readonly recent: readonly (readonly [EpochMs, number])[];
  /** Moisture that the soil settles at while water stands above the wick foot; null while not known. */
  readonly reference: number | null;
  /** Median moisture at the last dawn. */
  readonly atDawn: number | null;
  /** Litres of rain in the soil of an uncovered pot beyond what it keeps, where no sensor tells. */
  readonly bucketLitres: number;
  /** Until then the soil takes back what it lost while the reservoir was dry. */
  readonly rewettingUntilMs: EpochMs;
  /** Since when the water has stood clear of the wick foot; null while it does not. */
  readonly wetSinceMs: EpochMs | null;
  /** Since when it has stood at the foot or below; null while it does not. */
  readonly drySinceMs: EpochMs | null;
}

export const NO_SOIL: SoilState = {
  recent: [],
  reference: null,
  atDawn: null,
  bucketLitres: 0,
  rewettingUntilMs: 0,
  wetSinceMs: null,
  drySinceMs: null,
};

const KEPT_MS = 2 * HOUR_MS;
const KEPT_READINGS = 12;
/** The wick feeds the soil fully from this height above its foot on. */
const CLEAR_OF_FOOT_MM = 6;
const NEAR_FOOT_MM = 4;
const SETTLED_MS = 36 * HOUR_MS;
export const REWETTING_MS = 36 * HOUR_MS;
/** A dry spell shorter than this leaves no debt worth the name. */
const DRY_SPELL_MS = 6 * HOUR_MS;
const REFERENCE_DAYS = 60;
/** Deficits under this share of the soil's volume are within the sensor's error. */
const LEAST_DEFICIT_SHARE = 0.012;
const LEAST_DEFICIT_DAYS = 0.35;

/** Takes a moisture reading and the filtered level at the same time. */
export function observeSoil(
  ctx: PotContext,
  soil: SoilState,
  timeMs: EpochMs,
  moistureFraction: number | null,
  levelMm: number | null,
): SoilState {
  const recent =
    moistureFraction === null
      ? soil.recent
      : [
          ...soil.recent.filter((entry) => entry[0] > timeMs - KEPT_MS).slice(-(KEPT_READINGS - 1)),
          [timeMs, Math.round(moistureFraction * 1e5) / 1e5] as const,
        ];
  if (levelMm === null) return { ...soil, recent };
  const footMm = ctx.container.reservoir.wickFootMm;
  const clear = levelMm > footMm + CLEAR_OF_FOOT_MM;
  const near = levelMm < footMm + NEAR_FOOT_MM;
  const endedDrySpell = clear && soil.drySinceMs !== null && timeMs - soil.drySinceMs > DRY_SPELL_MS;
  return {
    ...soil,
    recent,
    wetSinceMs: clear ? (soil.wetSinceMs ?? timeMs) : null,
    drySinceMs: near ? (soil.drySinceMs ?? timeMs) : clear ? null : soil.drySinceMs,
    rewettingUntilMs: endedDrySpell ? timeMs + REWETTING_MS : soil.rewettingUntilMs,
  };
}

/** Median of the last two hours; null where the sensor says nothing. */
export function moistureNow(soil: SoilState, nowMs: EpochMs): number | null {
  const values = soil.recent.filter((entry) => entry[0] > nowMs - 2 * KEPT_MS).map((entry) => entry[1]);
  return median(values);
}

/** The water has stood clear of the foot for so long that the soil holds what it can. */
export function isSettled(soil: SoilState, nowMs: EpochMs): boolean {
  return soil.wetSinceMs !== null && nowMs - soil.wetSinceMs > SETTLED_MS;
}

/**
 * The moisture that the soil settles at: median of the settled dawns of 60 days. Where the highest values stand well
 * above it (a pot that is refilled late never settles), those count instead; in the rain high values say nothing.
 */
export function settledMoisture(ctx: PotContext, days: readonly PackedDay[]): number | null {
  const footMm = ctx.container.reservoir.wickFootMm;
  const settled: number[] = [];
  const all: number[] = [];
  let wetBefore = false;
  for (const packed of days.slice(-REFERENCE_DAYS)) {
    const levelMinMm = packed[AT.levelMinMm] ?? null;
    const moisture = packed[AT.dawnMoisture] ?? null;
    const wet = levelMinMm !== null && levelMinMm > footMm + CLEAR_OF_FOOT_MM;
    if (moisture !== null) {
      all.push(moisture);
      if (wet && wetBefore) settled.push(moisture);
    }
    wetBefore = wet;
  }
  if (all.length === 0) return null;
  const middle = settled.length >= 3 ? median(settled) : null;
  if (!ctx.container.covered) return middle ?? quantile(all, 0.75);
  const high = quantile(all, 0.9)! - 0.007;
  return middle === null ? high : Math.max(middle, high);
}

/** Litres that the soil lacks of what it settles at; negative where rain left more. Null without a sensor. */
export function soilDeficitLitres(ctx: PotContext, soil: SoilState, nowMs: EpochMs): number | null {
  const now = moistureNow(soil, nowMs);
  if (now === null || soil.reference === null || ctx.container.soil === null) return null;
  return (soil.reference - now) * ctx.container.soil.litres;
}

/** The part of the deficit that counts as debt: what lies within the sensor's error or a usual day does not. */
export function soilDebtLitres(ctx: PotContext, soil: SoilState, nowMs: EpochMs, useLitresPerDay: number): number {
  const deficit = soilDeficitLitres(ctx, soil, nowMs);
  if (deficit === null || ctx.container.soil === null) return 0;
  const least = Math.max(LEAST_DEFICIT_SHARE * ctx.container.soil.litres, LEAST_DEFICIT_DAYS * useLitresPerDay);
  return deficit > least ? deficit : 0;
}

/** Share of the rain over 1 mm that reaches the soil's store. */
const RAIN_SHARE = 0.85;
const RAIN_LOST_MM = 1;
/** The soil keeps about a fortieth of its volume above what it settles at before it lets water through. */
const BUCKET_SHARE = 0.025;

export interface BucketDay {
  readonly bucketLitres: number;
  /** Of the plants' use, what the rain in the soil covered. */
  readonly rainUseLitres: number;
  /** What the soil let through into the reservoir. */
  readonly percolationLitres: number;
}

/** Rain that falls on the soil and stays above what it loses at once, litres. */
export function infiltrationLitres(ctx: PotContext, rainMm: number): number {
  if (ctx.container.covered || ctx.container.soil === null) return 0;
  return RAIN_SHARE * ctx.container.soil.surfaceM2 * Math.max(0, rainMm - RAIN_LOST_MM);
}

/** One day of the rain store of an uncovered pot. */
export function stepBucket(ctx: PotContext, bucketLitres: number, rainMm: number, useLitres: number): BucketDay {
  if (ctx.container.covered || ctx.container.soil === null) {
    return { bucketLitres: 0, rainUseLitres: 0, percolationLitres: 0 };
  }
  const filled = bucketLitres + infiltrationLitres(ctx, rainMm);
  const rainUseLitres = Math.min(filled, useLitres);
  const left = filled - rainUseLitres;
  const most = BUCKET_SHARE * ctx.container.soil.litres;
  const percolationLitres = Math.max(0, left - most);
  return { bucketLitres: left - percolationLitres, rainUseLitres, percolationLitres };
}
