import type { PotInput } from '../domain/analysis.js';
import type { PotEvent } from '../domain/pot.js';
import {
  type CorrectionMemo,
  type EventRecord,
  type EventState,
  type EventStep,
  type EventSurroundings,
  put,
  quiet,
  type Spill,
} from './event-records.js';

const MEMOS = 50;
/** An event that a person told of and a gain that is seen this close to it are one and the same. */
export const SAME_MS = 3_600_000;
const GAINS: ReadonlySet<PotEvent['kind']> = new Set(['refill', 'rain']);

type Correction = Extract<PotInput, { kind: 'correction' }>;

/** Takes a person's word: kept for the event that is to be seen, or told at once where nothing was seen. */
export function takeCorrection(
  state: EventState,
  around: EventSurroundings,
  correction: Correction,
  levelMm: number | null,
): EventStep {
  const { eventId, correctedKind, litres, startMs } = correction;
  if (correction.added) {
    if (correctedKind === 'none') return quiet(state);
    return put(state, toldRecord(around, correction, correctedKind, levelMm ?? 0));
  }
  const memo: CorrectionMemo = { eventId, kind: correctedKind, litres, startMs };
  const others = state.corrections.filter((entry) => entry.eventId !== eventId);
  return quiet({ ...state, corrections: [...others.slice(1 - MEMOS), memo] });
}

/** The record as a person said; null where nobody said anything of it. Litres and kind are beyond doubt then. */
export function corrected(record: EventRecord, state: EventState): EventRecord | null {
  const memo = state.corrections.find((entry) => entry.eventId === record.event.id);
  if (memo === undefined) return null;
  const { event } = record;
  const denied = memo.kind === 'none';
  const startMs = memo.startMs ?? event.startMs;
  return {
    ...record,
    corrected: true,
    untold: denied,
    event: {
      ...event,
      kind: memo.kind === 'none' ? event.kind : memo.kind,
      litres: denied ? 0 : (memo.litres ?? event.litres),
      atLeast: memo.litres === null && event.atLeast,
      startMs,
      endMs: Math.max(event.endMs, startMs),
      confidence: 1,
    },
  };
}

/** What went out by the port, as a person said; undefined where nobody said anything of it. */
export function correctedSpill(state: EventState, overflowId: string, found: Spill | null): Spill | null | undefined {
  const memo = state.corrections.find((entry) => entry.eventId === overflowId);
  if (memo === undefined) return undefined;
  if (memo.kind === 'none') return null;
  const litres = memo.litres ?? found?.litres ?? null;
  return litres === null ? null : { litres, confidence: 1 };
}

/** A person told of this very gain before it was seen: the levels have nothing to add. */
export function isTold(state: EventState, startMs: number, endMs: number): boolean {
  return state.records.some(
    ({ event, corrected: told, shape }) =>
      told &&
      shape === null &&
      GAINS.has(event.kind) &&
      event.startMs >= startMs - SAME_MS &&
      event.startMs <= endMs + SAME_MS,
  );
}

function toldRecord(
  around: EventSurroundings,
  correction: Correction,
  kind: PotEvent['kind'],
  levelMm: number,
): EventRecord {
  const litres = correction.litres ?? 0;
  const sign = GAINS.has(kind) ? 1 : -1;
  const standing = around.strapping.litresAt(levelMm);
  const event: PotEvent = {
    id: correction.eventId,
    containerId: around.ctx.container.id,
    kind,
    startMs: correction.timeMs,
    endMs: correction.timeMs,
    startLevelMm: levelMm,
    endLevelMm: around.strapping.levelAt(Math.max(0, standing + sign * litres)),
    litres,
    atLeast: false,
    confidence: 1,
  };
  return {
    event,
    shape: null,
    byCrew: false,
    pouredLitres: null,
    spill: null,
    corrected: true,
    doubtful: false,
    untold: false,
  };
}
