import { median } from './order.js';
import type { TooFew } from './theil-sen.js';

/**
 * Repeated medians (A. F. Siegel 1982, Biometrika 69:242-244): the median over points of the median slope to all other
 * points; the intercept is the median of y - slope x. Half of the points may be anything. O(n² log n).
 */
export function siegel(
  x: readonly number[],
  y: readonly number[],
): { readonly kind: 'line'; readonly slope: number; readonly intercept: number } | TooFew {
  const n = x.length;
  const medians: number[] = [];
  for (let i = 0; i < n; i++) {
    const slopes: number[] = [];
    for (let j = 0; j < n; j++) {
      if (x[j] !== x[i]) slopes.push((y[j]! - y[i]!) / (x[j]! - x[i]!));
    }
    const own = median(slopes);
    if (own !== null) medians.push(own);
  }
  const slope = median(medians);
  if (slope === null) return { kind: 'insufficient', have: Math.min(n, 1), need: 2 };
  return { kind: 'line', slope, intercept: median(x.map((at, i) => y[i]! - slope * at))! };
}
