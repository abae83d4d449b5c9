import type { Quantiles } from './dry-axis.js';

/** One line of the fan: the water from now on, down to the wick foot. */
export interface FanLine {
  readonly points: readonly { readonly ms: number; readonly value: number }[];
}

export interface FanInput {
  readonly nowMs: number;
  /** What stands there now, in whatever unit the chart has. */
  readonly value: number;
  /** The same at the wick foot. */
  readonly footValue: number;
  readonly dry: Quantiles;
  /** Where a quantile lies beyond the horizon, its line is drawn at this slope per millisecond (not positive). */
  readonly slopePerMs: number | null;
  readonly endMs: number;
}

export interface Fan {
  readonly early: FanLine;
  readonly middle: FanLine;
  readonly late: FanLine;
}

/**
 * Straight lines from the water now to the wick foot at p10, p50 and p90. A quantile beyond the horizon has no moment:
 * its line follows the expected slope, and never reaches the foot before the axis ends.
 */
export function forecastFan(input: FanInput): Fan | null {
  const { p10Ms, p50Ms, p90Ms } = input.dry;
  if (input.value <= input.footValue) return null;
  if (p10Ms === null && p50Ms === null && input.slopePerMs === null) return null;
  const line = (dryMs: number | null): FanLine => {
    const start = { ms: input.nowMs, value: input.value };
    if (dryMs !== null && dryMs > input.nowMs) {
      const end = { ms: dryMs, value: input.footValue };
      return { points: dryMs < input.endMs ? [start, end, { ms: input.endMs, value: input.footValue }] : [start, end] };
    }
    const fallen = input.value + (input.slopePerMs ?? 0) * (input.endMs - input.nowMs);
    return { points: [start, { ms: input.endMs, value: Math.max(input.footValue, fallen) }] };
  };
  return { early: line(p10Ms), middle: line(p50Ms), late: line(p90Ms) };
}

/** Value of a line at an instant; null before its start. */
export function fanValueAt(line: FanLine, ms: number): number | null {
  const first = line.points[0];
  if (first === undefined || ms < first.ms) return null;
  let before = first;
  for (const point of line.points) {
    if (point.ms >= ms) {
      const span = point.ms - before.ms;
      return span <= 0 ? point.value : before.value + ((ms - before.ms) / span) * (point.value - before.value);
    }
    before = point;
  }
  return before.value;
}
