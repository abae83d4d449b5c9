import type { LevelSeries } from './series.js';

/** The ways that a spreadsheet would go about it. All see only what was received by the origin. */
export const NAIVE_WAYS = ['last two', 'OLS 3 d', 'OLS 7 d', 'Theil-Sen'] as const;
export type NaiveWay = (typeof NAIVE_WAYS)[number];

export interface NaiveAnswers {
  /** Days until the line reaches the wick foot; null where it never does or there are too few points. */
  readonly leadDays: Readonly<Record<NaiveWay, number | null>>;
  readonly lastLevelMm: number | null;
}

const DAY_MS = 86_400_000;
/** A rise of this much between two readings ends the drawdown that the line is drawn through. */
const REFILL_MM = 8;
const MAX_THEIL_SEN_POINTS = 84;

interface Points {
  /** Days before (negative) the origin. */
  readonly day: number[];
  readonly levelMm: number[];
}

/** Readings of the week before the origin, since the last refill. */
function drawdownBefore(series: LevelSeries, originMs: number): Points {
  let high = upperBound(series.timeMs, originMs);
  const day: number[] = [];
  const levelMm: number[] = [];
  const since = originMs - 7 * DAY_MS;
  let newer: number | null = null;
  let doubtful: number | null = null;
  for (high -= 1; high >= 0 && series.timeMs[high]! >= since; high--) {
    if (series.receivedMs[high]! > originMs) continue;
    const level = series.levelMm[high]!;
    // Two readings in a row below the newer ones by a refill's height: the refill, rather than one wild value.
    if (newer !== null && newer - level >= REFILL_MM) {
      if (doubtful !== null) break;
      doubtful = level;
      continue;
    }
    doubtful = null;
    newer = level;
    day.push((series.timeMs[high]! - originMs) / DAY_MS);
    levelMm.push(level);
  }
  return { day: day.reverse(), levelMm: levelMm.reverse() };
}

function upperBound(values: Float64Array, limit: number): number {
  let low = 0;
  let high = values.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (values[middle]! <= limit) low = middle + 1;
    else high = middle;
  }
  return low;
}

function leadOf(levelNowMm: number, mmPerDay: number, footMm: number): number | null {
  if (levelNowMm <= footMm) return 0;
  return mmPerDay < 0 ? (levelNowMm - footMm) / -mmPerDay : null;
}

function ols(points: Points, sinceDay: number, footMm: number): number | null {
  let n = 0;
  let sx = 0;
  let sy = 0;
  for (let i = 0; i < points.day.length; i++) {
    if (points.day[i]! < sinceDay) continue;
    n++;
    sx += points.day[i]!;
    sy += points.levelMm[i]!;
  }
  if (n < 3) return null;
  const mx = sx / n;
  const my = sy / n;
  let sxx = 0;
  let sxy = 0;
  for (let i = 0; i < points.day.length; i++) {
    if (points.day[i]! < sinceDay) continue;
    sxx += (points.day[i]! - mx) ** 2;
    sxy += (points.day[i]! - mx) * (points.levelMm[i]! - my);
  }
  if (sxx === 0) return null;
  const slope = sxy / sxx;
  return leadOf(my - slope * mx, slope, footMm);
}

function theilSen(points: Points, footMm: number): number | null {
  const stride = Math.max(1, Math.ceil(points.day.length / MAX_THEIL_SEN_POINTS));
  const day = points.day.filter((_, i) => i % stride === 0);
  const level = points.levelMm.filter((_, i) => i % stride === 0);
  if (day.length < 3) return null;
  const slopes: number[] = [];
  for (let i = 0; i < day.length; i++) {
    for (let j = i + 1; j < day.length; j++) {
      if (day[j]! > day[i]!) slopes.push((level[j]! - level[i]!) / (day[j]! - day[i]!));
    }
  }
  if (slopes.length === 0) return null;
  const slope = median(slopes);
  const intercept = median(day.map((x, i) => level[i]! - slope * x));
  return leadOf(intercept, slope, footMm);
}

export function median(values: readonly number[]): number {
  const sorted = Float64Array.from(values).sort();
  const half = sorted.length >> 1;
  return sorted.length % 2 === 1 ? sorted[half]! : (sorted[half - 1]! + sorted[half]!) / 2;
}

export function naiveAnswers(series: LevelSeries | undefined, originMs: number, footMm: number): NaiveAnswers {
  const none = { 'last two': null, 'OLS 3 d': null, 'OLS 7 d': null, 'Theil-Sen': null };
  if (series === undefined) return { leadDays: none, lastLevelMm: null };
  const points = drawdownBefore(series, originMs);
  const n = points.day.length;
  if (n === 0) return { leadDays: none, lastLevelMm: null };
  const last = points.levelMm[n - 1]!;
  let lastTwo: number | null = null;
  if (n >= 2) {
    const slope = (last - points.levelMm[n - 2]!) / (points.day[n - 1]! - points.day[n - 2]!);
    lastTwo = Number.isFinite(slope) ? leadOf(last, slope, footMm) : null;
  }
  return {
    leadDays: {
      'last two': lastTwo,
      'OLS 3 d': ols(points, -3, footMm),
      'OLS 7 d': ols(points, -7, footMm),
      'Theil-Sen': theilSen(points, footMm),
    },
    lastLevelMm: last,
  };
}
