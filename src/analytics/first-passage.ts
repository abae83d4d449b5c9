import type { EpochMs } from '../domain/ids.js';

/** One stretch of the time to come, in which use is spread by the profile. */
export interface UseSegment {
  readonly startMs: EpochMs;
  readonly endMs: EpochMs;
  /** Part of a day's use that falls into the stretch, about 1 for a whole day. */
  readonly share: number;
  /** Median use of the whole day, litres, and the sd of its log given kappa. */
  readonly medianLitresPerDay: number;
  readonly logSd: number;
}

export interface PassageProblem {
  readonly segments: readonly UseSegment[];
  /** Litres to go. */
  readonly litres: number;
  readonly litresSd: number;
  /** Variance of kappa now, and its random walk per day. */
  readonly kappaVariance: number;
  readonly kappaWalk: number;
  /** Factor on the spread at a lead in days. */
  readonly spreadFactor: (leadDays: number) => number;
  /** Where in the segment the use reaches a part of the segment's whole. */
  readonly locate: (segment: UseSegment, part: number) => EpochMs;
}

/** Errors of consecutive days' weather correlate by about this. */
const DAY_CORRELATION = 0.45;
/** The walk of kappa seen over a lead is less than the filter's, which also has to follow real change. */
const WALK_SHARE = 0.6;

/**
 * When the cumulated use reaches the litres to go. Where nothing comes in, use only grows, so that the chance of being
 * empty by t is the chance that the use up to t exceeds the litres: no first-passage density is needed. The use is
 * taken as log-normal, with the days' errors correlated and the coefficient's error common to all. O(days) each.
 * @param probabilities increasing
 * @returns an instant for each probability, null beyond the last segment; never decreasing
 */
export function passageTimes(problem: PassageProblem, probabilities: readonly number[]): readonly (EpochMs | null)[] {
  const { segments, litres } = problem;
  const first = segments[0];
  if (first === undefined) return probabilities.map(() => null);
  if (litres <= 0) return probabilities.map(() => first.startMs);
  const curve = cumulateUse(problem);
  const target = Math.log(litres);
  let earliest: EpochMs = first.startMs;
  return probabilities.map((probability) => {
    const z = normalQuantile(probability);
    const found = cross(problem, curve, target, z);
    if (found === null) return null;
    earliest = Math.max(earliest, found);
    return earliest;
  });
}

interface Curve {
  /** Litres cumulated at each segment's end, and the sd of the log there. */
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
    const variance =
      problem.kappaVariance + walk + (sum > 0 ? quadratic / sum ** 2 : 0) + (problem.litresSd / problem.litres) ** 2;
    litres.push(sum);
    sd.push(Math.sqrt(variance));
  }
  return { litres, sd };
}

function cross(problem: PassageProblem, curve: Curve, target: number, z: number): EpochMs | null {
  const { segments } = problem;
  const origin = segments[0]!.startMs;
  let startLitres = 0;
  for (let i = 0; i < segments.length; i++) {
    const segment = segments[i]!;
    const endLitres = curve.litres[i]!;
    const leadDays = (segment.endMs - origin) / 86_400_000;
    const wanted = target + z * curve.sd[i]! * problem.spreadFactor(leadDays);
    if (Math.log(endLitres) >= wanted) {
      const needed = Math.exp(wanted);
      const part = endLitres > startLitres ? (needed - startLitres) / (endLitres - startLitres) : 0;
      return problem.locate(segment, Math.min(1, Math.max(0, part)));
    }
    startLitres = endLitres;
  }
  return null;
}

/** Inverse of the standard normal distribution for the few probabilities that are asked. */
function normalQuantile(probability: number): number {
  const known = Z.get(probability);
  if (known === undefined) throw new Error(`no normal quantile kept for ${probability}`);
  return known;
}

const Z = new Map<number, number>([
  [0.1, -1.2815515655446004],
  [0.5, 0],
  [0.9, 1.2815515655446004],
]);
