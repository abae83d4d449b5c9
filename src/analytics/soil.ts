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

/** Within this of the reference the soil is as it settles; what the probe shows beyond is water gained or lacking. */
const SETTLED_BAND = 0.006;

/** Litres that the soil holds above (positive) or below what it settles at, the band of the probe's error taken off. */
export function soilAnomalyLitres(ctx: PotContext, reference: number | null, moisture: number | null): number | null {
  if (reference === null || moisture === null || ctx.container.soil === null) return null;
  const apart = moisture - reference;
  const beyond = Math.sign(apart) * Math.max(0, Math.abs(apart) - SETTLED_BAND);
  return beyond * ctx.container.soil.litres;
}

/** Share of the rain over 1 mm that reaches the soil's store. */
const RAIN_SHARE = 0.6;
const RAIN_LOST_MM = 1;
/** A downpour runs off: no more than this of a day's rain gets in. */
const RAIN_MOST_MM = 22;
/** Of what the soil lets through, the part that comes down into the reservoir. */
export const THROUGH_SHARE = 0.5;
/** A reservoir that fell by a whole day's use says that little of the store is left. */
const DISPROVED_SHARE = 0.4;
/** The soil keeps about this share of its volume above what it settles at before it lets water through. */
const BUCKET_SHARE = 0.04;

/** Rain that falls on the soil and stays above what it loses at once, litres. */
export function infiltrationLitres(ctx: PotContext, rainMm: number): number {
  if (ctx.container.covered || ctx.container.soil === null) return 0;
  const taken = Math.min(RAIN_MOST_MM, Math.max(0, rainMm - RAIN_LOST_MM));
  return RAIN_SHARE * ctx.container.soil.surfaceM2 * taken;
}

/** What the soil keeps above what it settles at before it lets water through, litres. */
export function bucketMostLitres(ctx: PotContext): number {
  return BUCKET_SHARE * (ctx.container.soil?.litres ?? 0);
}

/** The soil's rain covers no more than this share of a day's use: roots near the wick go on drinking from it. */
export const SOIL_SHARE = 0.6;
/** Rain water that the soil loses to the air, a day. */
export const BUCKET_LOSS = 0.2;

/** What the store of rain gives on a day, before the level has been seen. */
export function rainSupplyLitres(ctx: PotContext, bucketLitres: number, rainMm: number, useLitres: number): number {
  return Math.min(bucketLitres + infiltrationLitres(ctx, rainMm), SOIL_SHARE * useLitres);
}

/**
 * The store after a day. What the plants used and did not take from the reservoir came out of it; a reservoir that fell
 * as if there were no rain says that the store was not what the rain gauge promised.
 * @param drawnLitres what the reservoir lost, null where the level is not known
 */
export function stepBucket(
  ctx: PotContext,
  bucketLitres: number,
  rainMm: number,
  useLitres: number,
  drawnLitres: number | null,
): { readonly bucketLitres: number; readonly percolationLitres: number } {
  if (ctx.container.covered || ctx.container.soil === null) return { bucketLitres: 0, percolationLitres: 0 };
  const filled = bucketLitres + infiltrationLitres(ctx, rainMm);
  const taken = drawnLitres === null ? SOIL_SHARE * useLitres : Math.max(0.3 * useLitres, useLitres - drawnLitres);
  const disproved = drawnLitres !== null && drawnLitres >= useLitres;
  const left = Math.max(0, filled - taken) * (1 - BUCKET_LOSS) * (disproved ? DISPROVED_SHARE : 1);
  const percolationLitres = Math.max(0, left - bucketMostLitres(ctx));
  return { bucketLitres: left - percolationLitres, percolationLitres: THROUGH_SHARE * percolationLitres };
}

/** Water between field capacity and wilting point in a loam, of the soil's volume (FAO-56, table 19; from memory). */
const SOIL_HOLDS_SHARE = 0.15;

/** Litres that the soil may take back between two instants beyond the plants' use, since it had dried out before. */
export function soilMayTake(ctx: PotContext, soil: SoilState, fromMs: EpochMs, toMs: EpochMs): number {
  const { rewettingUntilMs } = soil;
  const takes = rewettingUntilMs > fromMs && rewettingUntilMs - REWETTING_MS < toMs;
  return takes ? SOIL_HOLDS_SHARE * (ctx.container.soil?.litres ?? 0) : 0;
}
