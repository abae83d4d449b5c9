import { expect, it } from 'vitest';
import { errorInflation } from '../../src/analytics/stats/autocorrelation.js';
import {
  largestSd,
  leastDetectableRate,
  slopeErrorLitresPerDay,
  testsWithoutFalseAlarm,
} from '../../src/analytics/stats/detectability.js';

/* US 40 CFR 280.40 and 280.43, EPA/530/UST-90/006: 0.2 gal/h at Pd 0.95 and Pfa 0.05; normal errors. */
it('allows a test of 0.2 gal/h an sd of 0.0608 and one of 0.1 gal/h 0.0304', () => {
  expect(largestSd(0.2, 0.95, 0.05)).toBeCloseTo(0.0608, 4);
  expect(largestSd(0.1, 0.95, 0.05)).toBeCloseTo(0.0304, 4);
});

it('detects 3.29 times its standard error', () => {
  expect(leastDetectableRate(1, 0.95, 0.05)).toBeCloseTo(3.2897, 4);
});

it('needs 59 clean tests to claim a false-alarm rate of 5 % at 95 %', () => {
  expect(testsWithoutFalseAlarm(0.05, 0.95)).toBe(59);
});

/* Least detectable leak, mL/d, of a line through 15-minute levels with white noise; the same formula, printed to 1 mL. */
for (const [areaM2, noiseMm, eight, day, threeDays] of [
  [0.05, 1, 289, 57, 11],
  [0.12, 0.5, 346, 69, 13],
  [0.12, 1, 693, 137, 27],
  [0.12, 2, 1386, 275, 53],
  [0.25, 1, 1444, 286, 56],
] as const) {
  it(`sees ${eight}/${day}/${threeDays} mL/d in 8/24/72 h at ${areaM2} m² and ${noiseMm} mm`, () => {
    for (const [hours, listed] of [
      [8, eight],
      [24, day],
      [72, threeDays],
    ] as const) {
      const rate = leastDetectableRate(slopeErrorLitresPerDay(areaM2, noiseMm, 15, hours), 0.95, 0.05);
      // The table counts both ends of the window: one reading more, 4 % at 8 h.
      expect(Math.abs((1000 * rate) / listed - 1)).toBeLessThan(0.06);
    }
  });
}

it('inflates the error of serially correlated readings', () => {
  expect(errorInflation(0.5)).toBeCloseTo(1.73, 2);
  expect(errorInflation(0.8)).toBeCloseTo(3, 9);
  expect(errorInflation(0.95)).toBeCloseTo(6.2, 1);
});
