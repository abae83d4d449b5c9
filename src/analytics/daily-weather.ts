import type { EpochMs, LocalDay } from '../domain/ids.js';
import { HOUR_MS } from '../domain/local-day.js';
import type { WeatherDay, WeatherSample } from '../domain/weather.js';

/** A sample stands for the time up to the next one, but not for longer than this. */
const LONGEST_MS = 2 * HOUR_MS;
/** Share of the day that samples must cover before a mean or an extreme of it is believed. */
const LEAST_COVER = 0.75;
const MJ_PER_J = 1e-6;

/**
 * One site-local day from a station's samples: extremes of temperature, means weighted by time, the sun's energy and
 * the rain summed. What too few samples cover stays null, to be estimated where it is used; rain counts as it fell,
 * since a gap in the samples does not unfall it. Null where nothing at all is known.
 * @param samples of the site, by time; those outside the day are ignored
 */
export function dayFromSamples(
  siteId: string,
  day: LocalDay,
  startMs: EpochMs,
  endMs: EpochMs,
  samples: readonly WeatherSample[],
): WeatherDay | null {
  const inside = samples.filter((sample) => sample.timeMs >= startMs && sample.timeMs < endMs);
  const temperatures = covered(inside, endMs, (sample) => sample.temperatureC);
  const humidity = covered(inside, endMs, (sample) => sample.humidityFraction);
  const wind = covered(inside, endMs, (sample) => sample.windMPerS);
  const solar = covered(inside, endMs, (sample) => sample.solarWPerM2);
  const rains = inside.map((sample) => sample.rainMm).filter((rain) => rain !== null);
  const spanMs = endMs - startMs;
  const enough = (cover: Cover): boolean => cover.coveredMs >= LEAST_COVER * spanMs;
  const meanSolar = enough(solar) ? solar.sum / solar.coveredMs : null;
  const result: WeatherDay = {
    siteId,
    day,
    tminC: enough(temperatures) ? temperatures.least : null,
    tmaxC: enough(temperatures) ? temperatures.most : null,
    humidityFraction: enough(humidity) ? humidity.sum / humidity.coveredMs : null,
    windMPerS: enough(wind) ? wind.sum / wind.coveredMs : null,
    solarMjPerM2: meanSolar === null ? null : (Math.max(0, meanSolar) * spanMs * MJ_PER_J) / 1000,
    rainMm: rains.length === 0 ? null : rains.reduce((sum, rain) => sum + rain, 0),
    et0Mm: null,
    rainProbability: null,
    issuedMs: null,
  };
  const known = [result.tminC, result.humidityFraction, result.windMPerS, result.solarMjPerM2, result.rainMm];
  return known.every((value) => value === null) ? null : result;
}

interface Cover {
  readonly coveredMs: number;
  /** Value times the time it stands for. */
  readonly sum: number;
  readonly least: number;
  readonly most: number;
}

function covered(
  samples: readonly WeatherSample[],
  endMs: EpochMs,
  of: (sample: WeatherSample) => number | null,
): Cover {
  let coveredMs = 0;
  let sum = 0;
  let least = Number.POSITIVE_INFINITY;
  let most = Number.NEGATIVE_INFINITY;
  for (const [i, sample] of samples.entries()) {
    const value = of(sample);
    if (value === null) continue;
    const nextMs = Math.min(samples[i + 1]?.timeMs ?? endMs, endMs);
    const standsMs = Math.min(nextMs - sample.timeMs, LONGEST_MS);
    coveredMs += standsMs;
    sum += value * standsMs;
    least = Math.min(least, value);
    most = Math.max(most, value);
  }
  return { coveredMs, sum, least, most };
}
