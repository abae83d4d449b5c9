/**
 * Two-sided tabular CUSUM (E. S. Page 1954, Biometrika 41:100-115): sums of deviations from the target beyond a slack,
 * each reset at 0. Finds small lasting shifts that no single value shows. O(1) a value.
 */
export interface Cusum {
  readonly high: number;
  readonly low: number;
}

export const NO_CUSUM: Cusum = { high: 0, low: 0 };

/**
 * @param slack half of the shift to be found, in the unit of the values
 */
export function stepCusum(cusum: Cusum, value: number, target: number, slack: number): Cusum {
  return {
    high: Math.max(0, cusum.high + value - (target + slack)),
    low: Math.max(0, cusum.low + target - slack - value),
  };
}

/** Exponentially weighted moving average (S. W. Roberts 1959, Technometrics 1:239-250). */
export function stepEwma(average: number, value: number, weight: number): number {
  return weight * value + (1 - weight) * average;
}

/** Distance of the control limits from the target once the average has settled. */
export function ewmaLimit(sd: number, weight: number, widthInSd = 3): number {
  return widthInSd * sd * Math.sqrt(weight / (2 - weight));
}
