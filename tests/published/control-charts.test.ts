import { describe, expect, it } from 'vitest';
import { ewmaLimit, NO_CUSUM, stepCusum, stepEwma } from '../../src/analytics/stats/control-charts.js';

describe('D. C. Montgomery, G. C. Runger, Applied Statistics and Probability for Engineers, example 16-6, table 16-8', () => {
  const data = [
    102.0, 94.8, 98.3, 98.4, 102.0, 98.5, 99.0, 97.7, 100.0, 98.1, 101.3, 98.7, 101.1, 98.4, 97.0, 96.7, 100.3, 101.4,
    97.2, 101.0,
  ];
  const high = [2, 0, 0, 0, 2, 0.5, 0, 0, 0, 0, 1.3, 0, 1.1, 0, 0, 0, 0.3, 1.7, 0, 1.0];
  const low = [0, 3.2, 2.9, 2.5, 0, 0, 0, 0.3, 0, 0, 0, 0, 0, 0, 1.0, 2.3, 0, 0, 0.8, 0];

  it('follows both columns and never reaches the decision interval of 10', () => {
    let cusum = NO_CUSUM;
    for (const [i, value] of data.entries()) {
      cusum = stepCusum(cusum, value, 99, 1);
      expect(cusum.high).toBeCloseTo(high[i]!, 9);
      expect(cusum.low).toBeCloseTo(low[i]!, 9);
      expect(Math.max(cusum.high, cusum.low)).toBeLessThan(10);
    }
  });
});

/* NIST/SEMATECH e-Handbook of Statistical Methods (data quoted from memory, sums recomputed). */
describe('e-Handbook 6.3.2.3, CUSUM', () => {
  const data = [
    324.925, 324.675, 324.725, 324.35, 325.35, 325.225, 324.125, 324.525, 325.225, 324.6, 324.625, 325.15, 328.325,
    327.25, 327.825, 328.5, 326.675, 327.775, 326.875, 328.35,
  ];

  it('crosses 4.1959 first at the fourteenth group', () => {
    let cusum = NO_CUSUM;
    const sums = data.map((value) => {
      cusum = stepCusum(cusum, value, 325, 0.3175);
      return cusum.high;
    });
    expect(sums.findIndex((sum) => sum > 4.1959)).toBe(13);
    expect(sums[12]).toBeCloseTo(3.0075, 9);
    expect(sums[13]).toBeCloseTo(4.94, 9);
    expect(sums[19]).toBeCloseTo(19.035, 9);
  });
});

describe('e-Handbook 6.3.2.4, EWMA', () => {
  const data = [
    52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6,
    52.1,
  ];
  const averages = [
    50.6, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36, 49.52, 50.05, 49.38, 49.92,
    50.73, 51.23, 51.94, 51.99,
  ];

  it('follows the averages, printed to two decimals', () => {
    let average = 50;
    for (const [i, value] of data.entries()) {
      average = stepEwma(average, value, 0.3);
      expect(Math.abs(average - averages[i]!)).toBeLessThanOrEqual(0.0051);
    }
  });

  it('has the limits 47.4116 and 52.5884', () => {
    expect(50 + ewmaLimit(2.0539, 0.3)).toBeCloseTo(52.5884, 3);
    expect(50 - ewmaLimit(2.0539, 0.3)).toBeCloseTo(47.4116, 3);
  });
});
