import { normalCdf, normalQuantile } from '../analytics/stats/normal.js';
import type { EpochMs } from '../domain/ids.js';
import { DAY_MS } from '../domain/local-day.js';
import type { Quantiles } from '../domain/pot.js';

/** Past this many days a forecast gives no dates. */
export const FORECAST_HORIZON_DAYS = 60;

/** Standard normal at 90 %. */
const Z90 = 1.2815515655446004;

/** Least spread of the logarithm of days to dry: no forecast is surer than a few per cent. Ours, no source. */
const LEAST_SPREAD = 0.02;

/** Days from an instant to the dry date: log-normal with a spread of its own on each side of the median. */
export interface DryTime {
  readonly medianDays: number;
  readonly spreadBefore: number;
  readonly spreadAfter: number;
}

/**
 * Fits the two-piece log-normal that has exactly the forecast's p10, p50 and p90.
 * Dates beyond the horizon count as on it, so that the chance of an early end is not understated.
 * @returns `dry` where the pot is dry already, `lasting` where nothing lies within the horizon, else the fit
 */
export function fitDryTime(quantiles: Quantiles, fromMs: EpochMs): DryTime | 'dry' | 'lasting' {
  const days = (ms: EpochMs | null) => (ms === null ? null : (ms - fromMs) / DAY_MS);
  const p10 = days(quantiles.p10Ms);
  const p50 = days(quantiles.p50Ms) ?? (p10 === null ? null : FORECAST_HORIZON_DAYS);
  if (p50 === null) return 'lasting';
  if (p50 <= 0) return 'dry';
  const p90 = days(quantiles.p90Ms) ?? Math.max(FORECAST_HORIZON_DAYS, p50);
  // A p10 that lies in the past still leaves the median ahead: take it as a moment from now.
  const early = Math.min(p50, Math.max(p10 ?? p50, p50 / 1000));
  return {
    medianDays: p50,
    spreadBefore: Math.max(LEAST_SPREAD, Math.log(p50 / early) / Z90),
    spreadAfter: Math.max(LEAST_SPREAD, Math.log(Math.max(p90, p50) / p50) / Z90),
  };
}

/** Chance (0-1) that the pot is dry within `days`. */
export function chanceDryWithin(time: DryTime | 'dry' | 'lasting', days: number): number {
  if (time === 'dry') return 1;
  if (time === 'lasting' || days <= 0) return 0;
  return normalCdf(zOf(time, days));
}

function zOf(time: DryTime, days: number): number {
  const log = Math.log(days / time.medianDays);
  return log / (log < 0 ? time.spreadBefore : time.spreadAfter);
}

/** Days until the chance of being dry reaches `risk` (0-1). */
export function daysToRisk(time: DryTime | 'dry' | 'lasting', risk: number): number {
  if (time === 'dry') return 0;
  if (time === 'lasting') return FORECAST_HORIZON_DAYS;
  const z = normalQuantile(risk);
  return time.medianDays * Math.exp(z * (z < 0 ? time.spreadBefore : time.spreadAfter));
}

/** The weather that pots of one area share, as a factor on the normal scale; three points with the weights of Gauss-Hermite. */
export const WEATHER_SCENARIOS = [
  { name: 'hot', factor: Math.sqrt(3), weight: 1 / 6 },
  { name: 'normal', factor: 0, weight: 2 / 3 },
  { name: 'cool', factor: -Math.sqrt(3), weight: 1 / 6 },
] as const;

/** Share of a dry date's variance that the area's weather makes; the rest is the pot's own. A guess of ours, no source. */
export const SHARED_WEATHER_SHARE = 0.5;

export interface AreaRisk {
  /** Expected number of dry pots, over all scenarios. */
  readonly expectedDry: number;
  /** Chance that at least one of them is dry. */
  readonly chanceAny: number;
  /** Expected number of dry pots by scenario, in the order of `WEATHER_SCENARIOS`. */
  readonly dryByScenario: readonly number[];
}

