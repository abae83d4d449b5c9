import { median, medianAbsoluteDeviation } from './order.js';

/** 1/Phi^-1(0.75): a normal sample's MAD times this is its sd. */
export const MAD_TO_SD = 1.482602218505602;

export interface HampelVerdict {
  readonly median: number;
  /** Robust sd of the window, never below the floor. */
  readonly scale: number;
  readonly outlier: boolean;
}

/**
 * Hampel's identifier on a sliding window (F. R. Hampel 1974, JASA 69:383-393; Davies and Gather 1993, JASA
 * 88:782-792): a value is an outlier where it lies more than `threshold` robust sds from its window's median.
 * At the ends the window is cut short. Cost O(n k log k).
 * @param halfWidth values on each side
 * @param floor least scale, for instance the quantum over sqrt 12: on quantised or idle data the MAD is 0, and
 *   without a floor every other value would be an outlier
 */
export function hampel(
  values: readonly number[],
  halfWidth: number,
  threshold: number,
  floor: number,
): readonly HampelVerdict[] {
  return values.map((value, i) => {
    const window = values.slice(Math.max(0, i - halfWidth), i + halfWidth + 1);
    const middle = median(window)!;
    const scale = Math.max(floor, MAD_TO_SD * medianAbsoluteDeviation(window)!);
    return { median: middle, scale, outlier: Math.abs(value - middle) > threshold * scale };
  });
}
