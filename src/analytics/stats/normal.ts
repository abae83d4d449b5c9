/** The standard normal distribution. */

const SQRT2 = Math.SQRT2;
const SQRT_2PI = Math.sqrt(2 * Math.PI);

export function normalDensity(x: number): number {
  return Math.exp(-0.5 * x * x) / SQRT_2PI;
}

/**
 * Probability of a value below x, relative error under 1e-14 also far in the lower tail. Series near 0, continued
 * fraction beyond (Abramowitz and Stegun 1964, 26.2.11 and 26.2.14).
 */
export function normalCdf(x: number): number {
  if (Number.isNaN(x)) throw new RangeError('normalCdf of no number');
  if (x === Number.POSITIVE_INFINITY) return 1;
  if (x === Number.NEGATIVE_INFINITY) return 0;
  const z = Math.abs(x);
  const upper = z < 3 ? 0.5 - centralArea(z) : tailArea(z);
  return x > 0 ? 1 - upper : upper;
}

/** Area between 0 and z. */
function centralArea(z: number): number {
  let term = z;
  let sum = z;
  for (let k = 1; k < 200; k++) {
    term *= (z * z) / (2 * k + 1);
    sum += term;
    if (term < 1e-18 * sum) break;
  }
  return sum * normalDensity(z);
}

/** Area beyond z, z >= 3. */
function tailArea(z: number): number {
  if (z > 38.6) return 0;
  let fraction = 0;
  for (let k = 120; k >= 1; k--) fraction = k / (z + fraction);
  return normalDensity(z) / (z + fraction);
}

// P. J. Acklam's rational approximation of the inverse (relative error 1.15e-9; coefficients as widely published),
// polished by one step of Halley's method to the accuracy of normalCdf.
const A = [
  -3.969683028665376e1, 2.209460984245205e2, -2.759285104469687e2, 1.38357751867269e2, -3.066479806614716e1,
  2.506628277459239,
] as const;
const B = [
  -5.447609879822406e1, 1.615858368580409e2, -1.556989798598866e2, 6.680131188771972e1, -1.328068155288572e1,
] as const;
const C = [
  -7.784894002430293e-3, -3.223964580411365e-1, -2.400758277161838, -2.549732539343734, 4.374664141464968,
  2.938163982698783,
] as const;
const D = [7.784695709041462e-3, 3.224671290700398e-1, 2.445134137142996, 3.754408661907416] as const;
const TAIL = 0.02425;

/** The value below which a share p of the distribution lies; infinite for 0 and 1. */
export function normalQuantile(p: number): number {
  if (!(p >= 0 && p <= 1)) throw new RangeError(`a probability lies between 0 and 1, not ${p}`);
  if (p === 0) return Number.NEGATIVE_INFINITY;
  if (p === 1) return Number.POSITIVE_INFINITY;
  // The lower half keeps its digits; the upper half is its mirror.
  if (p > 0.5) return -normalQuantile(1 - p);
  const x = roughQuantile(p);
  const error = normalCdf(x) - p;
  const step = error / normalDensity(x);
  return x - step / (1 + (x * step) / 2);
}

function roughQuantile(p: number): number {
  if (p < TAIL) {
    const q = Math.sqrt(-2 * Math.log(p));
    return horner(C, q) / (horner(D, q) * q + 1);
  }
  const q = p - 0.5;
  const r = q * q;
  return (horner(A, r) * q) / (horner(B, r) * r + 1);
}

function horner(coefficients: readonly number[], x: number): number {
  let sum = 0;
  for (const coefficient of coefficients) sum = sum * x + coefficient;
  return sum;
}

/** erf(x), from the same areas. */
export function erf(x: number): number {
  return 2 * normalCdf(x * SQRT2) - 1;
}
