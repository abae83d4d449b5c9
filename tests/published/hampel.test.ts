import { expect, it } from 'vitest';
import { hampel, MAD_TO_SD } from '../../src/analytics/stats/hampel.js';
import { normalQuantile } from '../../src/analytics/stats/normal.js';

/*
 * F. R. Hampel 1974, JASA 69:383-393; L. Davies, U. Gather 1993, JASA 88:782-792: |x - median| > t * 1.4826 MAD.
 * The series is a worked check by the same rule: window of seven, t = 3.
 */
const series = [10.1, 10.0, 10.2, 9.9, 10.0, 14.0, 10.1, 9.8, 10.0, 10.2, 10.1];

it('uses the consistency factor of the normal distribution', () => {
  expect(MAD_TO_SD).toBeCloseTo(1 / normalQuantile(0.75), 14);
});

it('marks 14.0 and no other interior value', () => {
  const verdicts = hampel(series, 3, 3, 0);
  expect(verdicts[5]!.median).toBe(10);
  expect(verdicts[5]!.scale).toBeCloseTo(0.14826, 5);
  expect(verdicts.slice(3, 8).map((verdict) => verdict.outlier)).toEqual([false, false, true, false, false]);
});

it('marks nothing on an idle, quantised series with a floor, where a bare MAD of 0 would mark every step', () => {
  const idle = [40, 40, 40, 40, 39, 40, 40, 40, 40];
  expect(hampel(idle, 3, 3, 0).some((verdict) => verdict.outlier)).toBe(true);
  expect(hampel(idle, 3, 3.5, 0.5).some((verdict) => verdict.outlier)).toBe(false);
});
