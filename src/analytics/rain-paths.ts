import type { EpochMs } from '../domain/ids.js';
import { DAY_CORRELATION, type PassageProblem, WALK_SHARE } from './first-passage.js';
import { BUCKET_LOSS, SOIL_SHARE, THROUGH_SHARE } from './soil.js';

export interface RainProblem extends PassageProblem {
  /** Rain water that the soil holds now, and how much it can hold before it lets water through. */
  readonly bucketLitres: number;
  readonly bucketMost: number;
  /** The reservoir takes no more than this above the wick foot. */
  readonly capacityLitres: number;
}

const PATHS = 200;
const DAYS = 62;
/** Sd of the log of a day's rain about its forecast. */
const RAIN_SD = 0.7;

interface Draws {
  readonly kappa: Float64Array;
  readonly walk: Float64Array;
  readonly level: Float64Array;
  readonly day: Float64Array;
  readonly rain: Float64Array;
  readonly amount: Float64Array;
}

/** The same draws for every pot and instant: forecasts then differ by what is known, not by luck. */
const DRAWS = makeDraws();

/**
 * When a pot that rain reaches runs dry: 10th, 50th and 90th percentile over antithetic paths in daily steps. Rain makes
 * the level rise and fall, so that no closed form holds. About 12,000 steps.
 */
export function rainPassageTimes(problem: RainProblem): readonly (EpochMs | null)[] {
  const { segments } = problem;
  const times: number[] = [];
  for (let path = 0; path < PATHS; path++) times.push(walkPath(problem, path));
  times.sort((a, b) => a - b);
  const beyond = segments[segments.length - 1]?.endMs ?? 0;
  return [0.1, 0.5, 0.9].map((probability) => {
    const at = probability * PATHS - 0.5;
    const low = times[Math.floor(at)]!;
    const high = times[Math.ceil(at)]!;
    if (!Number.isFinite(high) || high > beyond) return Number.isFinite(low) && low <= beyond ? Math.round(low) : null;
    return Math.round(low + (at - Math.floor(at)) * (high - low));
  });
}

function walkPath(problem: RainProblem, path: number): number {
  const { segments } = problem;
  const kappaSd = Math.sqrt(problem.kappaVariance);
  const stepSd = (WALK_SHARE * problem.kappaWalk) / Math.sqrt(3);
  let litres = problem.litres + problem.litresSd * DRAWS.level[path]!;
  let bucket = problem.bucketLitres;
  if (litres <= 0) return segments[0]!.startMs;
  for (let i = 0; i < segments.length; i++) {
    const segment = segments[i]!;
    const at = path * DAYS + i;
    const drift = kappaSd * DRAWS.kappa[path]! + stepSd * Math.sqrt(i) * DRAWS.walk[path]!;
    const use = segment.medianLitresPerDay * segment.share * Math.exp(drift + segment.logSd * DRAWS.day[at]!);
    if (DRAWS.rain[at]! < segment.rainChance)
      bucket += segment.rainLitres * Math.exp(RAIN_SD * DRAWS.amount[at]! - RAIN_SD ** 2 / 2);
    const fromSoil = Math.min(bucket, SOIL_SHARE * use);
    bucket = (bucket - fromSoil) * (1 - BUCKET_LOSS * Math.min(1, segment.share));
    const through = Math.max(0, bucket - problem.bucketMost);
    bucket -= through;
    const drawn = use - fromSoil;
    litres = Math.min(litres + THROUGH_SHARE * through, problem.capacityLitres);
    if (drawn >= litres) {
      // What the soil gave came first.
      const part = use > 0 ? (fromSoil + litres) / use : 0;
      return problem.locate(segment, Math.min(1, Math.max(0, part)));
    }
    litres -= drawn;
  }
  return Number.POSITIVE_INFINITY;
}

/** Normal draws in antithetic pairs, from a small fixed generator (mulberry32). */
function makeDraws(): Draws {
  let a = 0x5eed;
  const uniform = (): number => {
    a = (a + 0x6d2b79f5) >>> 0;
    let t = a;
    t = Math.imul(t ^ (t >>> 15), t | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
  const normal = (): number => Math.sqrt(-2 * Math.log(1 - uniform())) * Math.cos(2 * Math.PI * uniform());
  const perPath = (): Float64Array => {
    const values = new Float64Array(PATHS);
    for (let path = 0; path < PATHS; path += 2) {
      values[path] = normal();
      values[path + 1] = -values[path]!;
    }
    return values;
  };
  const perDay = (draw: () => number, mirror: (value: number) => number, carry: number): Float64Array => {
    const values = new Float64Array(PATHS * DAYS);
    const fresh = Math.sqrt(1 - carry ** 2);
    for (let path = 0; path < PATHS; path += 2) {
      let before = draw();
      for (let day = 0; day < DAYS; day++) {
        const value = day === 0 || carry === 0 ? draw() : carry * before + fresh * draw();
        before = value;
        values[path * DAYS + day] = value;
        values[(path + 1) * DAYS + day] = mirror(value);
      }
    }
    return values;
  };
  return {
    kappa: perPath(),
    walk: perPath(),
    level: perPath(),
    day: perDay(normal, (value) => -value, DAY_CORRELATION),
    rain: perDay(uniform, (value) => 1 - value, 0),
    amount: perDay(normal, (value) => -value, 0),
  };
}
