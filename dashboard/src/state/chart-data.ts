import { celsiusToFahrenheit, litresToUsGallons, mmToInches } from '../../../src/domain/units.js';
import { type Fan, fanValueAt } from './forecast-fan.js';

/** What the chart can show of the water. */
export type WaterMeasure = 'litres' | 'level';

export interface ChartUnits {
  readonly volume: 'L' | 'US_gal';
  readonly length: 'mm' | 'in';
  readonly temperature: 'Cel' | 'degF';
}

export const SPANS = ['2d', '2w', '2m', '1y', '5y'] as const;
export type Span = (typeof SPANS)[number];

const DAY_MS = 86_400_000;

export const SPAN_DAYS: Readonly<Record<Span, number>> = { '2d': 2, '2w': 14, '2m': 61, '1y': 365, '5y': 1_826 };

/** How much of the axis lies beyond now. */
const AHEAD_SHARE = 0.35;
/** Forecasts reach 60 days. */
const MOST_AHEAD_MS = 60 * DAY_MS;

export interface Window {
  readonly fromMs: number;
  readonly toMs: number;
}

/** The window of a span: so much past, and a share of it ahead of now. */
export function windowOf(span: Span, nowMs: number): Window {
  const pastMs = SPAN_DAYS[span] * DAY_MS;
  return { fromMs: nowMs - pastMs, toMs: nowMs + Math.min(MOST_AHEAD_MS, pastMs * AHEAD_SHARE) };
}

export type Resolution = 'raw' | 'hour' | 'day';

/** As fine as a screen can show: some thousands of points. */
export function resolutionOf(window: Window): Resolution {
  const days = (window.toMs - window.fromMs) / DAY_MS;
  if (days <= 21) return 'raw';
  return days <= 130 ? 'hour' : 'day';
}

/** Rounds a window outward, so that small moves of now ask for the same series. */
export function steadyWindow(window: Window, stepMs: number): Window {
  return { fromMs: Math.floor(window.fromMs / stepMs) * stepMs, toMs: Math.ceil(window.toMs / stepMs) * stepMs };
}

export const shownVolume = (litres: number, units: ChartUnits): number =>
  units.volume === 'L' ? litres : litresToUsGallons(litres);
export const shownLength = (mm: number, units: ChartUnits): number => (units.length === 'mm' ? mm : mmToInches(mm));
export const shownTemperature = (celsius: number, units: ChartUnits): number =>
  units.temperature === 'Cel' ? celsius : celsiusToFahrenheit(celsius);

type Column = readonly (number | null)[];

/** Refused by cleaning: such a level says nothing about the water. */
const NO_WATER: ReadonlySet<string> = new Set(['astray', 'impossible']);

/**
 * What is drawn of the past. As a level, every reading; as litres, only those that speak of water, so that a glint in the
 * sensor does not show as twenty litres come and gone.
 */
export function measuredPoints(
  series: {
    readonly timeMs: readonly number[];
    readonly levelMm: Column;
    readonly litres: Column;
    readonly cleaningReason: readonly string[] | null;
  },
  measure: WaterMeasure,
): { readonly times: readonly number[]; readonly values: Column } {
  const { timeMs, levelMm, litres, cleaningReason } = series;
  if (measure === 'level') return { times: timeMs, values: levelMm };
  const isWater = (_: unknown, i: number): boolean => !NO_WATER.has(cleaningReason?.[i] ?? '');
  return { times: timeMs.filter(isWater), values: litres.filter(isWater) };
}

export interface WaterColumns {
  /** Seconds, as the chart library counts. */
  readonly seconds: readonly number[];
  readonly measured: Column;
  readonly early: Column;
  readonly middle: Column;
  readonly late: Column;
}

const FAN_POINTS = 40;

/**
 * Past and forecast on one axis: measured values up to now, the fan's three lines from now on. A gap in the readings
 * longer than `gapMs` is kept open, since a line across it would claim what nobody knows.
 */
export function waterColumns(
  timeMs: readonly number[],
  measured: Column,
  fan: Fan | null,
  nowMs: number,
  endMs: number,
  gapMs: number,
): WaterColumns {
  const seconds: number[] = [];
  const past: (number | null)[] = [];
  let beforeMs: number | null = null;
  for (let i = 0; i < timeMs.length; i++) {
    const ms = timeMs[i]!;
    if (beforeMs !== null && ms - beforeMs > gapMs) {
      seconds.push((beforeMs + 1_000) / 1000);
      past.push(null);
    }
    seconds.push(ms / 1000);
    past.push(measured[i] ?? null);
    beforeMs = ms;
  }
  const early: (number | null)[] = past.map(() => null);
  const middle: (number | null)[] = past.map(() => null);
  const late: (number | null)[] = past.map(() => null);
  if (fan !== null) {
    const startMs = Math.max(nowMs, beforeMs ?? nowMs);
    for (let i = 0; i <= FAN_POINTS; i++) {
      const ms = startMs + ((endMs - startMs) * i) / FAN_POINTS;
      if (ms / 1000 <= (seconds[seconds.length - 1] ?? Number.NEGATIVE_INFINITY)) continue;
      seconds.push(ms / 1000);
      past.push(null);
      early.push(fanValueAt(fan.early, ms));
      middle.push(fanValueAt(fan.middle, ms));
      late.push(fanValueAt(fan.late, ms));
    }
  }
  return { seconds, measured: past, early, middle, late };
}

/** A gap is what is longer than this many steps of the resolution. */
export const GAP_MS: Readonly<Record<Resolution, number>> = {
  raw: 3 * 3_600_000,
  hour: 6 * 3_600_000,
  day: 3 * DAY_MS,
};

export function extent(values: Column): { readonly lowest: number; readonly highest: number } | null {
  let lowest = Number.POSITIVE_INFINITY;
  let highest = Number.NEGATIVE_INFINITY;
  for (const value of values) {
    if (value === null) continue;
    if (value < lowest) lowest = value;
    if (value > highest) highest = value;
  }
  return highest < lowest ? null : { lowest, highest };
}

/** The last value that is there. */
export function lastValue(values: Column): number | null {
  for (let i = values.length - 1; i >= 0; i--) {
    const value = values[i];
    if (value !== null && value !== undefined) return value;
  }
  return null;
}
