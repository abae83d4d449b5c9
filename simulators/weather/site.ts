import { STEPS_PER_HOUR } from '../calendar.js';
import { Draw } from '../rng.js';
import type { RegionWeather } from './region.js';

/** The weather at one site: the region's, moved by what differs from place to place. */
export interface SiteWeather {
  readonly region: RegionWeather;
  readonly tempC: Float32Array;
  readonly dewC: Float32Array;
  readonly wind2mMPerS: Float32Array;
  readonly solarMjPerM2: Float32Array;
  readonly rainMmPerStep: Float32Array;
}

/** Log spread of a site's rain about the region's: a front is even, a storm is not. Judgement, no source. */
const FRONT_RAIN_SPREAD = 0.12;
const STORM_RAIN_SPREAD = 0.3;
const STORM_MISSES = 0.06;

export function drawSiteWeather(region: RegionWeather, seed: string, siteId: string): SiteWeather {
  const { calendar, days } = region;
  const draw = new Draw(seed, 'site-weather', siteId);
  const offsetC = draw.normal(0, 0.5);
  const windFactor = draw.spread(0.15);
  const tempC = new Float32Array(region.tempC.length);
  const dewC = new Float32Array(region.tempC.length);
  const wind2mMPerS = new Float32Array(region.tempC.length);
  const solarMjPerM2 = new Float32Array(region.tempC.length);
  const rainMmPerStep = new Float32Array(region.rainMmPerStep.length);
  let hour = 0;
  for (let d = 0; d < days.length; d++) {
    const end = Math.round((calendar.dayStartMs[d + 1]! - calendar.startMs) / 3_600_000);
    const dayDraw = new Draw(seed, 'site-day', siteId, d);
    const sun = Math.max(0.6, 1 + dayDraw.normal(0, 0.04));
    const warm = offsetC + dayDraw.normal(0, 0.3);
    const spread = days[d]!.storm ? STORM_RAIN_SPREAD : FRONT_RAIN_SPREAD;
    const rain = days[d]!.storm && dayDraw.chance(STORM_MISSES) ? 0 : dayDraw.spread(spread);
    for (; hour < end; hour++) {
      tempC[hour] = region.tempC[hour]! + warm;
      dewC[hour] = Math.min(region.dewC[hour]!, tempC[hour]!);
      wind2mMPerS[hour] = region.wind2mMPerS[hour]! * windFactor;
      solarMjPerM2[hour] = region.solarMjPerM2[hour]! * sun;
      for (let q = hour * STEPS_PER_HOUR; q < (hour + 1) * STEPS_PER_HOUR; q++) {
        rainMmPerStep[q] = region.rainMmPerStep[q]! * rain;
      }
    }
  }
  return { region, tempC, dewC, wind2mMPerS, solarMjPerM2, rainMmPerStep };
}
