import type { TooFew } from './theil-sen.js';

export interface LeastSquares {
  readonly kind: 'fit';
  readonly coefficients: readonly number[];
  readonly standardErrors: readonly number[];
  readonly residualSd: number;
  readonly sumOfSquaredErrors: number;
  /** Share of the variation about the mean that the fit explains; about 0 where the model has no constant. */
  readonly rSquared: number;
  readonly degreesOfFreedom: number;
}

export interface Degenerate {
  readonly kind: 'degenerate';
  /** Index of the first column that is a combination of those before it. */
  readonly column: number;
}

/** A column whose part outside the span of those before it is smaller than this share of it adds nothing but noise. */
const RANK_TOLERANCE = 1e-13;

/**
 * Ordinary least squares by Householder QR, which keeps twice the digits of the normal equations on badly conditioned
 * columns. Cost: rows x columns².
 * @param rows one array of regressors per observation, a constant 1 among them where an intercept is wanted
 */
export function leastSquares(
  rows: readonly (readonly number[])[],
  y: readonly number[],
): LeastSquares | TooFew | Degenerate {
  const n = rows.length;
  const p = rows[0]?.length ?? 0;
  if (n <= p || p === 0) return { kind: 'insufficient', have: n, need: p + 1 };
  const a = rows.map((row) => Float64Array.from(row));
  const b = Float64Array.from(y);
  const diagonal = new Float64Array(p);
  for (let k = 0; k < p; k++) {
    const whole = columnNorm(rows, k);
    let norm = 0;
    for (let i = k; i < n; i++) norm = Math.hypot(norm, a[i]![k]!);
    if (!(norm > RANK_TOLERANCE * whole)) return { kind: 'degenerate', column: k };
    if (a[k]![k]! > 0) norm = -norm;
    diagonal[k] = norm;
    // The reflector v = x - norm e1 overwrites the column; v'v = -2 norm v1.
    a[k]![k]! -= norm;
    const scale = -norm * a[k]![k]!;
    for (let j = k + 1; j < p; j++)
      reflect(
        a,
        k,
        scale,
        (i) => a[i]![j]!,
        (i, value) => {
          a[i]![j] = value;
        },
      );
    reflect(
      a,
      k,
      scale,
      (i) => b[i]!,
      (i, value) => {
        b[i] = value;
      },
    );
  }
  const inverse = invertUpper(a, diagonal, p);
  const coefficients: number[] = [];
  for (let r = 0; r < p; r++) {
    let sum = 0;
    for (let c = r; c < p; c++) sum += inverse[r]![c]! * b[c]!;
    coefficients.push(sum);
  }
  let sumOfSquaredErrors = 0;
  for (let i = p; i < n; i++) sumOfSquaredErrors += b[i]! ** 2;
  const degreesOfFreedom = n - p;
  const residualSd = Math.sqrt(sumOfSquaredErrors / degreesOfFreedom);
  const standardErrors = inverse.map((row) => residualSd * Math.hypot(...row));
  return {
    kind: 'fit',
    coefficients,
    standardErrors,
    residualSd,
    sumOfSquaredErrors,
    rSquared: 1 - sumOfSquaredErrors / aboutMean(y),
    degreesOfFreedom,
  };
}

function columnNorm(rows: readonly (readonly number[])[], k: number): number {
  let norm = 0;
  for (const row of rows) norm = Math.hypot(norm, row[k]!);
  return norm;
}

function reflect(
  a: readonly Float64Array[],
  k: number,
  scale: number,
  get: (i: number) => number,
  set: (i: number, value: number) => void,
): void {
  let sum = 0;
  for (let i = k; i < a.length; i++) sum += a[i]![k]! * get(i);
  const factor = sum / scale;
  for (let i = k; i < a.length; i++) set(i, get(i) - factor * a[i]![k]!);
}

function invertUpper(a: readonly Float64Array[], diagonal: Float64Array, p: number): number[][] {
  const inverse = Array.from({ length: p }, () => new Array<number>(p).fill(0));
  for (let c = 0; c < p; c++) {
    inverse[c]![c] = 1 / diagonal[c]!;
    for (let r = c - 1; r >= 0; r--) {
      let sum = 0;
      for (let k = r + 1; k <= c; k++) sum += a[r]![k]! * inverse[k]![c]!;
      inverse[r]![c] = -sum / diagonal[r]!;
    }
  }
  return inverse;
}

function aboutMean(y: readonly number[]): number {
  const mean = y.reduce((sum, value) => sum + value, 0) / y.length;
  return y.reduce((sum, value) => sum + (value - mean) ** 2, 0);
}

/** Straight line by least squares: coefficients are [intercept, slope]. */
export function straightLine(x: readonly number[], y: readonly number[]): LeastSquares | TooFew | Degenerate {
  return leastSquares(
    x.map((at) => [1, at]),
    y,
  );
}
