import { describe, expect, it } from 'vitest';
import { ljungBox } from '../../src/analytics/stats/autocorrelation.js';
import { changePoints } from '../../src/analytics/stats/change-points.js';
import {
  filterLocalLevel,
  logLikelihood,
  smoothLocalLevel,
  steadyPredictionVariance,
} from '../../src/analytics/stats/local-level.js';
import { addValue, NO_MOMENTS, sampleVariance } from '../../src/analytics/stats/welford.js';
import { NILE } from '../support/nile.js';

/*
 * The Nile flows. Local level: J. Durbin, S. J. Koopman 2012, chapter 2, with their variances 15099 and 1469.1; the
 * diffuse log-likelihood -632.5456 (R packages; the value leaves out the first observation's term), Q(9) 8.84 and the
 * other diagnostics as in statsmodels' tests (test_mlemodel.py). Filtered values recomputed in double precision from
 * the same recursions: they agree to the digits given. Break: one after observation 28, 1898 (Cobb 1978; R's
 * strucchange). Segmentations: exact dynamic programming over all partitions.
 */
const parameters = { noiseVariance: 15099, levelVariance: 1469.1 };
const year = (y: number) => y - 1871;

describe('the local level model of Durbin and Koopman', () => {
  const filtered = filterLocalLevel(NILE, parameters);
  const smoothed = smoothLocalLevel(filtered, parameters);

  it('filters 1872, 1873, 1898, 1899 and 1970 to the listed levels and variances', () => {
    const second = filtered[year(1872)]!;
    expect(second.predicted).toBe(1120);
    expect(second.predictedVariance).toBeCloseTo(16568.1, 6);
    expect(second.innovation).toBe(40);
    expect(second.innovationVariance).toBeCloseTo(31667.1, 6);
    expect(second.filtered).toBeCloseTo(1140.92784, 5);
    expect(second.filteredVariance).toBeCloseTo(7899.7364, 3);
    expect(filtered[year(1873)]!.filtered).toBeCloseTo(1072.79853, 5);
    expect(filtered[year(1873)]!.filteredVariance).toBeCloseTo(5781.4699, 3);
    expect(filtered[year(1898)]!.filtered).toBeCloseTo(1133.126291, 5);
    expect(filtered[year(1899)]!.innovation).toBeCloseTo(-359.126291, 5);
    expect(filtered[year(1899)]!.filtered).toBeCloseTo(1037.222326, 5);
    expect(filtered[year(1970)]!.filtered).toBeCloseTo(798.370293, 5);
    expect(filtered[year(1970)]!.filteredVariance).toBeCloseTo(4032.157942, 5);
  });

  it('settles at the steady state', () => {
    expect(steadyPredictionVariance(parameters)).toBeCloseTo(5501.257942, 5);
    expect(filtered[99]!.innovationVariance).toBeCloseTo(20600.257942, 4);
    expect(5501.257942 / 20600.257942).toBeCloseTo(0.267048, 6);
  });

  it('smooths 1871, 1898, 1913 and 1970', () => {
    expect(smoothed[year(1871)]!.level).toBeCloseTo(1111.668, 3);
    expect(smoothed[year(1898)]!.level).toBeCloseTo(999.585, 3);
    expect(smoothed[year(1898)]!.variance).toBeCloseTo(2326.76, 1);
    expect(smoothed[year(1913)]!.level).toBeCloseTo(799.453, 3);
    expect(smoothed[year(1970)]!.level).toBeCloseTo(798.37, 3);
  });

  it('has the diffuse log-likelihood at the maximum, with and without the first observation’s constant', () => {
    const best = filterLocalLevel(NILE, { noiseVariance: 15098.53, levelVariance: 1469.178 });
    expect(logLikelihood(best)).toBeCloseTo(-632.5456, 3);
    expect(logLikelihood(best, true)).toBeCloseTo(-633.4646, 3);
  });

  it('leaves standardised innovations with Ljung-Box Q(9) of 8.84', () => {
    const standardised = filtered.slice(1).map((point) => point.innovation! / Math.sqrt(point.innovationVariance!));
    // The book divides by n instead of n - lag terms at the ends; printed to two decimals.
    expect(Math.abs(ljungBox(standardised, 9)! - 8.84)).toBeLessThan(0.1);
  });
});

describe('changes of the mean', () => {
  it('finds the one break after observation 28 for any usual penalty', () => {
    for (const penalty of [100_000, 130_000, 131_882.62, 150_000, 200_000, 500_000, 1_200_000]) {
      expect(changePoints(NILE, penalty, 2)).toEqual([28]);
    }
    expect(changePoints(NILE, 1_300_000, 2)).toEqual([]);
  });

  it('finds the exact segmentations of smaller penalties', () => {
    expect(changePoints(NILE, 80_000, 2)).toEqual([28, 41, 45, 47, 83, 95]);
    expect(changePoints(NILE, 80_000, 5)).toEqual([28]);
    expect(changePoints(NILE, 60_000, 5)).toEqual([10, 19, 28, 83, 95]);
    expect(changePoints(NILE, 60_000, 2)).toEqual([10, 19, 28, 37, 40, 45, 47, 83, 95]);
  });

  it('prunes without changing the result', () => {
    // The pruned search (least length 1) against the same cost summed over its own segments and over one split less.
    const cost = (changes: readonly number[], penalty: number) => {
      const edges = [0, ...changes, NILE.length];
      let sum = penalty * changes.length;
      for (let i = 0; i + 1 < edges.length; i++) {
        const part = NILE.slice(edges[i], edges[i + 1]);
        const mean = part.reduce((a, b) => a + b, 0) / part.length;
        sum += part.reduce((a, b) => a + (b - mean) ** 2, 0);
      }
      return sum;
    };
    const found = changePoints(NILE, 100_000);
    for (let i = 0; i < found.length; i++) {
      expect(cost(found, 100_000)).toBeLessThan(cost([...found.slice(0, i), ...found.slice(i + 1)], 100_000));
    }
  });
});

it('has sum 91935, mean 919.35 and sd 169.2275', () => {
  const moments = NILE.reduce(addValue, NO_MOMENTS);
  expect(moments.mean).toBeCloseTo(919.35, 10);
  expect(Math.sqrt(sampleVariance(moments)!)).toBeCloseTo(169.227501, 6);
});
