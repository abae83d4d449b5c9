import { describe, expect, it } from 'vitest';
import { siegel } from '../../src/analytics/stats/siegel.js';
import { theilSen } from '../../src/analytics/stats/theil-sen.js';

/*
 * P. K. Sen 1968, Journal of the American Statistical Association 63:1379-1389, the worked example (values as in SciPy's
 * stats/tests/test_mstats_basic.py): slope 4, 93 % interval 3.71 to 4.38, printed to two decimals.
 */
const x = [1, 2, 3, 4, 10, 12, 18];
const y = [9, 15, 19, 20, 45, 55, 78];

describe('Sen’s example', () => {
  it('has slope 4, intercept 4 and the 93 % limits 3.71 and 4.38', () => {
    const line = theilSen(x, y, 0.93);
    if (line.kind !== 'line') throw new Error('no line');
    expect(line.slope).toBe(4);
    expect(line.intercept).toBe(4);
    expect(Math.abs(line.slopeLow - 3.71)).toBeLessThanOrEqual(0.005);
    expect(Math.abs(line.slopeHigh - 4.38)).toBeLessThanOrEqual(0.0051);
  });

  // Computed with SciPy 1.17.1, siegelslopes(y, x, method='hierarchical').
  it('has the repeated-median line 3.998162, 6.033088', () => {
    const line = siegel(x, y);
    if (line.kind !== 'line') throw new Error('no line');
    expect(line.slope).toBeCloseTo(3.998162, 6);
    // SciPy's hierarchical intercept is the median of y - slope x, as here.
    expect(line.intercept).toBeCloseTo(6.033088, 5);
  });
});

it('keeps Siegel’s line with four of ten points spoilt', () => {
  // SciPy's stats/tests: y = 5x - 3 with the first four values set to 1000.
  const xs = Array.from({ length: 10 }, (_, i) => i);
  const ys = xs.map((at, i) => (i < 4 ? 1000 : 5 * at - 3));
  const line = siegel(xs, ys);
  if (line.kind !== 'line') throw new Error('no line');
  expect(line.slope).toBeCloseTo(5, 12);
  expect(line.intercept).toBeCloseTo(-3, 12);
});

it('says what it lacks where there are no two different abscissae', () => {
  expect(theilSen([1], [2])).toEqual({ kind: 'insufficient', have: 1, need: 2 });
  expect(theilSen([3, 3, 3], [1, 2, 3])).toEqual({ kind: 'insufficient', have: 1, need: 2 });
  expect(siegel([], [])).toEqual({ kind: 'insufficient', have: 0, need: 2 });
});
