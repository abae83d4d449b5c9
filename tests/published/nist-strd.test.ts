import { describe, expect, it } from 'vitest';
import { leastSquares, straightLine } from '../../src/analytics/stats/least-squares.js';
import { siegel } from '../../src/analytics/stats/siegel.js';
import { theilSen } from '../../src/analytics/stats/theil-sen.js';
import { addValue, joinMoments, type Moments, NO_MOMENTS, sampleVariance } from '../../src/analytics/stats/welford.js';

/*
 * NIST Statistical Reference Datasets (www.itl.nist.gov/div898/strd), certified to 15 digits. Double arithmetic by QR
 * keeps about 16 less the digits of the condition number: 12 for Norris, 7 asked for the badly conditioned Longley and
 * the polynomials of Wampler.
 */
function expectDigits(value: number, certified: number, digits: number): void {
  const error = certified === 0 ? Math.abs(value) : Math.abs(value / certified - 1);
  expect(error, `${value} against ${certified}`).toBeLessThanOrEqual(10 ** -digits);
}

function solve(rows: readonly (readonly number[])[], y: readonly number[]) {
  const result = leastSquares(rows, y);
  if (result.kind !== 'fit') throw new Error(result.kind);
  return result;
}

describe('Norris', () => {
  const pairs = [
    [0.1, 0.2],
    [338.8, 337.4],
    [118.1, 118.2],
    [888.0, 884.6],
    [9.2, 10.1],
    [228.1, 226.5],
    [668.5, 666.3],
    [998.5, 996.3],
    [449.1, 448.6],
    [778.9, 777.0],
    [559.2, 558.2],
    [0.3, 0.4],
    [0.1, 0.6],
    [778.1, 775.5],
    [668.8, 666.9],
    [339.3, 338.0],
    [448.9, 447.5],
    [10.8, 11.6],
    [557.7, 556.0],
    [228.3, 228.1],
    [998.0, 995.8],
    [888.8, 887.6],
    [119.6, 120.2],
    [0.3, 0.3],
    [0.6, 0.3],
    [557.6, 556.8],
    [339.3, 339.1],
    [888.0, 887.2],
    [998.5, 999.0],
    [778.9, 779.0],
    [10.2, 11.1],
    [117.6, 118.3],
    [228.9, 229.2],
    [668.4, 669.1],
    [449.2, 448.9],
    [0.2, 0.5],
  ] as const;
  const x = pairs.map((pair) => pair[1]);
  const y = pairs.map((pair) => pair[0]);

  it('has the certified line, errors and fit', () => {
    const line = straightLine(x, y);
    if (line.kind !== 'fit') throw new Error(line.kind);
    expectDigits(line.coefficients[0]!, -0.262323073774029, 11);
    expectDigits(line.coefficients[1]!, 1.00211681802045, 12);
    expectDigits(line.standardErrors[0]!, 0.232818234301152, 11);
    expectDigits(line.standardErrors[1]!, 0.429796848199937e-3, 11);
    expectDigits(line.residualSd, 0.884796396144373, 11);
    expectDigits(line.rSquared, 0.999993745883712, 12);
    expectDigits(line.sumOfSquaredErrors, 26.6173985294224, 11);
    expect(line.degreesOfFreedom).toBe(34);
  });

  // SciPy 1.17.1: theilslopes(y, x) and siegelslopes(y, x).
  it('has SciPy’s robust lines', () => {
    const robust = theilSen(x, y);
    if (robust.kind !== 'line') throw new Error(robust.kind);
    expect(robust.slope).toBeCloseTo(1.0021968366, 9);
    expect(robust.intercept).toBeCloseTo(-0.0640158, 6);
    const repeated = siegel(x, y);
    if (repeated.kind !== 'line') throw new Error(repeated.kind);
    expect(repeated.slope).toBeCloseTo(1.0025376642, 9);
    expect(repeated.intercept).toBeCloseTo(-0.3893966, 6);
  });
});

