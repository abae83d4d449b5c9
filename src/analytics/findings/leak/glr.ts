import { MAD_TO_SD } from '../../stats/hampel.js';
import { median } from '../../stats/order.js';
import { HEIGHT_SHARES, type LeakRow } from './rows.js';

/**
 * Days that a leak may have been running, each with its own threshold. Close together at the short end: a large leak is
 * seen within days, and one day too many in the window costs it dearly.
 */
export const ONSET_DAYS = [2, 3, 4, 5, 6, 8, 10, 13, 17, 21, 27, 34, 44, 55, 70, 90] as const;

export interface LeakFit {
  readonly onsetDays: number;
  readonly onsetIndex: number;
  readonly heightIndex: number;
  /** L/d with the water at the overflow invert, and its standard deviation. */
  readonly litresPerDay: number;
  readonly sd: number;
  /** Log-likelihood gained by a leak, less what a change of the plants' demand would gain. */
  readonly score: number;
  /** What a step of demand alone would gain. */
  readonly demandGain: number;
  /** Blocks since the onset during which water stood over the crack. */
  readonly activeBlocks: number;
}

/**
 * Nuisance of each row with its prior sd: use by day and by night as multiples of the nominal, their drift over a
 * month, the sensor's temperature coefficient, the surge after a refill, and the soil's gain by its sensor.
 */
const PRIOR_MEAN = [1, 0, 1, 0, 0, 0.2, 1] as const;
const PRIOR_SD = [0.5, 0.35, 0.8, 0.4, 0.17, 0.8, 0.35] as const;
const COLUMNS = PRIOR_MEAN.length;
/**
 * Plausible change of the plants' demand since each onset, as a share of what they may draw: within days a planting
 * does not come to drink much more; within a month of spring it does.
 */
const DEMAND_STEP_SD = [0.15, 0.15, 0.17, 0.18, 0.2, 0.22, 0.26, 0.3, 0.35, 0.4, 0.4, 0.4, 0.4, 0.4, 0.4, 0.4] as const;
const LEAST_ROWS = 8;
/** Days of record before an onset, without which a thirsty planting and a leak look the same. */
const LEAST_DAYS_BEFORE = 18;
const HUBER = 4;
const PASSES = 2;
const LEAST_ACTIVE_FLOW = 0.15;
/** Heights are tried this far apart until the last pass. */
const COARSE_STEP = 2;
/** A best score under this comes to nothing, however the rows are weighed: most days of a tight pot end here. */
const WORTH_REFINING = 4;

/**
 * Scores every onset against a bank of crack heights: a windowed generalised likelihood ratio test on a Bayesian linear
 * regression. Robust by two passes of Huber weights, whose scale comes from the residuals of the best alternative so
 * that a large leak does not hide in an inflated scale. Serial correlation of the residuals shrinks the gain.
 * Onsets are nested, so that one walk from the newest row to the oldest gives the sums of all of them.
 * Cost: rows x heights x columns, about 0.3 ms for 300 rows.
 * @param rows in order of their day
 * @param moreThanDays only onsets longer ago than this, and up to `upToDays`, are looked at
 * @returns the best fit of each onset that has rows on both sides where it needs them; null for too few rows
 */
