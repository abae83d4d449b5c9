import { z } from 'zod';
import { windAt2mMPerS } from '../domain/formulas/fao56.js';
import { degreesToRadians, extraterrestrialMjPerM2 } from '../domain/formulas/radiation.js';
import type { EpochMs, LocalDay } from '../domain/ids.js';
import { dayOfYear, HOUR_MS, LocalDays } from '../domain/local-day.js';
import type { Site } from '../domain/registry.js';
import type { WeatherDay } from '../domain/weather.js';

/**
 * The gridpoint forecast of the US National Weather Service (api.weather.gov, documented as an open JSON interface):
 * each quantity is a series of values that hold for an ISO 8601 interval, `2026-08-31T06:00:00+00:00/PT3H`.
 */
const series = z.object({
  uom: z.string().optional(),
  values: z.array(z.object({ validTime: z.string(), value: z.number().nullable() })),
});

const gridpoint = z.object({
  properties: z.object({
    updateTime: z.string(),
    temperature: series.optional(),
    maxTemperature: series.optional(),
    minTemperature: series.optional(),
    relativeHumidity: series.optional(),
    windSpeed: series.optional(),
    skyCover: series.optional(),
    probabilityOfPrecipitation: series.optional(),
    quantitativePrecipitation: series.optional(),
  }),
});

type Series = z.infer<typeof series>;

export interface Interval {
  readonly fromMs: EpochMs;
  readonly toMs: EpochMs;
  readonly value: number;
}

/** Wind is stated for 10 m above ground. */
const WIND_HEIGHT_M = 10;
const LEAST_COVER = 0.7;

/**
 * The whole site-local days of a gridpoint answer, as a forecast issued when the service updated it.
 * @throws z.ZodError for an answer of another form
 */
export function daysFromGridpoint(answer: unknown, site: Site): readonly WeatherDay[] {
  const { properties } = gridpoint.parse(answer);
  const issuedMs = Date.parse(properties.updateTime);
  const days = new LocalDays(site.timeZone);
  const temperature = intervals(properties.temperature, toCelsius);
  const hottest = intervals(properties.maxTemperature, toCelsius);
  const coldest = intervals(properties.minTemperature, toCelsius);
  const humidity = intervals(properties.relativeHumidity, percent);
  const wind = intervals(properties.windSpeed, toMetresPerSecond);
  const sky = intervals(properties.skyCover, percent);
  const chance = intervals(properties.probabilityOfPrecipitation, percent);
  const rain = intervals(properties.quantitativePrecipitation, toMillimetres);
  const named = new Set<LocalDay>(temperature.map((interval) => days.dayOf(interval.fromMs)));
  const result: WeatherDay[] = [];
  for (const day of [...named].sort()) {
    const fromMs = days.startMs(day);
    const toMs = days.endMs(day);
    const air = within(temperature, fromMs, toMs);
    if (air.coveredMs < LEAST_COVER * (toMs - fromMs)) continue;
    const highs = within(hottest, fromMs, toMs);
    const lows = within(coldest, fromMs, toMs);
    const windMean = meanOf(within(wind, fromMs, toMs));
    const cloud = meanOf(within(sky, fromMs, toMs));
    const rains = within(rain, fromMs, toMs);
    const chances = within(chance, fromMs, toMs);
    result.push({
      siteId: site.id,
      day,
      tminC: Math.min(air.least, lows.least),
      tmaxC: Math.max(air.most, highs.most),
      humidityFraction: meanOf(within(humidity, fromMs, toMs)),
      windMPerS: windMean === null ? null : windAt2mMPerS(windMean, WIND_HEIGHT_M),
      solarMjPerM2: cloud === null ? null : solarUnder(cloud, site.latitude, day),
      rainMm: rains.coveredMs === 0 ? null : Math.round(rains.amount * 100) / 100,
      et0Mm: null,
      rainProbability: chances.coveredMs === 0 ? null : chances.most,
      issuedMs,
    });
  }
  return result;
}

/** Angstrom's formula with the clear part of the sky for the hours of sunshine (FAO-56, equation 35). */
function solarUnder(cloudFraction: number, latitudeDeg: number, day: LocalDay): number {
  return (0.25 + 0.5 * (1 - cloudFraction)) * extraterrestrialMjPerM2(degreesToRadians(latitudeDeg), dayOfYear(day));
}

function intervals(given: Series | undefined, convert: (value: number, unit: string) => number): readonly Interval[] {
  const unit = given?.uom ?? '';
  return (given?.values ?? []).flatMap(({ validTime, value }): Interval[] => {
    const span = parseValidTime(validTime);
    return span === null || value === null ? [] : [{ ...span, value: convert(value, unit) }];
  });
}

/** `start/duration` as epoch milliseconds; null for what is neither. */
export function parseValidTime(text: string): { readonly fromMs: EpochMs; readonly toMs: EpochMs } | null {
  const [start = '', duration = ''] = text.split('/');
  const match = /^P(?:(\d+)D)?(?:T(?:(\d+)H)?(?:(\d+)M)?)?$/.exec(duration);
  const fromMs = Date.parse(start);
  if (match === null || Number.isNaN(fromMs)) return null;
  const [, dayPart, hourPart, minutePart] = match;
  const hours = Number(dayPart ?? 0) * 24 + Number(hourPart ?? 0) + Number(minutePart ?? 0) / 60;
  return hours > 0 ? { fromMs, toMs: fromMs + hours * HOUR_MS } : null;
}

interface Part {
  readonly coveredMs: number;
  readonly weighted: number;
  /** Sum of the values by the share of their interval that lies inside: for amounts. */
  readonly amount: number;
  readonly least: number;
  readonly most: number;
}

function within(all: readonly Interval[], fromMs: EpochMs, toMs: EpochMs): Part {
  let coveredMs = 0;
  let weighted = 0;
  let amount = 0;
  let least = Number.POSITIVE_INFINITY;
  let most = Number.NEGATIVE_INFINITY;
  for (const interval of all) {
    const overlap = Math.min(interval.toMs, toMs) - Math.max(interval.fromMs, fromMs);
    if (overlap <= 0) continue;
    coveredMs += overlap;
    weighted += interval.value * overlap;
    amount += (interval.value * overlap) / (interval.toMs - interval.fromMs);
    least = Math.min(least, interval.value);
    most = Math.max(most, interval.value);
  }
  return { coveredMs, weighted, amount, least, most };
}

function meanOf(part: Part): number | null {
  return part.coveredMs === 0 ? null : part.weighted / part.coveredMs;
}

function toCelsius(value: number, unit: string): number {
  return unit.endsWith('degF') ? ((value - 32) * 5) / 9 : value;
}

function toMetresPerSecond(value: number, unit: string): number {
  return unit.endsWith('m_s-1') && !unit.endsWith('km_h-1') ? value : value / 3.6;
}

function toMillimetres(value: number, unit: string): number {
  return unit.endsWith(':m') ? value * 1000 : value;
}

function percent(value: number): number {
  return value / 100;
}
