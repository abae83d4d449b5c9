import type { EpochMs } from '../../domain/ids.js';
import { DAY_MS } from '../../domain/local-day.js';
import type { FindingDraft } from '../../domain/pot.js';
import type { DayRecord } from '../day-record.js';
import type { PotView } from '../pot-view.js';
import { median } from '../stats/order.js';
import { theilSen } from '../stats/theil-sen.js';
import { lastDays } from './baseline.js';
import { makeDraft, say } from './draft.js';

/**
 * Families of cells by the voltage they start at, with the voltage at which nodes give up. A judgement from cells'
 * usual data sheets, no single source. On a flat curve the voltage says nothing until the knee.
 */
interface Chemistry {
  readonly name: 'two_alkaline' | 'lithium_primary' | 'lithium_ion' | 'fraction';
  readonly emptyAt: number;
  readonly flat: boolean;
  /** Change with temperature, per K, to compare days. */
  readonly perK: number;
}

const TWO_ALKALINE: Chemistry = { name: 'two_alkaline', emptyAt: 2.02, flat: false, perK: 0.002 };
const LITHIUM_PRIMARY: Chemistry = { name: 'lithium_primary', emptyAt: 3.2, flat: true, perK: 0.001 };
const LITHIUM_ION: Chemistry = { name: 'lithium_ion', emptyAt: 3.35, flat: false, perK: 0.0005 };
/** Share of charge left, as the node states it. */
const FRACTION: Chemistry = { name: 'fraction', emptyAt: 0.05, flat: false, perK: 0 };

export interface BatteryState {
  /** Since when the node in use has been on the pot: another node has another cell. */
  readonly nodeSinceMs: EpochMs | null;
  /** Highest daily value of the cell in use: tells its family. */
  readonly peakV: number | null;
  readonly open: {
    readonly value: number;
    readonly perDay: number | null;
    readonly emptyMs: EpochMs | null;
    readonly emptyEarliestMs: EpochMs | null;
    readonly knee: boolean;
    readonly isFraction: boolean;
    readonly onsetMs: EpochMs;
  } | null;
}

export const NO_BATTERY: BatteryState = { nodeSinceMs: null, peakV: null, open: null };

const WINDOW_DAYS = 45;
const LEAST_DAYS = 12;
/** Ahead enough for a visit that is due anyway. */
const WARN_DAYS = 21;
const KNEE_V = 0.15;
const KNEE_DAYS = 14;
/** A fresh cell: the value jumps up by more than any recovery. */
const REPLACED_V = 0.25;

function chemistryOf(day: DayRecord, peakV: number | null): Chemistry | null {
  if (day.batteryV === null) return day.batteryFraction === null ? null : FRACTION;
  const peak = peakV ?? day.batteryV;
  if (peak > 3.75) return LITHIUM_ION;
  return peak > 3.35 ? LITHIUM_PRIMARY : TWO_ALKALINE;
}

export function batteryOnDay(view: PotView, state: BatteryState): BatteryState {
  const nodeSinceMs = view.assignedMs;
  const known = state.nodeSinceMs === nodeSinceMs ? state : { ...NO_BATTERY, nodeSinceMs };
  const days = lastDays(view, WINDOW_DAYS).filter((day) => nodeSinceMs === null || day.startMs >= nodeSinceMs);
  return { ...judgeCell(days, known), nodeSinceMs };
}