export function leakFits(
  rows: readonly LeakRow[],
  today: number,
  moreThanDays: number,
  upToDays: number,
): readonly LeakFit[] | null {
  const n = rows.length;
  if (n < LEAST_ROWS) return null;
  const design = new Float64Array(n * COLUMNS);
  const residual = new Float64Array(n);
  for (let i = 0; i < n; i++) fillDesign(design, i, rows[i]!, today);
  for (let i = 0; i < n; i++) {
    let mean = 0;
    for (let k = 0; k < COLUMNS; k++) mean += design[i * COLUMNS + k]! * PRIOR_MEAN[k]!;
    residual[i] = rows[i]!.loss - mean;
  }
  const weights = Float64Array.from(rows, (row, i) => 1 / (residual[i]! < 0 ? row.sdBelow : row.sd) ** 2);
  let fits: readonly LeakFit[] = [];
  let correlation = 0;
  for (let pass = 0; pass <= PASSES; pass++) {
    const regression = regress(rows, design, weights, residual, today);
    fits = fitsOf(regression, correlation, pass === PASSES ? 1 : COARSE_STEP).filter(
      (fit) => fit.onsetDays > moreThanDays && fit.onsetDays <= upToDays,
    );
    const best = fits.reduce((a, b) => (b.score > a.score ? b : a));
    if (pass === PASSES || best.score < WORTH_REFINING) break;
    const left = project(regression, lessLeak(rows, residual, best, today));
    correlation = lagOne(rows, left);
    reweigh(rows, left, weights);
  }
  return fits;
}

/**
 * Variance of a sum of `days` values whose correlation falls by `correlation` a day, as a multiple of that of
 * independent ones; tends to (1 + c)/(1 - c) for many.
 */
function varianceInflation(correlation: number, days: number): number {
  let sum = 1;
  let power = correlation;
  for (let lag = 1; lag < days && power > 0.01; lag++) {
    sum += 2 * (1 - lag / days) * power;
    power *= correlation;
  }
  return sum;
}

/** One weighting of the rows with what the nuisance takes of it. */
interface Regression {
  readonly rows: readonly LeakRow[];
  readonly today: number;
  readonly design: Float64Array;
  readonly weights: Float64Array;
  readonly residual: Float64Array;
  readonly factor: Float64Array;
  /** The residuals as the nuisance sees them: L^-1 N'Wr. */
  readonly half: Float64Array;
}

function regress(
  rows: readonly LeakRow[],
  design: Float64Array,
  weights: Float64Array,
  residual: Float64Array,
  today: number,
): Regression {
  const factor = factorise(design, weights, rows.length);
  const half = forward(factor, crossed(design, weights, residual, rows.length));
  return { rows, today, design, weights, residual, factor, half };
}

function fitsOf(regression: Regression, correlation: number, step: number): readonly LeakFit[] {
  const demand = walk(regression, (row) => row.potential);
  const heights: (readonly Projection[])[] = [];
  for (let j = 0; j < HEIGHT_SHARES.length; j += step) heights.push(walk(regression, (row) => row.flows[j]!));
  const firstDay = regression.rows[0]!.dayNumber;
  return ONSET_DAYS.map((onsetDays, index) => {
    const step1 = demand[index]!;
    const shrink = 1 / varianceInflation(correlation, onsetDays);
    const demandGain = (shrink * step1.numerator ** 2) / (step1.denominator + 1 / DEMAND_STEP_SD[index]! ** 2) / 2;
    const gains = heights.map((projections) => (shrink * projections[index]!.squared) / 2);
    let best = 0;
    for (let j = 1; j < gains.length; j++) if (gains[j]! > gains[best]!) best = j;
    const { numerator, denominator, active } = heights[best]![index]!;
    const sound = denominator > 1e-9;
    return {
      onsetDays,
      onsetIndex: index,
      heightIndex: step === 1 ? refine(gains, best) : best * step,
      litresPerDay: sound ? numerator / denominator : 0,
      sd: sound ? 1 / Math.sqrt(denominator * shrink) : Number.MAX_VALUE,
      score: firstDay <= regression.today - onsetDays - LEAST_DAYS_BEFORE ? gains[best]! - demandGain : 0,
      demandGain,
      activeBlocks: active,
    };
  });
}

function fillDesign(design: Float64Array, i: number, row: LeakRow, today: number): void {
  const at = i * COLUMNS;
  const months = (row.dayNumber - today) / 30;
  if (row.kind === 'day') {
    design[at] = row.nominal;
    design[at + 1] = row.nominal * months;
  } else if (row.kind === 'night') {
    design[at + 2] = row.nominal;
    design[at + 3] = row.nominal * months;
  } else {
    design[at] = row.nominal;
    design[at + 1] = row.nominal * months;
    design[at + 5] = row.nominal;
  }
  design[at + 4] = row.temperature;
  design[at + 6] = row.soilGain;
}

