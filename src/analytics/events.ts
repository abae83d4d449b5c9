import type { EpochMs } from '../domain/ids.js';
import type { PotEvent } from '../domain/pot.js';
import type { CleaningResult, LevelPoint } from './cleaning.js';
import { corrected, isTold } from './correct-event.js';
import { type EventState, type EventStep, type EventSurroundings, type OpenRise, put } from './event-records.js';
import { judge, REPORT_WINDOW_MS } from './judge-event.js';
import { medianLevel, type RecentLevels } from './recent.js';

const HOUR_MS = 3_600_000;
/** A refill is a jump of at least this. */
const REFILL_MM = 8;
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
/** A slow climb is told as a refill only if it is large; smaller ones are booked, but no event is made of them. */
const TOLD_RISE_MM = 12;
const TOLD_RISE_SDS = 6;
/** No rain comes through the soil this fast. */
const SURELY_POURED_MM = 15;
/** A sudden loss is a fall of at least this between two readings: nothing that a thirsty soil does. */
const LOSS_MM = 12;
const MERGE_MS = HOUR_MS;
/** A slow rise that has stood still for so long is over. */
const RISE_OVER_MS = 3 * HOUR_MS;
const RISE_LOOKBACK_MS = 10 * HOUR_MS;
/** The port runs, or is about to, this close to the invert. */
const INVERT_MARGIN_MM = 2;

/** Looks at the points that a reading added. O(points of 10 h). */
export function observeLevels(
  state: EventState,
  around: EventSurroundings,
  result: CleaningResult,
  recentBefore: RecentLevels,
  recent: RecentLevels,
): EventStep {
  const point = result.accepted[result.accepted.length - 1];
  if (point === undefined) return { state, changed: [] };
  if (result.jump !== null) {
    return result.jump.afterMm > result.jump.beforeMm
      ? jumpUp(state, around, result, recentBefore)
      : jumpDown(state, around, result, recentBefore, point);
  }
  if (state.open !== null) return followRise(state, around, state.open, point, recent);
  return lookForRise(state, around, point, recent);
}

function jumpUp(
  state: EventState,
  around: EventSurroundings,
  result: CleaningResult,
  recentBefore: RecentLevels,
): EventStep {
  const jump = result.jump!;
  const first = result.accepted[0]!;
  const last = result.accepted[result.accepted.length - 1]!;
  const after = result.accepted.map((point) => point.levelMm);
  const { open } = state;
  if (open !== null && first.timeMs - open.endMs <= MERGE_MS) {
    const merged: OpenRise = {
      ...open,
      endMs: last.timeMs,
      topMm: Math.max(open.topMm, jump.afterMm),
      fast: true,
      after,
    };
    return record({ ...state, open: merged, lastJumpMs: first.timeMs }, around, merged);
  }
  const startMm = medianLevel(recentBefore.levelMm, recentBefore.levelMm.length, 4) ?? jump.beforeMm;
  const big = jump.afterMm - startMm >= Math.max(REFILL_MM, 4 * around.noiseMm);
  if (!big) return { state: { ...state, lastJumpMs: first.timeMs }, changed: [] };
  const rise: OpenRise = {
    id: `${around.ctx.container.id}.gain.${jump.beforeMs}`,
    startMs: jump.beforeMs,
    startMm,
    startLitres: around.strapping.litresAt(startMm),
    endMs: last.timeMs,
    topMm: jump.afterMm,
    fast: true,
    after,
  };
  return record({ ...state, open: rise, lastJumpMs: first.timeMs }, around, rise);
}

function followRise(
  state: EventState,
  around: EventSurroundings,
  open: OpenRise,
  point: LevelPoint,
  recent: RecentLevels,
): EventStep {
  if (open.fast) {
    if (open.after.length >= 3) {
      if (point.timeMs - open.endMs > MERGE_MS) return { state: { ...state, open: null }, changed: [] };
      return { state, changed: [] };
    }
    const settled: OpenRise = { ...open, after: [...open.after, point.levelMm] };
    return record({ ...state, open: settled }, around, settled);
  }
  const smoothMm = medianLevel(recent.levelMm, recent.levelMm.length, 3)!;
  if (smoothMm > open.topMm + 0.5 * around.noiseMm) {
    const risen: OpenRise = { ...open, endMs: point.timeMs, topMm: smoothMm };
    return record({ ...state, open: risen }, around, risen);
  }
  if (point.timeMs - open.endMs > RISE_OVER_MS) return { state: { ...state, open: null }, changed: [] };
  return { state, changed: [] };
}

/**
 * Looks for a rise that no single reading shows: a step within the noise, or a slow climb. Means of four readings are
 * compared, so that the level's noise counts half.
 */
