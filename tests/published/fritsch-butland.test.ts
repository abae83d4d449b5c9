import { describe, expect, it } from 'vitest';
import { makePchip, pchipInverse, pchipValue } from '../../src/analytics/interpolation/pchip.js';

/*
 * F. N. Fritsch, J. Butland 1984, SIAM J. Sci. Stat. Comput. 5:300-304: derivatives by weighted harmonic means. Data of
 * the RPN and Akima problems; values at the steps of RPN as published in SciPy's tests (interpolate/tests/
 * test_polyint.py, test_nag); derivatives and further values from SciPy 1.17.1, PchipInterpolator(x, y).derivative().
 */
const rpnX = [7.99, 8.09, 8.19, 8.7, 9.2, 10, 12, 15, 20];
const rpnY = [0, 2.7643e-5, 4.375e-2, 0.16918, 0.46943, 0.94374, 0.99864, 0.99992, 0.99999];
/** The arithmetic is the same formula in another order; a dozen roundings. */
const ROUNDING = 1e-10;

describe('the RPN data', () => {
  const curve = makePchip(rpnX, rpnY);

  it('has the listed derivatives', () => {
    const listed = [
      0, 0.000552510680937602, 0.33587301646212686, 0.3494445539735843, 0.5969623905897069, 0.06032597053158318,
      0.0008983279074128138, 2.940516887734763e-5, 0,
    ];
    for (const [i, slope] of listed.entries()) expect(Math.abs(curve.slopes[i]! - slope)).toBeLessThan(ROUNDING);
  });

  it('takes the published values at eleven equal steps', () => {
    const published = [0, 0.464, 0.9645, 0.9965, 0.9992, 0.9998, 0.9999, 1, 1, 1, 1];
    for (const [i, value] of published.entries()) {
      // Printed to four digits.
      expect(Math.abs(pchipValue(curve, 7.99 + (i * (20 - 7.99)) / 10) - value)).toBeLessThanOrEqual(5.01e-5);
    }
    expect(pchipValue(curve, 9.191)).toBeCloseTo(0.46401626371, 10);
    expect(pchipValue(curve, 10.392)).toBeCloseTo(0.96447118345, 10);
    expect(pchipValue(curve, 11.593)).toBeCloseTo(0.99649246374, 10);
  });
});

it('has the listed derivatives and values on Akima’s data', () => {
  const curve = makePchip([0, 2, 3, 5, 6, 8, 9, 11, 12, 14, 15], [10, 10, 10, 10, 10, 10, 10.5, 15, 50, 60, 85]);
  const listed = [0, 0, 0, 0, 0, 0, 0.7641509434, 4.6859504132, 9.5454545455, 9, 31.6666666667];
  for (const [i, slope] of listed.entries()) expect(curve.slopes[i]).toBeCloseTo(slope, 9);
  for (const [x, y] of [
    [8.5, 10.1544811321],
    [10, 11.7695501325],
    [11.5, 31.8925619835],
    [13, 55.1363636364],
    [14.5, 69.6666666667],
  ] as const) {
    expect(pchipValue(curve, x)).toBeCloseTo(y, 9);
  }
});

it('has the listed derivatives and values on a small strapping table', () => {
  const curve = makePchip([0, 20, 50, 100, 150, 200], [0, 1.2, 3.5, 8.4, 14.6, 22]);
  const listed = [0.0533333333, 0.0667741935, 0.085163728, 0.1094774775, 0.1349411765, 0.16];
  for (const [i, slope] of listed.entries()) expect(curve.slopes[i]).toBeCloseTo(slope, 9);
  for (const [level, litres] of [
    [10, 0.5663978495],
    [35, 2.281039246],
    [75, 5.7980390655],
    [125, 11.3408518813],
    [175, 18.1433823529],
  ] as const) {
    expect(pchipValue(curve, level)).toBeCloseTo(litres, 9);
    expect(pchipInverse(curve, litres)).toBeCloseTo(level, 7);
  }
});

it('continues a straight table as a straight line', () => {
  const three = makePchip([1, 2, 3], [4, 5, 6]);
  expect(pchipValue(three, 0.5)).toBeCloseTo(3.5, 12);
  const two = makePchip([0, 4], [1, 9]);
  expect(pchipValue(two, 1)).toBeCloseTo(3, 12);
});

it('stays at zero on data that are all zero', () => {
  const curve = makePchip([0, 1, 2, 3], [0, 0, 0, 0]);
  expect(curve.slopes).toEqual([0, 0, 0, 0]);
  expect(pchipValue(curve, 1.5)).toBe(0);
});