/** Cholesky factor (lower, row-wise) of N'WN + P^-1. */
function factorise(design: Float64Array, weights: Float64Array, n: number): Float64Array {
  const a = new Float64Array(COLUMNS * COLUMNS);
  for (let i = 0; i < n; i++) {
    const w = weights[i]!;
    for (let r = 0; r < COLUMNS; r++) {
      const left = w * design[i * COLUMNS + r]!;
      if (left === 0) continue;
      for (let c = 0; c <= r; c++) a[r * COLUMNS + c]! += left * design[i * COLUMNS + c]!;
    }
  }
  for (let k = 0; k < COLUMNS; k++) a[k * COLUMNS + k]! += 1 / PRIOR_SD[k]! ** 2;
  for (let r = 0; r < COLUMNS; r++) {
    for (let c = 0; c <= r; c++) {
      let sum = a[r * COLUMNS + c]!;
      for (let k = 0; k < c; k++) sum -= a[r * COLUMNS + k]! * a[c * COLUMNS + k]!;
      // The prior keeps the matrix positive definite.
      a[r * COLUMNS + c] = r === c ? Math.sqrt(sum) : sum / a[c * COLUMNS + c]!;
    }
  }
  return a;
}

/** Solves L z = v in place. */
function forward(factor: Float64Array, v: Float64Array): Float64Array {
  for (let r = 0; r < COLUMNS; r++) {
    let sum = v[r]!;
    for (let k = 0; k < r; k++) sum -= factor[r * COLUMNS + k]! * v[k]!;
    v[r] = sum / factor[r * COLUMNS + r]!;
  }
  return v;
}

function backward(factor: Float64Array, v: Float64Array): Float64Array {
  for (let r = COLUMNS - 1; r >= 0; r--) {
    let sum = v[r]!;
    for (let k = r + 1; k < COLUMNS; k++) sum -= factor[k * COLUMNS + r]! * v[k]!;
    v[r] = sum / factor[r * COLUMNS + r]!;
  }
  return v;
}

function crossed(design: Float64Array, weights: Float64Array, values: Float64Array, n: number): Float64Array {
  const out = new Float64Array(COLUMNS);
  for (let i = 0; i < n; i++) {
    const wv = weights[i]! * values[i]!;
    if (wv === 0) continue;
    for (let k = 0; k < COLUMNS; k++) out[k]! += wv * design[i * COLUMNS + k]!;
  }
  return out;
}

function project(regression: Regression, values: Float64Array): Float64Array {
  const { design, weights, factor } = regression;
  const n = values.length;
  const solution = backward(factor, forward(factor, crossed(design, weights, values, n)));
  const out = new Float64Array(n);
  for (let i = 0; i < n; i++) {
    let fitted = 0;
    for (let k = 0; k < COLUMNS; k++) fitted += design[i * COLUMNS + k]! * solution[k]!;
    out[i] = values[i]! - fitted;
  }
  return out;
}

/** A template against the residuals, the nuisance taken out of both. */
interface Projection {
  readonly numerator: number;
  readonly denominator: number;
  /** Squared standardised size with the strongest row cut back to the next; 0 where the size is not positive. */
  readonly squared: number;
  /** Rows in which the template is clearly not 0. */
  readonly active: number;
}

/**
 * The template from each onset on. `squared` counts the row with most evidence no more than the one after it: a single
 * odd day (somebody took water, the sensor was moved) is no leak, and a leak never rests on one row for long.
 */
