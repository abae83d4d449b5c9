import type { EpochMs } from '../domain/ids.js';
import type { LevelPoint } from './cleaning.js';
import type { EventState, EventSurroundings, OpenRise } from './event-records.js';
import type { RecentLevels } from './recent.js';
import { median } from './stats/order.js';

const HOUR_MS = 3_600_000;
/** Readings in a mean. */
const WINDOW = 4;
/** A step within the noise, in mm and in sds of one reading; the sd of the difference of two means is 0.7 of that. */
const STEP_MM = 7.5;
const STEP_SDS = 3.6;
/** A slow climb is believed from here on where rain can reach the soil ... */
const RISE_MM = 4;
const RISE_SDS = 3.6;
/** ... and from here on where it cannot: then only watering from above is left, or the sensor's own drift. */
const COVERED_RISE_MM = 10;
const COVERED_RISE_SDS = 5;
const RISE_LOOKBACK_MS = 10 * HOUR_MS;
/** Moisture of this long before a rise speaks for what was before it. */
const BEFORE_MS = 3 * HOUR_MS;
/** One value in so long is enough of the moisture ... */
const MOISTURE_STEP_MS = 20 * 60_000;
/** ... and it is kept for the longest look back. */
const MOISTURE_KEPT_MS = RISE_LOOKBACK_MS + BEFORE_MS;

/** Keeps the moisture of the last hours, thinned. */
export function rememberMoisture(state: EventState, timeMs: EpochMs, moistureFraction: number | null): EventState {
  if (moistureFraction === null) return state;
  const { moisture } = state;
  const last = moisture.at(-1);
  if (last !== undefined && timeMs - last[0] < MOISTURE_STEP_MS) return state;
  let from = 0;
  while (from < moisture.length && moisture[from]![0] < timeMs - MOISTURE_KEPT_MS) from++;
  return { ...state, moisture: [...moisture.slice(from), [timeMs, Math.round(moistureFraction * 1e4) / 1e4] as const] };
}

/** Median moisture in [fromMs, toMs]; null where none is known. */
export function moistureIn(state: EventState, fromMs: EpochMs, toMs: EpochMs): number | null {
  const values: number[] = [];
  for (const [ms, fraction] of state.moisture) if (ms >= fromMs && ms <= toMs) values.push(fraction);
  return median(values);
}

/**
 * Looks for a rise that no single reading shows: a step within the noise, or a slow climb. Means of four readings are
 * compared, so that the level's noise counts half. O(points of 10 h).
 */
export function findRise(
  state: EventState,
  around: EventSurroundings,
  point: LevelPoint,
  recent: RecentLevels,
): OpenRise | null {
  const { levelMm, timeMs } = recent;
  const count = levelMm.length;
  const fromMs = Math.max(state.riseFromMs, point.timeMs - RISE_LOOKBACK_MS);
  const last = count - WINDOW;
  if (last < WINDOW || timeMs[last - WINDOW]! < fromMs) return null;
  const topMm = meanOfWindow(levelMm, last);
  const beforeMm = meanOfWindow(levelMm, last - WINDOW);
  const stepMm = topMm - beforeMm;
  if (stepMm >= Math.max(STEP_MM, STEP_SDS * around.noiseMm) && isStep(levelMm, last, stepMm)) {
    const rise = openRise(state, around, timeMs[last - 1]!, beforeMm, point.timeMs, topMm, recent);
    return { ...rise, fast: true, after: levelMm.slice(last) };
  }
  let lowMm = Number.POSITIVE_INFINITY;
  let lowIndex = -1;
  let sum = 0;
  for (let k = 0; k < WINDOW; k++) sum += levelMm[last - WINDOW + k]!;
  for (let i = last - WINDOW; i >= 0 && timeMs[i]! >= fromMs; i--) {
    const mean = sum / WINDOW;
    if (mean < lowMm) {
      lowMm = mean;
      lowIndex = i + WINDOW - 1;
    }
    if (i > 0) sum += levelMm[i - 1]! - levelMm[i + WINDOW - 1]!;
  }
  const { covered } = around.ctx.container;
  const least = covered
    ? Math.max(COVERED_RISE_MM, COVERED_RISE_SDS * around.noiseMm)
    : Math.max(RISE_MM, RISE_SDS * around.noiseMm);
  if (lowIndex < 0 || topMm - lowMm < least) return null;
  return openRise(state, around, timeMs[lowIndex]!, lowMm, point.timeMs, topMm, recent);
}

export function openRise(
  state: EventState,
  around: EventSurroundings,
  startMs: EpochMs,
  startMm: number,
  endMs: EpochMs,
  topMm: number,
  recent: RecentLevels,
): OpenRise {
  return {
    id: `${around.ctx.container.id}.gain.${startMs}`,
    startMs,
    startMm,
    startLitres: around.strapping.litresAt(startMm),
    endMs,
    topMm,
    fast: false,
    after: [topMm],
    steepestMm: steepest(recent, startMs, 0),
    moistureBefore: moistureIn(state, startMs - BEFORE_MS, startMs),
  };
}

/** The steepest rise over two intervals between readings since `startMs`, or the one known where that is steeper. */
export function steepest({ timeMs, levelMm }: RecentLevels, startMs: EpochMs, knownMm: number): number {
  let most = knownMm;
  for (let i = timeMs.length - 1; i > 0 && timeMs[i - 1]! >= startMs; i--) {
    const from = Math.max(0, i - 2);
    const lowMm = timeMs[from]! >= startMs ? levelMm[from]! : levelMm[i - 1]!;
    most = Math.max(most, levelMm[i]! - lowMm);
  }
  return most;
}

/** Both sides of a step are flat: neither window climbs by more than a third of the step. */
function isStep(levelMm: readonly number[], last: number, stepMm: number): boolean {
  const climb = (from: number): number =>
    (levelMm[from + 2]! + levelMm[from + 3]! - levelMm[from]! - levelMm[from + 1]!) / 2;
  return climb(last) < stepMm / 3 && climb(last - WINDOW) < stepMm / 3;
}

function meanOfWindow(levelMm: readonly number[], from: number): number {
  let sum = 0;
  for (let k = 0; k < WINDOW; k++) sum += levelMm[from + k]!;
  return sum / WINDOW;
}
