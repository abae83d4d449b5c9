import type { PotEvent } from '../domain/pot.js';
import type { CleaningResult, LevelPoint } from './cleaning.js';
import { corrected, isTold } from './correct-event.js';
import {
  type EventRecord,
  type EventState,
  type EventStep,
  type EventSurroundings,
  type OpenRise,
  put,
  quiet,
} from './event-records.js';
import { judge, REPORT_WINDOW_MS } from './judge-event.js';
import { medianLevel, type RecentLevels } from './recent.js';
import { findRise, moistureIn, openRise, steepest } from './rise.js';
import { INVERT_MARGIN_MM } from './spill.js';

const HOUR_MS = 3_600_000;
/** A refill is a jump of at least this. */
const REFILL_MM = 8;
/** A slow climb is told as a refill only if it is large; smaller ones are booked, but no event is made of them. */
const TOLD_RISE_MM = 12;
const TOLD_RISE_SDS = 6;
const TOLD_RISE_HOURS = 3;
/** A sudden loss is a fall of at least this between two readings: nothing that a thirsty soil does. */
const LOSS_MM = 12;
/** A loss is told once so many further readings agree with it: two that go astray together are no loss. */
const LOSS_AGREED = 2;
const MERGE_MS = HOUR_MS;
/** A slow rise that has stood still for so long is over. */
const RISE_OVER_MS = 3 * HOUR_MS;
/** Moisture of this long after a rise speaks for what it brought. */
const AFTER_MS = 1.5 * HOUR_MS;
/** A level that has come back to where it was, to this many sds and mm. */
const BACK_SDS = 4;
const BACK_MM = 6;

/** Looks at the points that a reading added. O(points of 10 h). */
export function observeLevels(
  state: EventState,
  around: EventSurroundings,
  result: CleaningResult,
  recentBefore: RecentLevels,
  recent: RecentLevels,
): EventStep {
  const point = result.accepted[result.accepted.length - 1];
  if (point === undefined) return quiet(state);
  if (result.jump !== null) {
    return result.jump.afterMm > result.jump.beforeMm
      ? jumpUp(state, around, result, recentBefore, recent)
      : jumpDown(state, around, result, recentBefore, point);
  }
  if (state.openLoss !== null) return followLoss(state, state.openLoss);
  if (state.open !== null) return followRise(state, around, state.open, point, recent);
  const rise = findRise(state, around, point, recent);
  if (rise === null) return quiet(state);
  return record({ ...state, open: rise }, around, rise, point.timeMs);
}

function jumpUp(
  before: EventState,
  around: EventSurroundings,
  result: CleaningResult,
  recentBefore: RecentLevels,
  recent: RecentLevels,
): EventStep {
  const jump = result.jump!;
  const first = result.accepted[0]!;
  const last = result.accepted[result.accepted.length - 1]!;
  const { openLoss } = before;
  if (openLoss !== null && Math.abs(jump.afterMm - openLoss.beforeMm) <= backMm(around)) {
    return wentAstray(before, openLoss.id, last.timeMs);
  }
  const state: EventState = { ...before, openLoss: null, lastJumpMs: first.timeMs };
  const after = result.accepted.map((point) => point.levelMm);
  const { open } = state;
  if (open !== null && first.timeMs - open.endMs <= MERGE_MS) {
    const merged: OpenRise = {
      ...open,
      endMs: last.timeMs,
      topMm: Math.max(open.topMm, jump.afterMm),
      fast: true,
      after,
      steepestMm: steepest(recent, open.startMs, open.steepestMm),
    };
    return record({ ...state, open: merged }, around, merged, last.timeMs);
  }
  const startMm = medianLevel(recentBefore.levelMm, recentBefore.levelMm.length, 4) ?? jump.beforeMm;
  const big = jump.afterMm - startMm >= Math.max(REFILL_MM, 4 * around.noiseMm);
  if (!big) return quiet(state);
  const found = openRise(state, around, jump.beforeMs, startMm, last.timeMs, jump.afterMm, recent);
  const rise: OpenRise = { ...found, fast: true, after };
  return record({ ...state, open: rise }, around, rise, last.timeMs);
}

function backMm(around: EventSurroundings): number {
  return Math.max(BACK_MM, BACK_SDS * around.noiseMm);
}

/** The level is back where it was: the two readings that agreed on another one had gone astray together. */
function wentAstray(state: EventState, id: string, timeMs: number): EventStep {
  const records = state.records.filter((known) => known.event.id !== id);
  const calm: EventState = { ...state, records, open: null, openLoss: null, lastJumpMs: timeMs, riseFromMs: timeMs };
  return { state: calm, changed: [], gone: [id] };
}

/** A further reading agrees with a loss. */
function followLoss(state: EventState, loss: NonNullable<EventState['openLoss']>): EventStep {
  if (loss.agreed + 1 < LOSS_AGREED) {
    return quiet({ ...state, openLoss: { ...loss, agreed: loss.agreed + 1 } });
  }
  return tellLoss(state, loss.id);
}

