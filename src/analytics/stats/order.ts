/** Order statistics of plain lists. None of them changes its argument. */

/** Middle value, or the mean of the two in the middle; null for an empty list. O(n log n). */
export function median(values: readonly number[]): number | null {
  const n = values.length;
  if (n === 0) return null;
  const sorted = Float64Array.from(values).sort();
  const middle = n >> 1;
  return n % 2 === 1 ? sorted[middle]! : (sorted[middle - 1]! + sorted[middle]!) / 2;
}

/**
 * Quantile by linear interpolation between order statistics at (n-1)p (type 7 of Hyndman and Fan 1996, The American
 * Statistician 50:361-365); null for an empty list.
 */
export function quantile(values: readonly number[], probability: number): number | null {
  const n = values.length;
  if (n === 0) return null;
  const sorted = Float64Array.from(values).sort();
  const at = (n - 1) * Math.min(1, Math.max(0, probability));
  const below = Math.floor(at);
  const above = Math.min(n - 1, below + 1);
  return sorted[below]! + (at - below) * (sorted[above]! - sorted[below]!);
}

/** Median distance from the median; null for an empty list. Times 1.4826 it estimates a normal sd. */
export function medianAbsoluteDeviation(values: readonly number[]): number | null {
  const middle = median(values);
  if (middle === null) return null;
  return median(values.map((value) => Math.abs(value - middle)));
}

/**
 * Takes a running median one step further: it moves by a fixed proportion towards the side of the new value, so it
 * settles where half of the values lie on each side. O(1) time and memory; for scales, which are positive.
 * @param gain proportion of a step, for instance 0.02: about 1/gain values of memory
 */
export function stepRunningMedian(current: number, value: number, gain: number): number {
  if (value === current) return current;
  return current * Math.exp(value > current ? gain : -gain);
}

/** The same for any quantile: up by gain p, down by gain (1 - p). */
export function stepRunningQuantile(current: number, value: number, probability: number, gain: number): number {
  if (value === current) return current;
  return current * Math.exp(value > current ? gain * probability : -gain * (1 - probability));
}