function walk(regression: Regression, templateOf: (row: LeakRow) => number): readonly Projection[] {
  const { rows, today, design, weights, residual, factor, half } = regression;
  const cross = new Float64Array(COLUMNS);
  const out: Projection[] = [];
  let numerator = 0;
  let denominator = 0;
  let most = 0;
  let second = 0;
  let mostInformation = 0;
  let active = 0;
  let i = rows.length - 1;
  for (const onsetDays of ONSET_DAYS) {
    for (; i >= 0 && rows[i]!.dayNumber > today - onsetDays; i--) {
      const t = templateOf(rows[i]!);
      if (t === 0) continue;
      const wt = weights[i]! * t;
      const evidence = wt * residual[i]!;
      numerator += evidence;
      denominator += wt * t;
      for (let k = 0; k < COLUMNS; k++) cross[k]! += wt * design[i * COLUMNS + k]!;
      if (t > LEAST_ACTIVE_FLOW) active++;
      if (evidence > most) {
        second = most;
        most = evidence;
        mostInformation = wt * t;
      } else if (evidence > second) second = evidence;
    }
    const taken = forward(factor, cross.slice());
    let left = numerator;
    let information = denominator;
    for (let k = 0; k < COLUMNS; k++) {
      left -= taken[k]! * half[k]!;
      information -= taken[k]! ** 2;
    }
    let squared = 0;
    if (information > 1e-9 && left > 0 && second > 0 && numerator > most - second) {
      // The nuisance has taken its part of both sums already; the row's shares of both stay the same.
      const evidenceShare = 1 - (most - second) / numerator;
      const informationShare = Math.max(0.1, 1 - ((1 - second / most) * mostInformation) / denominator);
      squared = ((left ** 2 / information) * evidenceShare ** 2) / informationShare;
    }
    out.push({ numerator: left, denominator: information, squared, active });
  }
  return out;
}

/** Vertex of the parabola through the best height and its neighbours, in steps of the bank. */
function refine(gains: readonly number[], index: number): number {
  const left = gains[index - 1];
  const right = gains[index + 1];
  const middle = gains[index]!;
  if (left === undefined || right === undefined) return index;
  const bend = left - 2 * middle + right;
  if (bend >= 0) return index;
  return index + Math.max(-0.5, Math.min(0.5, (left - right) / (2 * bend)));
}

/** Correlation of neighbouring residuals of one kind, kept within 0 to 0.6. */
function lagOne(rows: readonly LeakRow[], projected: Float64Array): number {
  let cross = 0;
  let square = 0;
  for (const kind of ['day', 'night', 'post_refill'] as const) {
    let before: number | null = null;
    for (let i = 0; i < rows.length; i++) {
      const row = rows[i]!;
      if (row.kind !== kind) continue;
      const value = Math.max(-3, Math.min(3, projected[i]! / row.sd));
      if (before !== null) {
        cross += before * value;
        square += (before ** 2 + value ** 2) / 2;
      }
      before = value;
    }
  }
  return square > 0 ? Math.max(0, Math.min(0.6, cross / square)) : 0;
}

/** What is left of the residuals without the best leak: a leak must not pass for noise or for correlation. */
function lessLeak(rows: readonly LeakRow[], residual: Float64Array, best: LeakFit, today: number): Float64Array {
  const since = today - best.onsetDays;
  const height = Math.round(best.heightIndex);
  const litresPerDay = best.score > 0 ? Math.max(0, best.litresPerDay) : 0;
  return residual.map((value, i) => {
    const row = rows[i]!;
    return row.dayNumber > since ? value - litresPerDay * row.flows[height]! : value;
  });
}

function reweigh(rows: readonly LeakRow[], left: Float64Array, weights: Float64Array): void {
  const sdOf = (i: number): number => (left[i]! < 0 ? rows[i]!.sdBelow : rows[i]!.sd);
  const leftover = rows.map((_, i) => left[i]! / sdOf(i));
  const scale = Math.max(0.5, MAD_TO_SD * (median(leftover.map(Math.abs)) ?? 1));
  for (let i = 0; i < rows.length; i++) {
    const deviation = Math.abs(leftover[i]!) / scale;
    const huber = deviation > HUBER ? HUBER / deviation : 1;
    weights[i] = huber / (sdOf(i) * Math.max(1, scale)) ** 2;
  }
}
