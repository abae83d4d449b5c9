import type { PotContext } from '../domain/analysis.js';
import { et0OfDay } from '../domain/day-et0.js';
import { degreesToRadians, extraterrestrialMjPerM2 } from '../domain/formulas/radiation.js';
import type { WeatherDay } from '../domain/weather.js';
import { shorten } from './block.js';
import { dayNumberOf, dayOfYearOf } from './marks.js';

/** The part of a pot's context that its weather depends on. */
export type SiteContext = Pick<PotContext, 'site'>;

/** Observed days that the fold still needs, oldest first, and what they say about the season. */
export interface WeatherMemory {
  /** [day number, ET0 mm, rain mm or null] */
  readonly days: readonly (readonly [number, number, number | null])[];
  /** Mean and variance of ln(ET0 / clear-season ET0), exponentially forgetting; null before the first day. */
  readonly logRatio: number | null;
  readonly logRatioVariance: number;
  readonly observedDays: number;
  /** Share of days with more than 1 mm of rain, and the mean of those, forgetting likewise. */
  readonly rainShare: number;
  readonly rainMeanMm: number;
}

const KEPT_DAYS = 20;
/** A memory of about a month: long enough to average fronts, short enough to follow the season. */
const FORGETTING = 1 / 30;
const PRIOR_LOG_RATIO_VARIANCE = 0.09;

export const NO_WEATHER: WeatherMemory = {
  days: [],
  logRatio: null,
  logRatioVariance: PRIOR_LOG_RATIO_VARIANCE,
  observedDays: 0,
  rainShare: 0.2,
  rainMeanMm: 6,
};

/** A rainy day wets more than the leaves from here on. */
export const RAINY_DAY_MM = 1;

/**
 * Evaporative demand of a day from latitude and season alone: 0.35 of the sun's energy above the atmosphere, as
 * millimetres. The true share differs by climate, which the pot's own coefficient absorbs.
 */
export function seasonEt0Mm(latitudeDeg: number, dayNumber: number): number {
  const ra = extraterrestrialMjPerM2(degreesToRadians(latitudeDeg), dayOfYearOf(dayNumber));
  return Math.max(0.35 * 0.408 * ra, 0.3);
}

/** {@link et0OfDay}, never under 0.2 mm: a day without any demand would divide by nothing. */
export function demandOfDay(ctx: SiteContext, day: WeatherDay): number | null {
  const found = et0OfDay(ctx.site, day);
  return found === null ? null : Math.max(found.et0Mm, 0.2);
}

export function rememberWeather(ctx: SiteContext, memory: WeatherMemory, day: WeatherDay): WeatherMemory {
  const dayNumber = dayNumberOf(day.day);
  const et0Mm = demandOfDay(ctx, day);
  const known = memory.days.find((entry) => entry[0] === dayNumber);
  if (et0Mm === null && day.rainMm === null) return memory;
  const others = memory.days.filter((entry) => entry[0] !== dayNumber && entry[0] > dayNumber - KEPT_DAYS);
  const value = et0Mm ?? known?.[1] ?? climateEt0Mm(ctx, memory, dayNumber);
  const days = [...others, [dayNumber, shorten(value), day.rainMm ?? known?.[2] ?? null] as const];
  days.sort((a, b) => a[0] - b[0]);
  if (known !== undefined) return { ...memory, days };
  let { logRatio, logRatioVariance, observedDays, rainShare, rainMeanMm } = memory;
  if (et0Mm !== null) {
    observedDays++;
    const ratio = Math.log(et0Mm / seasonEt0Mm(ctx.site.latitude, dayNumber));
    const weight = Math.max(FORGETTING, 1 / (observedDays + 1));
    const deviation = ratio - (logRatio ?? ratio);
    logRatio = (logRatio ?? ratio) + weight * deviation;
    logRatioVariance = (1 - FORGETTING) * (logRatioVariance + FORGETTING * deviation ** 2);
  }
  if (day.rainMm !== null) {
    const rainy = day.rainMm > RAINY_DAY_MM;
    rainShare += FORGETTING * ((rainy ? 1 : 0) - rainShare);
    if (rainy) rainMeanMm += 0.1 * (day.rainMm - rainMeanMm);
  }
  return { days, logRatio, logRatioVariance, observedDays, rainShare, rainMeanMm };
}

/** What the season and the weather of the last weeks let one expect of a day. */
export function climateEt0Mm(ctx: SiteContext, memory: WeatherMemory, dayNumber: number): number {
  return seasonEt0Mm(ctx.site.latitude, dayNumber) * Math.exp(memory.logRatio ?? 0);
}

export interface DayDriver {
  readonly et0Mm: number;
  readonly source: 'weather' | 'latitude';
  readonly rainMm: number | null;
}

/** The observed day, or what stands in for it. */
export function driverOf(ctx: SiteContext, memory: WeatherMemory, dayNumber: number): DayDriver {
  const known = memory.days.find((entry) => entry[0] === dayNumber);
  if (known !== undefined) return { et0Mm: known[1], source: 'weather', rainMm: known[2] };
  return { et0Mm: climateEt0Mm(ctx, memory, dayNumber), source: 'latitude', rainMm: null };
}

/** So much rain of the day before may still come through the soil. */
const RAIN_LINGERS_MM = 3;

/**
 * Rain of the days from one to another, and what may linger of the day before them, mm; null while the rain of one of
 * these days is not known: a dry yesterday says nothing about a day that is not over.
 */
export function rainBetween(memory: WeatherMemory, firstDay: number, lastDay: number): number | null {
  let sumMm = 0;
  let known = 0;
  for (const [number, , rainMm] of memory.days) {
    if (rainMm === null) continue;
    if (number === firstDay - 1) sumMm += Math.max(0, rainMm - RAIN_LINGERS_MM);
    if (number >= firstDay && number <= lastDay) {
      sumMm += rainMm;
      known++;
    }
  }
  return known === lastDay - firstDay + 1 ? sumMm : null;
}
