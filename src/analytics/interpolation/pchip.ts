/**
 * Monotone piecewise cubic interpolation. Derivatives at the knots are the weighted harmonic means of Fritsch and
 * Butland 1984 (SIAM J. Sci. Stat. Comput. 5:300-304) with a three-point formula at the ends, so the curve never
 * overshoots its data: a table that rises gives a curve that rises. Cost: O(log n) an evaluation.
 */
export interface Pchip {
  readonly x: readonly number[];
  readonly y: readonly number[];
  /** Derivative at each knot, y-unit per x-unit. */
  readonly slopes: readonly number[];
}

/**
 * @param x strictly increasing, at least two values
 * @throws RangeError for too few, unordered or non-finite values: the caller checks what people enter
 */
export function makePchip(x: readonly number[], y: readonly number[]): Pchip {
  const n = x.length;
  if (n < 2 || y.length !== n) throw new RangeError('interpolation needs two or more pairs');
  for (let i = 0; i < n; i++) {
    if (!Number.isFinite(x[i]) || !Number.isFinite(y[i])) throw new RangeError('interpolation needs finite numbers');
    if (i > 0 && x[i]! <= x[i - 1]!) throw new RangeError('interpolation needs increasing abscissae');
  }
  return { x: [...x], y: [...y], slopes: knotSlopes(x, y) };
}

function knotSlopes(x: readonly number[], y: readonly number[]): number[] {
  const n = x.length;
  const width: number[] = [];
  const chord: number[] = [];
  for (let i = 0; i + 1 < n; i++) {
    width.push(x[i + 1]! - x[i]!);
    chord.push((y[i + 1]! - y[i]!) / width[i]!);
  }
  if (n === 2) return [chord[0]!, chord[0]!];
  const slopes = new Array<number>(n).fill(0);
  for (let i = 1; i + 1 < n; i++) {
    const before = chord[i - 1]!;
    const after = chord[i]!;
    if (before * after <= 0) continue;
    const w1 = 2 * width[i]! + width[i - 1]!;
    const w2 = width[i]! + 2 * width[i - 1]!;
    slopes[i] = (w1 + w2) / (w1 / before + w2 / after);
  }
  slopes[0] = endSlope(width[0]!, width[1]!, chord[0]!, chord[1]!);
  slopes[n - 1] = endSlope(width[n - 2]!, width[n - 3]!, chord[n - 2]!, chord[n - 3]!);
  return slopes;
}

function endSlope(nearWidth: number, nextWidth: number, nearChord: number, nextChord: number): number {
  const slope = ((2 * nearWidth + nextWidth) * nearChord - nearWidth * nextChord) / (nearWidth + nextWidth);
  if (slope * nearChord <= 0) return 0;
  if (nearChord * nextChord <= 0 && Math.abs(slope) > 3 * Math.abs(nearChord)) return 3 * nearChord;
  return slope;
}

/** Index of the piece that holds `at`; the first or last piece beyond the ends. */
function pieceOf(x: readonly number[], at: number): number {
  let low = 0;
  let high = x.length - 2;
  while (low < high) {
    const middle = (low + high + 1) >> 1;
    if (x[middle]! <= at) low = middle;
    else high = middle - 1;
  }
  return low;
}

/** Value at `at`; beyond the ends the end pieces go on as cubics, which need not be monotone. */
export function pchipValue(curve: Pchip, at: number): number {
  return pieceValue(curve, pieceOf(curve.x, at), at);
}

function pieceValue(curve: Pchip, i: number, at: number): number {
  const h = curve.x[i + 1]! - curve.x[i]!;
  const t = (at - curve.x[i]!) / h;
  const s = 1 - t;
  return (
    curve.y[i]! * (1 + 2 * t) * s * s +
    h * curve.slopes[i]! * t * s * s +
    curve.y[i + 1]! * t * t * (3 - 2 * t) -
    h * curve.slopes[i + 1]! * t * t * s
  );
}

/** First derivative at `at`, y-unit per x-unit. */
export function pchipSlope(curve: Pchip, at: number): number {
  const i = pieceOf(curve.x, at);
  const h = curve.x[i + 1]! - curve.x[i]!;
  const t = (at - curve.x[i]!) / h;
  const chord = (curve.y[i + 1]! - curve.y[i]!) / h;
  return 6 * chord * t * (1 - t) + curve.slopes[i]! * (1 - t) * (1 - 3 * t) + curve.slopes[i + 1]! * t * (3 * t - 2);
}

/** Bisection halves the bracket each step: this many reach the last bit of a double from any bracket. */
const MOST_STEPS = 60;

/**
 * The abscissa at which a rising curve takes the value, clipped to the table. Newton's step inside a bracket, halved
 * where the step leaves it, so it always ends; about five steps.
 */
export function pchipInverse(curve: Pchip, value: number): number {
  const { x, y } = curve;
  const last = x.length - 1;
  if (value <= y[0]!) return x[0]!;
  if (value >= y[last]!) return x[last]!;
  const i = pieceOf(y, value);
  let low = x[i]!;
  let high = x[i + 1]!;
  let at = low + ((high - low) * (value - y[i]!)) / (y[i + 1]! - y[i]!);
  const tolerance = 1e-12 * (high - low);
  for (let step = 0; step < MOST_STEPS && high - low > tolerance; step++) {
    const error = pieceValue(curve, i, at) - value;
    if (error === 0) return at;
    if (error > 0) high = at;
    else low = at;
    const slope = pchipSlope(curve, at);
    const next = slope > 0 ? at - error / slope : low - 1;
    const inside = next > low && next < high;
    const moved = inside ? Math.abs(next - at) : Number.POSITIVE_INFINITY;
    at = inside ? next : (low + high) / 2;
    if (moved <= tolerance) return at;
  }
  return at;
}