function tellLoss(state: EventState, lossId: string): EventStep {
  const found = state.records.find((known) => known.event.id === lossId);
  const closed: EventState = { ...state, openLoss: null };
  if (found === undefined) return quiet(closed);
  const told = { ...found, untold: false };
  return put(closed, corrected(told, state) ?? told);
}

function followRise(
  state: EventState,
  around: EventSurroundings,
  open: OpenRise,
  point: LevelPoint,
  recent: RecentLevels,
): EventStep {
  if (open.fast) {
    if (open.after.length < 3) {
      const settled: OpenRise = { ...open, after: [...open.after, point.levelMm] };
      return record({ ...state, open: settled }, around, settled, point.timeMs);
    }
    return point.timeMs - open.endMs > MERGE_MS ? closeRise(state, around, open, point.timeMs) : quiet(state);
  }
  const smoothMm = medianLevel(recent.levelMm, recent.levelMm.length, 3)!;
  if (smoothMm > open.topMm + 0.5 * around.noiseMm) {
    const steepestMm = steepest(recent, open.startMs, open.steepestMm);
    const risen: OpenRise = { ...open, endMs: point.timeMs, topMm: smoothMm, steepestMm };
    return record({ ...state, open: risen }, around, risen, point.timeMs);
  }
  if (point.timeMs - open.endMs > RISE_OVER_MS) return closeRise(state, around, open, point.timeMs);
  return quiet(state);
}

/** Judges a rise for the last time on its own: by now the soil shows whether water came from above. */
function closeRise(state: EventState, around: EventSurroundings, open: OpenRise, nowMs: number): EventStep {
  const step = record(state, around, open, nowMs);
  return { ...step, state: { ...step.state, open: null } };
}

function jumpDown(
  before: EventState,
  around: EventSurroundings,
  result: CleaningResult,
  recentBefore: RecentLevels,
  point: LevelPoint,
): EventStep {
  const jump = result.jump!;
  const first = result.accepted[0]!;
  // It falls in steps: the first was no reading gone astray.
  const prior = before.openLoss === null ? quiet(before) : tellLoss(before, before.openLoss.id);
  const { state } = prior;
  const closed: EventState = { ...state, open: null, openLoss: null, lastJumpMs: first.timeMs };
  const startMm = medianLevel(recentBefore.levelMm, recentBefore.levelMm.length, 4) ?? jump.beforeMm;
  const fallMm = startMm - jump.afterMm;
  const { open } = state;
  if (open?.fast && open.after.length <= 2 && Math.abs(jump.afterMm - open.startMm) <= backMm(around)) {
    return wentAstray(state, open.id, point.timeMs);
  }
  if (around.rewetting || fallMm < Math.max(LOSS_MM, 6 * around.noiseMm)) {
    return { ...prior, state: closed };
  }
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
  const found: EventRecord = {
    event,
    shape: null,
    byCrew: drained,
    pouredLitres: null,
    spill: null,
    corrected: false,
    doubtful: false,
    untold: !drained,
  };
  const openLoss = drained ? null : { id: event.id, beforeMm: startMm, endMs: point.timeMs, agreed: 0 };
  const step = put({ ...closed, openLoss, riseFromMs: first.timeMs }, corrected(found, state) ?? found);
  return { ...step, changed: [...prior.changed, ...step.changed] };
}

/** Makes or revises the event of a rise, as it looks at an instant. */
function record(state: EventState, around: EventSurroundings, rise: OpenRise, nowMs: number): EventStep {
  if (isTold(state, rise.startMs, rise.endMs)) return quiet({ ...state, riseFromMs: rise.endMs });
  const endMm = rise.fast ? medianLevel(rise.after, rise.after.length, 3)! : rise.topMm;
  const spreadHours = (rise.endMs - rise.startMs) / HOUR_MS;
  const riseMm = endMm - rise.startMm;
  const moistureAfter = moistureIn(state, rise.endMs, Math.min(nowMs, rise.endMs + AFTER_MS));
  const { moistureBefore } = rise;
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
  const small = riseMm < Math.max(TOLD_RISE_MM, TOLD_RISE_SDS * around.noiseMm);
  const doubtful = !rise.fast && (small || spreadHours > TOLD_RISE_HOURS);
  const found: EventRecord = {
    event,
    shape: {
      suddenShare: riseMm > 0 ? rise.steepestMm / riseMm : 1,
      moistureGain: moistureAfter === null || moistureBefore === null ? null : moistureAfter - moistureBefore,
    },
    byCrew: false,
    pouredLitres: null,
    spill: null,
    corrected: false,
    doubtful,
    untold: doubtful,
  };
  return put({ ...state, riseFromMs: rise.endMs }, judge(found, state, around));
}