/**
 * How many of some pots are dry within `days`, when heat strikes all of them together: one common factor, pots independent
 * given it (Vasicek 1987 counts loan losses in the same way).
 */
export function areaRisk(times: readonly (DryTime | 'dry' | 'lasting')[], days: number): AreaRisk {
  let chanceNone = 0;
  const dryByScenario = WEATHER_SCENARIOS.map(({ factor, weight }) => {
    let expected = 0;
    let none = 1;
    for (const time of times) {
      const chance = chanceInScenario(time, days, factor);
      expected += chance;
      none *= 1 - chance;
    }
    chanceNone += weight * none;
    return expected;
  });
  const expectedDry = WEATHER_SCENARIOS.reduce((sum, one, k) => sum + one.weight * dryByScenario[k]!, 0);
  return { expectedDry, chanceAny: 1 - chanceNone, dryByScenario };
}

function chanceInScenario(time: DryTime | 'dry' | 'lasting', days: number, factor: number): number {
  if (typeof time === 'string' || days <= 0) return chanceDryWithin(time, days);
  const shared = Math.sqrt(SHARED_WEATHER_SHARE);
  return normalCdf((zOf(time, days) + shared * factor) / Math.sqrt(1 - SHARED_WEATHER_SHARE));
}

/** One pot as the planner needs it. */
export interface PotWater {
  readonly dryTime: DryTime | 'dry' | 'lasting';
  /** Litres that go in now, up to the target. */
  readonly roomLitres: number;
  /** Litres between the wick foot and the target level. */
  readonly drawableLitres: number;
  readonly litresPerDay: number;
  /** Standard deviation of the logarithm of the drawdown over a fill's life. */
  readonly rateSpread: number;
}

export interface VisitDeadlines {
  /** [0]: last day on which the first visit keeps the risk, -1 where today is too late; [p + 1]: the same after a fill on day p. */
  readonly latestDay: readonly number[];
  /** [p + 1][d]: litres expected to go in on day d after a fill on day p ([0]: after none). */
  readonly litres: readonly (readonly number[])[];
}

/**
 * Deadlines and litres of one pot over the horizon.
 * @param visitInDays days from now until a visit on each day of the horizon, rising by about one
 * @param useFactors expected use of each day as a multiple of `litresPerDay`; the last goes on
 * @param risk accepted chance (0-1) that the pot is dry before its visit
 */
export function visitDeadlines(
  pot: PotWater,
  visitInDays: readonly number[],
  useFactors: readonly number[],
  risk: number,
): VisitDeadlines {
  const latestDay = latestDays(pot, visitInDays, useFactors, risk);
  return { latestDay, litres: expectedLitres(pot, visitInDays.length, useFactors) };
}

/** [0]: last day on which the first visit keeps the risk, -1 where today is too late; [p + 1]: the same after a fill on day p. */
export function latestDays(
  pot: PotWater,
  visitInDays: readonly number[],
  useFactors: readonly number[],
  risk: number,
): number[] {
  const count = visitInDays.length;
  const factor = (day: number) => useFactors[Math.min(day, useFactors.length - 1)] ?? 1;
  const inDays = (day: number) => (day < count ? visitInDays[day]! : visitInDays[count - 1]! + day - count + 1);
  const lasts = daysToRisk(pot.dryTime, risk);
  let first = -1;
  while (first < FORECAST_HORIZON_DAYS && inDays(first + 1) <= lasts) first++;
  const latestDay = [first];
  // At the accepted risk the pot draws this much more than expected.
  const thirsty = pot.litresPerDay * Math.exp(normalQuantile(1 - risk) * pot.rateSpread);
  for (let p = 0; p < count; p++) {
    let left = pot.drawableLitres;
    let day = p;
    while (day < p + FORECAST_HORIZON_DAYS && left - thirsty * factor(day) >= 0) {
      left -= thirsty * factor(day);
      day++;
    }
    latestDay.push(day);
  }
  return latestDay;
}