it('reproduces Longley by QR', () => {
  const data = [
    [60323, 83.0, 234289, 2356, 1590, 107608, 1947],
    [61122, 88.5, 259426, 2325, 1456, 108632, 1948],
    [60171, 88.2, 258054, 3682, 1616, 109773, 1949],
    [61187, 89.5, 284599, 3351, 1650, 110929, 1950],
    [63221, 96.2, 328975, 2099, 3099, 112075, 1951],
    [63639, 98.1, 346999, 1932, 3594, 113270, 1952],
    [64989, 99.0, 365385, 1870, 3547, 115094, 1953],
    [63761, 100.0, 363112, 3578, 3350, 116219, 1954],
    [66019, 101.2, 397469, 2904, 3048, 117388, 1955],
    [67857, 104.6, 419180, 2822, 2857, 118734, 1956],
    [68169, 108.4, 442769, 2936, 2798, 120445, 1957],
    [66513, 110.8, 444546, 4681, 2637, 121950, 1958],
    [68655, 112.6, 482704, 3813, 2552, 123366, 1959],
    [69564, 114.2, 502601, 3931, 2514, 125368, 1960],
    [69331, 115.7, 518173, 4806, 2572, 127852, 1961],
    [70551, 116.9, 554894, 4007, 2827, 130081, 1962],
  ] as const;
  const result = solve(
    data.map((row) => [1, ...row.slice(1)]),
    data.map((row) => row[0]),
  );
  const certified = [
    [-3482258.63459582, 890420.383607373],
    [15.0618722713733, 84.9149257747669],
    [-0.035819179292591, 0.0334910077722432],
    [-2.02022980381683, 0.488399681651699],
    [-1.03322686717359, 0.214274163161675],
    [-0.0511041056535807, 0.22607320006937],
    [1829.15146461355, 455.478499142212],
  ] as const;
  for (const [i, [coefficient, error]] of certified.entries()) {
    expectDigits(result.coefficients[i]!, coefficient, 7);
    expectDigits(result.standardErrors[i]!, error, 7);
  }
  expectDigits(result.residualSd, 304.854073561965, 9);
  expectDigits(result.rSquared, 0.995479004577296, 9);
  expectDigits(result.sumOfSquaredErrors, 836424.055505915, 9);
});

it('reproduces NoInt1, a line through the origin', () => {
  const x = Array.from({ length: 11 }, (_, i) => 60 + i);
  const result = solve(
    x.map((at) => [at]),
    x.map((at) => at + 70),
  );
  expectDigits(result.coefficients[0]!, 2.07438016528926, 13);
  expectDigits(result.standardErrors[0]!, 0.0165289256198347, 11);
});

describe('Wampler, polynomials of the fifth degree', () => {
  const x = Array.from({ length: 21 }, (_, i) => i);
  const powers = x.map((at) => [1, at, at ** 2, at ** 3, at ** 4, at ** 5]);

  it('finds six coefficients of 1 in Wampler1', () => {
    const result = solve(
      powers,
      powers.map((row) => row.reduce((a, b) => a + b, 0)),
    );
    for (const coefficient of result.coefficients) expectDigits(coefficient, 1, 7);
  });

  it('finds powers of a tenth in Wampler2', () => {
    const result = solve(
      powers,
      powers.map((row) => row.reduce((sum, value, k) => sum + value * 0.1 ** k, 0)),
    );
    for (const [k, coefficient] of result.coefficients.entries()) expectDigits(coefficient, 0.1 ** k, 7);
  });
});

it('says which column is a combination of others, and what is too little data', () => {
  const twice = [1, 2, 3, 4].map((at) => [1, at, 2 * at]);
  expect(leastSquares(twice, [1, 2, 3, 5])).toEqual({ kind: 'degenerate', column: 2 });
  expect(leastSquares([[1, 2]], [1])).toEqual({ kind: 'insufficient', have: 1, need: 3 });
});

/* Univariate set NumAcc (data quoted from memory): mean and sd are exact by construction. */
describe('NumAcc, numbers whose digits cancel', () => {
  for (const [name, base] of [
    ['NumAcc3', 1_000_000],
    ['NumAcc4', 10_000_000],
  ] as const) {
    const values = [base + 0.2, ...Array.from({ length: 1000 }, (_, i) => base + (i % 2 === 0 ? 0.1 : 0.3))];

    it(`keeps mean and sd of ${name}`, () => {
      const moments = values.reduce(addValue, NO_MOMENTS);
      expectDigits(moments.mean, base + 0.2, 14);
      // The data themselves are rounded to 2e-9 (1e7 in double precision), which limits the sd to about 8 digits.
      expectDigits(Math.sqrt(sampleVariance(moments)!), 0.1, 7);
    });

    it(`keeps them when ${name} is summed in parts`, () => {
      const part = (from: number, to: number): Moments => values.slice(from, to).reduce(addValue, NO_MOMENTS);
      const joined = joinMoments(joinMoments(part(0, 10), part(10, 700)), part(700, 1001));
      expectDigits(joined.mean, base + 0.2, 14);
      expectDigits(Math.sqrt(sampleVariance(joined)!), 0.1, 7);
    });
  }
});
