import type { EpochMs } from '../domain/ids.js';
import { DAY_MS } from '../domain/local-day.js';

/** One stretch of the time to come, in which use is spread by the profile. */
export interface UseSegment {
  readonly startMs: EpochMs;
  readonly endMs: EpochMs;
  /** Part of a day's use that falls into the stretch, about 1 for a whole day. */
  readonly share: number;
  /** Median use of the whole day, litres, and the sd of its log given kappa. */
  readonly medianLitresPerDay: number;
  readonly logSd: number;
  /** Rain to come that reaches the soil: chance of it, and litres if it comes. */
  readonly rainChance: number;
  readonly rainLitres: number;
}

export interface PassageProblem {
  readonly segments: readonly UseSegment[];
  /** Litres to go; may be negative. */
  readonly litres: number;
  readonly litresSd: number;
  /** Variance of kappa now, and its random walk per day. */
  readonly kappaVariance: number;
  readonly kappaWalk: number;
  /** Where in the segment the use reaches a part of the segment's whole. */
  readonly locate: (segment: UseSegment, part: number) => EpochMs;
}

/** Errors of consecutive days' weather correlate by about this. */
export const DAY_CORRELATION = 0.45;
/** Share of the filter's random walk that a forecast has to expect. */
export const WALK_SHARE = 1;
/** Nearer than this many sds to dry, the level's own error decides and is taken as normal, not as log-normal. */
const NEAR_SDS = 4;

/** z of 0.1, 0.5 and 0.9. */
export const Z_TENTH = 1.2815515655446004;
const QUANTILES = [-Z_TENTH, 0, Z_TENTH] as const;

/**
 * When the cumulated use reaches the litres to go: 10th, 50th and 90th percentile. Where nothing comes in, use only
 * grows, so that the chance of being empty by t is the chance that the use up to t exceeds the litres: no first-passage
 * density is needed. The use is taken as log-normal, with the days' errors correlated and the coefficient's error
 * common to all. O(days).
 * @returns null beyond the last segment; never decreasing
 */
export function passageTimes(problem: PassageProblem): readonly (EpochMs | null)[] {
  const first = problem.segments[0];
  if (first === undefined) return [null, null, null];
  const curve = cumulateUse(problem);
  let earliest: EpochMs = first.startMs;
  return QUANTILES.map((z) => {
    const found = cross(problem, curve, z);
    if (found === null) return null;
    earliest = Math.max(earliest, found);
    return earliest;
  });
}

interface Curve {
  /** Litres cumulated at each segment's end, and the sd of the log there, the level's error aside. */
  readonly litres: readonly number[];
  readonly sd: readonly number[];
}

function cumulateUse(problem: PassageProblem): Curve {
  const litres: number[] = [];
  const sd: number[] = [];
  let sum = 0;
  // Sum over i, j of w_i w_j sd_i sd_j r^|i-j|, kept up in O(1) a day by the two running sums.
  let quadratic = 0;
  let carried = 0;
  let days = 0;
  for (const segment of problem.segments) {
    const mean = segment.medianLitresPerDay * segment.share * Math.exp(segment.logSd ** 2 / 2);
    const weight = mean * segment.logSd;
    carried *= DAY_CORRELATION;
    quadratic += weight ** 2 + 2 * weight * carried;
    carried += weight;
    sum += mean;
    days += segment.share;
    const walk = ((WALK_SHARE * problem.kappaWalk) ** 2 * days) / 3;
    litres.push(sum);
    sd.push(Math.sqrt(problem.kappaVariance + walk + (sum > 0 ? quadratic / sum ** 2 : 0)));
  }
  return { litres, sd };
}

/** Use that is needed for the chance of being dry to reach the quantile, by the spread at a time. */
function needed(problem: PassageProblem, sd: number, z: number): number {
  const { litres, litresSd } = problem;
  if (litres > NEAR_SDS * litresSd) return litres * Math.exp(z * Math.hypot(sd, litresSd / litres));
  // P(C >= V) with both normal: C - V = z * sqrt((C sd)^2 + litresSd^2), solved for C by two steps of iteration.
  let use = Math.max(0, litres + z * litresSd);
  for (let i = 0; i < 3; i++) use = Math.max(0, litres + z * Math.hypot(use * sd, litresSd));
  return use;
}

function cross(problem: PassageProblem, curve: Curve, z: number): EpochMs | null {
  const { segments } = problem;
  let startLitres = 0;
  for (let i = 0; i < segments.length; i++) {
    const segment = segments[i]!;
    const endLitres = curve.litres[i]!;
    const wanted = needed(problem, curve.sd[i]!, z);
    if (endLitres >= wanted) {
      const part = endLitres > startLitres ? (wanted - startLitres) / (endLitres - startLitres) : 0;
      return problem.locate(segment, Math.min(1, Math.max(0, part)));
    }
    startLitres = endLitres;
  }
  return null;
}

/** Time by which a thirsty soil has emptied the reservoir, where it will take more than there is. */
export function drainedBySoilMs(usableLitres: number, debtLitres: number, useLitresPerDay: number): number {
  const share = Math.min(0.98, usableLitres / (debtLitres + 0.3 * useLitresPerDay));
  return (-4 * Math.log(1 - share) * DAY_MS) / 24;
}