function lookForRise(state: EventState, around: EventSurroundings, point: LevelPoint, recent: RecentLevels): EventStep {
  const { levelMm, timeMs } = recent;
  const count = levelMm.length;
  const fromMs = Math.max(state.riseFromMs, point.timeMs - RISE_LOOKBACK_MS);
  const last = count - WINDOW;
  if (last < WINDOW || timeMs[last - WINDOW]! < fromMs) return { state, changed: [] };
  const topMm = meanOfWindow(levelMm, last);
  const beforeMm = meanOfWindow(levelMm, last - WINDOW);
  const stepMm = topMm - beforeMm;
  if (stepMm >= Math.max(STEP_MM, STEP_SDS * around.noiseMm) && isStep(levelMm, last, stepMm)) {
    const rise = openRise(around, timeMs[last - 1]!, beforeMm, point.timeMs, topMm, true);
    return record({ ...state, open: { ...rise, after: levelMm.slice(last) } }, around, rise);
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
  if (lowIndex < 0 || topMm - lowMm < least) return { state, changed: [] };
  const rise = openRise(around, timeMs[lowIndex]!, lowMm, point.timeMs, topMm, false);
  return record({ ...state, open: rise }, around, rise);
}

function openRise(
  around: EventSurroundings,
  startMs: EpochMs,
  startMm: number,
  endMs: EpochMs,
  topMm: number,
  fast: boolean,
): OpenRise {
  return {
    id: `${around.ctx.container.id}.gain.${startMs}`,
    startMs,
    startMm,
    startLitres: around.strapping.litresAt(startMm),
    endMs,
    topMm,
    fast,
    after: [topMm],
  };
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

function jumpDown(
  state: EventState,
  around: EventSurroundings,
  result: CleaningResult,
  recentBefore: RecentLevels,
  point: LevelPoint,
): EventStep {
  const jump = result.jump!;
  const first = result.accepted[0]!;
  const closed: EventState = { ...state, open: null, lastJumpMs: first.timeMs };
  const startMm = medianLevel(recentBefore.levelMm, recentBefore.levelMm.length, 4) ?? jump.beforeMm;
  const fallMm = startMm - jump.afterMm;
  if (around.rewetting || fallMm < Math.max(LOSS_MM, 6 * around.noiseMm)) return { state: closed, changed: [] };
  const drained = state.reports.some(
    (report) => report.work === 'drain' && Math.abs(report.timeMs - point.timeMs) <= REPORT_WINDOW_MS,
  );
  const event: PotEvent = {
    id: `${around.ctx.container.id}.loss.${jump.beforeMs}`,
    containerId: around.ctx.container.id,
    kind: drained ? 'drained' : 'sudden_loss',
    startMs: jump.beforeMs,
    endMs: point.timeMs,
    startLevelMm: startMm,
    endLevelMm: jump.afterMm,
    litres: Math.max(0, around.strapping.litresAt(startMm) - around.strapping.litresAt(jump.afterMm)),
    atLeast: false,
    confidence: drained ? 0.98 : 0.8,
  };
  const found = {
    event,
    shapeScore: null,
    byCrew: drained,
    pouredLitres: null,
    corrected: false,
    doubtful: false,
    untold: false,
  };
  return put({ ...closed, riseFromMs: first.timeMs }, corrected(found, state) ?? found);
}

/** Makes or revises the event of a rise. */
function record(state: EventState, around: EventSurroundings, rise: OpenRise): EventStep {
  if (isTold(state, rise.startMs, rise.endMs)) return { state: { ...state, riseFromMs: rise.endMs }, changed: [] };
  const endMm = rise.fast ? medianLevel(rise.after, rise.after.length, 3)! : rise.topMm;
  const spreadHours = (rise.endMs - rise.startMs) / HOUR_MS;
  const hour = around.wallHour(rise.startMs);
  const riseMm = endMm - rise.startMm;
  let shapeScore = rise.fast ? (riseMm >= SURELY_POURED_MM ? 7 : 4) : 0;
  if (!rise.fast && spreadHours > 3) shapeScore -= 3;
  if (hour >= 21 || hour < 6) shapeScore -= 1.5;
  const event: PotEvent = {
    id: rise.id,
    containerId: around.ctx.container.id,
    kind: 'refill',
    startMs: rise.startMs,
    endMs: rise.endMs,
    startLevelMm: rise.startMm,
    endLevelMm: endMm,
    litres: Math.max(0, around.strapping.litresAt(endMm) - rise.startLitres),
    atLeast: endMm >= around.ctx.container.reservoir.overflowMm - INVERT_MARGIN_MM,
    confidence: 0.5,
  };
  const doubtful = !rise.fast && (riseMm < Math.max(TOLD_RISE_MM, TOLD_RISE_SDS * around.noiseMm) || spreadHours > 3);
  const judged = judge(
    { event, shapeScore, byCrew: false, pouredLitres: null, corrected: false, doubtful, untold: doubtful },
    state,
    around,
  );
  return put({ ...state, riseFromMs: rise.endMs }, judged);
}
