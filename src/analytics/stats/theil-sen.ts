import { normalQuantile } from './normal.js';
import { median } from './order.js';

export interface RobustLine {
  readonly kind: 'line';
  /** y-unit per x-unit. */
  readonly slope: number;
  /** Median of y less slope times median of x (W. J. Conover 1980). */
  readonly intercept: number;
  /** Confidence limits of the slope; the whole range of slopes where there are too few pairs for the level. */
  readonly slopeLow: number;
  readonly slopeHigh: number;
  readonly count: number;
}

export interface TooFew {
  readonly kind: 'insufficient';
  readonly have: number;
  readonly need: number;
}

/** With more points the pairs are taken between a fixed, evenly spread choice: 400 points make 79 800 slopes. */
const MOST_POINTS = 400;

/**
 * Slope as the median of the slopes between all pairs of points with different x, with Sen's confidence interval from
 * the distribution of Kendall's score (P. K. Sen 1968, Journal of the American Statistical Association 63:1379-1389).
 * Up to 29 % of the points may be anything. O(m²) in m = min(n, 400) points. Ties in y shorten the interval's
 * variance as Sen states it; serial correlation does not, so on readings of one day the interval is too narrow.
 * @param confidence two-sided, for instance 0.8
 */
export function theilSen(x: readonly number[], y: readonly number[], confidence = 0.8): RobustLine | TooFew {
  const points = thinned(x, y);
  const n = points.x.length;
  if (n < 2) return { kind: 'insufficient', have: n, need: 2 };
  const slopes = pairSlopes(points.x, points.y);
  if (slopes.length === 0) return { kind: 'insufficient', have: 1, need: 2 };
  const middle = slopes.length >> 1;
  const slope = slopes.length % 2 === 1 ? slopes[middle]! : (slopes[middle - 1]! + slopes[middle]!) / 2;
  const [low, high] = confidenceRanks(points.x, points.y, slopes.length, confidence);
  return {
    kind: 'line',
    slope,
    intercept: median(y)! - slope * median(x)!,
    slopeLow: slopes[low]!,
    slopeHigh: slopes[high]!,
    count: x.length,
  };
}

function thinned(x: readonly number[], y: readonly number[]): { x: readonly number[]; y: readonly number[] } {
  const n = x.length;
  if (n <= MOST_POINTS) return { x, y };
  const keptX: number[] = [];
  const keptY: number[] = [];
  for (let k = 0; k < MOST_POINTS; k++) {
    const i = Math.round((k * (n - 1)) / (MOST_POINTS - 1));
    keptX.push(x[i]!);
    keptY.push(y[i]!);
  }
  return { x: keptX, y: keptY };
}

function pairSlopes(x: readonly number[], y: readonly number[]): Float64Array {
  const n = x.length;
  const slopes = new Float64Array((n * (n - 1)) / 2);
  let count = 0;
  for (let i = 0; i < n; i++) {
    for (let j = i + 1; j < n; j++) {
      const run = x[j]! - x[i]!;
      if (run !== 0) slopes[count++] = (y[j]! - y[i]!) / run;
    }
  }
  return slopes.subarray(0, count).sort();
}

/** Sum over groups of equal values of k (k-1) (2k+5). */
function tieTerm(values: readonly number[]): number {
  const sorted = Float64Array.from(values).sort();
  let sum = 0;
  let run = 1;
  for (let i = 1; i <= sorted.length; i++) {
    if (i < sorted.length && sorted[i] === sorted[i - 1]) {
      run++;
      continue;
    }
    sum += run * (run - 1) * (2 * run + 5);
    run = 1;
  }
  return sum;
}

function confidenceRanks(
  x: readonly number[],
  y: readonly number[],
  pairs: number,
  confidence: number,
): readonly [number, number] {
  const n = x.length;
  const variance = (n * (n - 1) * (2 * n + 5) - tieTerm(x) - tieTerm(y)) / 18;
  const half = normalQuantile(0.5 + confidence / 2) * Math.sqrt(Math.max(0, variance));
  const low = Math.max(0, Math.round((pairs - half) / 2) - 1);
  const high = Math.min(pairs - 1, Math.round((pairs + half) / 2));
  return [Math.min(low, pairs - 1), Math.max(0, high)];
}
