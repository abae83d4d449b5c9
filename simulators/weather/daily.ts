import { saturationVapourPressureKPa } from '../../src/domain/formulas/vapour-pressure.js';
import { type Calendar, HOUR_MS, STEPS_PER_HOUR } from '../calendar.js';
import { Draw } from '../rng.js';
import type { SiteWeather } from './site.js';

/** A day as a weather service or a station gives it. */
export interface DayOfWeather {
  readonly tminC: number;
  readonly tmaxC: number;
  readonly humidityPct: number;
  readonly windMPerS: number;
  readonly solarMj: number;
  readonly rainMm: number;
}

type HourlyWeather = Pick<SiteWeather, 'tempC' | 'dewC' | 'wind2mMPerS' | 'solarMjPerM2' | 'rainMmPerStep'>;

/** The day's true extremes, means and sums from the hours. */
export function summariseDay(weather: HourlyWeather, calendar: Calendar, dayIndex: number): DayOfWeather {
  const from = Math.round((calendar.dayStartMs[dayIndex]! - calendar.startMs) / HOUR_MS);
  const to = Math.round((calendar.dayStartMs[dayIndex + 1]! - calendar.startMs) / HOUR_MS);
  let tminC = Infinity;
  let tmaxC = -Infinity;
  let humidity = 0;
  let wind = 0;
  let solarMj = 0;
  let rainMm = 0;
  for (let h = from; h < to; h++) {
    const t = weather.tempC[h]!;
    tminC = Math.min(tminC, t);
    tmaxC = Math.max(tmaxC, t);
    humidity += Math.min(1, saturationVapourPressureKPa(weather.dewC[h]!) / saturationVapourPressureKPa(t));
    wind += weather.wind2mMPerS[h]!;
    solarMj += weather.solarMjPerM2[h]!;
    for (let q = h * STEPS_PER_HOUR; q < (h + 1) * STEPS_PER_HOUR; q++) rainMm += weather.rainMmPerStep[q]!;
  }
  const hours = to - from;
  return { tminC, tmaxC, humidityPct: (100 * humidity) / hours, windMPerS: wind / hours, solarMj, rainMm };
}

/**
 * What the product is told of the days at a site. Half of it is the site, half the nearest station of the region, each
 * with its instruments' errors, so that it is near the site's truth but never equal to it.
 */
export function observeDays(
  site: SiteWeather,
  calendar: Calendar,
  seed: string,
  siteId: string,
  ownStation: boolean,
): DayOfWeather[] {
  const draw = new Draw(seed, 'observation', siteId);
  const solarBias = 1 + draw.normal(0, 0.03);
  const windBias = draw.spread(0.12);
  const observed: DayOfWeather[] = [];
  for (let d = 0; d < calendar.days.length; d++) {
    const here = summariseDay(site, calendar, d);
    const there = summariseDay(site.region, calendar, d);
    const near = ownStation ? 1 : 0.5;
    const mix = (a: number, b: number): number => near * a + (1 - near) * b;
    const dayDraw = new Draw(seed, 'observed-day', siteId, d);
    observed.push({
      tminC: mix(here.tminC, there.tminC) + dayDraw.normal(0, 0.25),
      tmaxC: mix(here.tmaxC, there.tmaxC) + dayDraw.normal(0, 0.35),
      humidityPct: Math.min(100, Math.max(5, mix(here.humidityPct, there.humidityPct) + dayDraw.normal(0, 2.5))),
      windMPerS: Math.max(0.1, mix(here.windMPerS, there.windMPerS) * windBias * dayDraw.spread(0.08)),
      solarMj: Math.max(0.2, mix(here.solarMj, there.solarMj) * solarBias * (1 + dayDraw.normal(0, 0.03))),
      rainMm: Math.max(0, mix(here.rainMm, there.rainMm) * dayDraw.spread(0.05)),
    });
  }
  return observed;
}