function judgeCell(days: readonly DayRecord[], state: BatteryState): Pick<BatteryState, 'peakV' | 'open'> {
  const last = days[days.length - 1];
  if (last === undefined) return state;
  if (last.batteryV === null && last.batteryFraction === null) return state;
  const peakV = last.batteryV === null ? state.peakV : Math.max(state.peakV ?? 0, last.batteryV);
  const chemistry = chemistryOf(last, peakV);
  if (chemistry === null) return state;
  const points = sinceReplacement(days, chemistry);
  const value = points[points.length - 1]?.value;
  if (value === undefined) return { ...state, peakV };
  const onsetMs = state.open?.onsetMs ?? last.endMs;
  const isFraction = chemistry.name === 'fraction';
  if (value <= chemistry.emptyAt + margin(chemistry)) {
    return {
      peakV,
      open: { value, perDay: null, emptyMs: null, emptyEarliestMs: null, knee: false, isFraction, onsetMs },
    };
  }
  if (points.length < LEAST_DAYS) return { peakV, open: points.length < 3 ? null : state.open };
  if (chemistry.flat) {
    const before = median(points.slice(-KNEE_DAYS - 10, -KNEE_DAYS).map((point) => point.value));
    const now = median(points.slice(-3).map((point) => point.value)) ?? value;
    const knee = before !== null && before - now > KNEE_V;
    if (!knee) return { peakV, open: null };
    return {
      peakV,
      open: { value, perDay: null, emptyMs: null, emptyEarliestMs: null, knee: true, isFraction, onsetMs },
    };
  }
  return { peakV, open: forecast(points, chemistry, last, onsetMs, state) };
}

function margin(chemistry: Chemistry): number {
  return chemistry.name === 'fraction' ? 0.05 : 0.03;
}

interface Point {
  readonly dayNumber: number;
  readonly value: number;
}

/** Daily values at 20 °C since the cell was last changed. */
function sinceReplacement(days: readonly DayRecord[], chemistry: Chemistry): readonly Point[] {
  let points: Point[] = [];
  for (const day of days) {
    const raw = chemistry.name === 'fraction' ? day.batteryFraction : day.batteryV;
    if (raw === null) continue;
    const warmth = day.batteryTemperatureC === null ? 0 : day.batteryTemperatureC - 20;
    const value = raw - chemistry.perK * warmth;
    const before = points[points.length - 1];
    if (before !== undefined && value - before.value > REPLACED_V) points = [];
    points.push({ dayNumber: day.dayNumber, value });
  }
  return points;
}

function forecast(
  points: readonly Point[],
  chemistry: Chemistry,
  last: DayRecord,
  onsetMs: EpochMs,
  state: BatteryState,
): BatteryState['open'] {
  const line = theilSen(
    points.map((point) => point.dayNumber),
    points.map((point) => point.value),
    0.8,
  );
  if (line.kind !== 'line' || line.slope >= 0) return null;
  const now = line.intercept + line.slope * last.dayNumber;
  const left = Math.min(now, points[points.length - 1]!.value) - chemistry.emptyAt;
  const daysLeft = left / -line.slope;
  const earliest = left / -Math.min(line.slope, line.slopeLow);
  const limit = state.open === null ? WARN_DAYS : 1.5 * WARN_DAYS;
  if (earliest > limit || daysLeft > 2 * limit) return null;
  return {
    value: points[points.length - 1]!.value,
    perDay: line.slope,
    emptyMs: last.endMs + daysLeft * DAY_MS,
    emptyEarliestMs: last.endMs + earliest * DAY_MS,
    knee: false,
    isFraction: chemistry.name === 'fraction',
    onsetMs,
  };
}

export function batteryLow(view: PotView, state: BatteryState): FindingDraft | null {
  const { open } = state;
  if (open === null) return null;
  const soon = open.emptyMs === null || open.emptyMs - view.atMs < 7 * DAY_MS;
  return makeDraft(view, 'battery_low', {
    onsetMs: open.onsetMs,
    size: open.value,
    unit: open.isFraction ? '1' : 'V',
    confidence: open.knee ? 0.7 : 0.85,
    severity: soon ? 'medium' : 'low',
    evidence: [
      open.isFraction
        ? say('finding.battery_low.fraction', { batteryFraction: open.value })
        : say('finding.battery_low.volts', { batteryV: open.value }),
      open.knee
        ? say('finding.battery_low.knee', { dropV: KNEE_V, days: KNEE_DAYS })
        : open.emptyMs === null
          ? say('finding.battery_low.empty')
          : say('finding.battery_low.forecast', { emptyMs: open.emptyMs, earliestMs: open.emptyEarliestMs }),
    ],
    toConfirm: say('finding.battery_low.confirm'),
  });
}
