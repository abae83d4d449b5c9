/**
 * Small symmetric positive definite systems by Cholesky's factorisation; matrices as rows of numbers. O(n³).
 */
export type Matrix = readonly (readonly number[])[];

/** Lower triangular L with L L' = a; null where `a` is not positive definite to rounding. */
export function cholesky(a: Matrix): Matrix | null {
  const n = a.length;
  const lower: number[][] = a.map(() => new Array<number>(n).fill(0));
  for (let r = 0; r < n; r++) {
    for (let c = 0; c <= r; c++) {
      let sum = a[r]![c]!;
      for (let k = 0; k < c; k++) sum -= lower[r]![k]! * lower[c]![k]!;
      if (r === c) {
        if (!(sum > 0)) return null;
        lower[r]![r] = Math.sqrt(sum);
      } else lower[r]![c] = sum / lower[c]![c]!;
    }
  }
  return lower;
}

/** Solves L L' x = b. */
export function solveFactored(lower: Matrix, b: readonly number[]): number[] {
  const half = solveLower(lower, b);
  const n = lower.length;
  for (let r = n - 1; r >= 0; r--) {
    let sum = half[r]!;
    for (let k = r + 1; k < n; k++) sum -= lower[k]![r]! * half[k]!;
    half[r] = sum / lower[r]![r]!;
  }
  return half;
}

/** Solves L x = b. */
export function solveLower(lower: Matrix, b: readonly number[]): number[] {
  const x = [...b];
  for (let r = 0; r < lower.length; r++) {
    let sum = x[r]!;
    for (let k = 0; k < r; k++) sum -= lower[r]![k]! * x[k]!;
    x[r] = sum / lower[r]![r]!;
  }
  return x;
}
