import { cholesky, type Matrix, solveFactored, solveLower } from './stats/positive-definite.js';

/** One step of a calibration: what had been poured in all, and where the level then came to rest. */
export interface Pour {
  /** Since the reservoir was empty. */
  readonly totalLitres: number;
  /** Above the reservoir floor. */
  readonly levelMm: number;
}

export interface PourSettings {
  /** Standard deviation of a settled level. */
  readonly levelSdMm: number;
  /** Of each pour's volume, relative: a marked bucket 0.01 to 0.02, a meter 0.01. */
  readonly pourRelativeSd: number;
}

export interface KnownPour extends Pour {
  /** Position in the record. */
  readonly index: number;
}

export interface PourFit {
  litresAt(levelMm: number): number;
  /** Standard deviation of the curve at a level. */
  sdLitres(levelMm: number): number;
  /** Half width of the band that holds the truth nine times in ten. */
  halfBandLitres(levelMm: number): number;
  /** What reading the level and pouring the litres of one pour leave uncertain. */
  readingSdLitres(pour: Pour): number;
}

/**
 * Free surface along the height as A (1 + b1 x + b2 x² + ...), x = level / top: prior sds of the b. A cone frustum from
 * 0.75 to 1.3 of its radius has b1 = 0.7 and b2 = 0.1; feet and bellies need a little more.
 */
const SHAPE_SD = [0.8, 0.35, 0.12, 0.06] as const;
const TERMS = SHAPE_SD.length + 1;
/** Scale of the stated errors may itself be wrong: worth this many pours of evidence that it is right. */
const SCALE_EVIDENCE = 8;
const PASSES = 4;

/**
 * Bayesian regression of poured litres on powers of the level. Level errors are independent, pouring errors add up from
 * pour to pour, so the errors of the totals are correlated as a random walk is. The size of all errors is corrected by
 * the residuals, and the band widens by Student's t for that. Null where the pours cannot be told apart.
 */
export function fitPours(pours: readonly KnownPour[], topMm: number, settings: PourSettings): PourFit | null {
  const last = pours[pours.length - 1];
  if (last === undefined || !(last.levelMm > 0) || !(topMm > 0)) return null;
  let mean = [last.totalLitres / (last.levelMm / topMm), ...SHAPE_SD.map(() => 0)];
  let result: { readonly factor: Matrix; readonly scale: number; readonly mean: number[] } | null = null;
  for (let pass = 0; pass < PASSES; pass++) {
    const solved = solveOnce(pours, topMm, settings, mean);
    if (solved === null) return null;
    result = solved;
    mean = solved.mean;
  }
  if (result === null) return null;
  const { factor, scale } = result;
  const coefficients = result.mean;
  const sdLitres = (levelMm: number): number => {
    const half = solveLower(factor, basis(levelMm / topMm));
    return scale * Math.hypot(...half);
  };
  // Student's t at 95 % for the degrees of freedom of the scale, by Cornish and Fisher's expansion.
  const z = 1.6448536269514722;
  const freedom = SCALE_EVIDENCE + pours.length;
  const t = z + (z ** 3 + z) / (4 * freedom);
  return {
    litresAt: (levelMm) => dot(basis(levelMm / topMm), coefficients),
    sdLitres,
    halfBandLitres: (levelMm) => t * sdLitres(levelMm),
    readingSdLitres: (pour) =>
      scale *
      Math.hypot(
        areaAt(pour.levelMm / topMm, coefficients, topMm) * settings.levelSdMm,
        settings.pourRelativeSd * pour.totalLitres,
      ),
  };
}

/** Powers of x that integrate the surface's; times the coefficients they give litres. */
function basis(x: number): number[] {
  return Array.from({ length: TERMS }, (_, k) => x ** (k + 1) / (k + 1));
}

function areaAt(x: number, coefficients: readonly number[], topMm: number): number {
  let sum = 0;
  for (let k = 0; k < TERMS; k++) sum += coefficients[k]! * x ** k;
  return Math.abs(sum) / topMm;
}

function solveOnce(
  pours: readonly KnownPour[],
  topMm: number,
  settings: PourSettings,
  guess: readonly number[],
): { readonly factor: Matrix; readonly scale: number; readonly mean: number[] } | null {
  const n = pours.length;
  const variance: number[] = [];
  let before = 0;
  let walked = 0;
  for (const pour of pours) {
    walked += (settings.pourRelativeSd * (pour.totalLitres - before)) ** 2;
    before = pour.totalLitres;
    variance.push(walked);
  }
  const covariance = pours.map((pour, i) =>
    pours.map((_, j) => {
      const shared = variance[Math.min(i, j)]!;
      const area = areaAt(pour.levelMm / topMm, guess, topMm);
      return i === j ? shared + (area * settings.levelSdMm) ** 2 : shared;
    }),
  );
  const errors = cholesky(covariance);
  if (errors === null) return null;
  const rows = pours.map((pour) => basis(pour.levelMm / topMm));
  const y = pours.map((pour) => pour.totalLitres);
  const weighted = transpose(rows).map((column) => solveFactored(errors, column));
  const size = guess[0]!;
  const precision = weighted.map((column, r) =>
    weighted.map((_, c) => {
      const data = dot(
        column,
        rows.map((row) => row[c]!),
      );
      return r === c && r > 0 ? data + 1 / (SHAPE_SD[r - 1]! * size) ** 2 : data;
    }),
  );
  const factor = cholesky(precision);
  if (factor === null) return null;
  const mean = solveFactored(
    factor,
    weighted.map((column) => dot(column, y)),
  );
  const residual = y.map((value, i) => value - dot(rows[i]!, mean));
  const shape = mean.slice(1).reduce((sum, value, k) => sum + (value / (SHAPE_SD[k]! * size)) ** 2, 0);
  const squares = dot(residual, solveFactored(errors, residual)) + shape;
  const scale = Math.sqrt((SCALE_EVIDENCE + squares) / (SCALE_EVIDENCE + n - 1));
  return { factor, scale, mean };
}

function transpose(rows: readonly (readonly number[])[]): number[][] {
  return (rows[0] ?? []).map((_, c) => rows.map((row) => row[c]!));
}

function dot(a: readonly number[], b: readonly number[]): number {
  let sum = 0;
  for (let i = 0; i < a.length; i++) sum += a[i]! * b[i]!;
  return sum;
}