function expectedLitres(pot: PotWater, count: number, useFactors: readonly number[]): number[][] {
  const factor = (day: number) => useFactors[Math.min(day, useFactors.length - 1)] ?? 1;
  const litres = [];
  for (let p = -1; p < count; p++) {
    const row: number[] = [];
    let room = p < 0 ? pot.roomLitres : 0;
    const most = p < 0 ? Math.max(pot.roomLitres, pot.drawableLitres) : pot.drawableLitres;
    for (let d = 0; d < count; d++) {
      if (d > Math.max(p, 0)) room = Math.min(most, room + pot.litresPerDay * factor(d - 1));
      row.push(d > p ? room : 0);
    }
    litres.push(row);
  }
  return litres;
}

/** The deadlines of a site: that of its first pot to run dry. */
export function siteLatestDay(pots: readonly VisitDeadlines[], dayCount: number): readonly number[] {
  const never = FORECAST_HORIZON_DAYS + dayCount;
  return Array.from({ length: dayCount + 1 }, (_, k) =>
    pots.reduce((least, pot) => Math.min(least, pot.latestDay[k]!), never),
  );
}

/**
 * Deadlines of pots that stand together: the chance that any of them is dry before the visit stays under the risk, where
 * heat strikes all of them at once. Begins from the deadlines that each of them keeps alone and goes back from there.
 * @param alone [0]: before any visit; [p + 1]: after a fill on day p
 */
export function sharedLatestDay(
  pots: readonly PotWater[],
  visitInDays: readonly number[],
  useFactors: readonly number[],
  risk: number,
  alone: readonly number[],
): readonly number[] {
  if (pots.length < 2) return alone;
  const count = visitInDays.length;
  const factor = (day: number) => useFactors[Math.min(day, useFactors.length - 1)] ?? 1;
  const inDays = (day: number) => (day < count ? visitInDays[day]! : visitInDays[count - 1]! + day - count + 1);
  const times = pots.map((pot) => pot.dryTime);
  // The chance rises with the days of use: what was worked out for one fill often answers for the next.
  let keeps = 0;
  let breaks = Number.POSITIVE_INFINITY;
  const tooMuch = (useDays: number): boolean => {
    if (useDays <= keeps) return false;
    if (useDays >= breaks) return true;
    const over = chanceAnyAfterFill(pots, useDays) > risk;
    if (over) breaks = useDays;
    else keeps = useDays;
    return over;
  };
  return alone.map((last, k) => {
    let day = last;
    if (k === 0) {
      while (day >= 0 && areaRisk(times, inDays(day)).chanceAny > risk) day--;
      return day;
    }
    const p = k - 1;
    let used = 0;
    for (let d = p; d < day; d++) used += factor(d);
    while (day > p && tooMuch(used)) {
      day--;
      used -= factor(day);
    }
    return day;
  });
}

/** Chance that any of some full pots is dry when each has drawn `useDays` days of its use. */
function chanceAnyAfterFill(pots: readonly PotWater[], useDays: number): number {
  let chanceNone = 0;
  const shared = Math.sqrt(SHARED_WEATHER_SHARE);
  const own = Math.sqrt(1 - SHARED_WEATHER_SHARE);
  for (const { factor, weight } of WEATHER_SCENARIOS) {
    let none = 1;
    for (const { litresPerDay, drawableLitres, rateSpread } of pots) {
      const use = litresPerDay * useDays;
      if (use <= 0) continue;
      const z =
        drawableLitres <= 0
          ? Number.POSITIVE_INFINITY
          : Math.log(use / drawableLitres) / Math.max(rateSpread, LEAST_SPREAD);
      none *= 1 - (z === Number.POSITIVE_INFINITY ? 1 : normalCdf((z + shared * factor) / own));
    }
    chanceNone += weight * none;
  }
  return 1 - chanceNone;
}
