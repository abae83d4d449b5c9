import { expect, it } from 'vitest';
import { normalCdf, normalQuantile } from '../../src/analytics/stats/normal.js';

/* Tables of the standard normal, e.g. M. Abramowitz, I. A. Stegun 1964, table 26.1; tails from SciPy 1.17.1 norm. */
it('has the tabulated areas', () => {
  expect(normalCdf(0)).toBe(0.5);
  expect(normalCdf(1)).toBeCloseTo(0.841344746068543, 14);
  expect(normalCdf(1.96)).toBeCloseTo(0.9750021048517795, 14);
  expect(normalCdf(-3)).toBeCloseTo(0.0013498980316301, 15);
  expect(normalCdf(-8) / 6.22096057427178e-16).toBeCloseTo(1, 12);
});

it('has the tabulated quantiles', () => {
  expect(normalQuantile(0.9)).toBeCloseTo(1.2815515655446004, 13);
  expect(normalQuantile(0.95)).toBeCloseTo(1.6448536269514722, 13);
  expect(normalQuantile(0.975)).toBeCloseTo(1.959963984540054, 13);
  expect(normalQuantile(1e-10)).toBeCloseTo(-6.361340902404056, 11);
});

it('refuses what is no probability', () => {
  expect(() => normalQuantile(1.2)).toThrow(RangeError);
  expect(() => normalQuantile(Number.NaN)).toThrow(RangeError);
});
