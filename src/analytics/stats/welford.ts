/**
 * Mean and variance in one pass (B. P. Welford 1962, Technometrics 4:419-420): no loss of digits where the mean is
 * large beside the spread, as with naive sums of squares.
 */
export interface Moments {
  readonly count: number;
  readonly mean: number;
  /** Sum of squared deviations from the mean. */
  readonly squares: number;
}

export const NO_MOMENTS: Moments = { count: 0, mean: 0, squares: 0 };

export function addValue(moments: Moments, value: number): Moments {
  const count = moments.count + 1;
  const fromOld = value - moments.mean;
  const mean = moments.mean + fromOld / count;
  return { count, mean, squares: moments.squares + fromOld * (value - mean) };
}

/** Joins two passes over separate values (T. F. Chan, G. H. Golub, R. J. LeVeque 1983, The American Statistician 37). */
export function joinMoments(a: Moments, b: Moments): Moments {
  if (a.count === 0) return b;
  if (b.count === 0) return a;
  const count = a.count + b.count;
  const apart = b.mean - a.mean;
  return {
    count,
    mean: a.mean + (apart * b.count) / count,
    squares: a.squares + b.squares + (apart * apart * a.count * b.count) / count,
  };
}

/** Sample variance (n - 1); null for fewer than two values. */
export function sampleVariance(moments: Moments): number | null {
  return moments.count < 2 ? null : moments.squares / (moments.count - 1);
}
