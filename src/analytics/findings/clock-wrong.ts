import type { EpochMs } from '../../domain/ids.js';
import { DAY_MS, HOUR_MS } from '../../domain/local-day.js';
import type { FindingDraft } from '../../domain/pot.js';
import type { CleanReading } from '../clean-reading.js';
import type { PotView } from '../pot-view.js';
import { makeDraft, say } from './draft.js';

/**
 * The newest reading of every message should be minutes old when it arrives. A backlog makes some messages late, a
 * wrong clock makes all of them early or late by the same time.
 */
export interface ClockState {
  /** The message being received and the least age of its readings. */
  readonly receivedMs: EpochMs | null;
  readonly leastAgeMs: number;
  /** Least ages of the last messages, oldest first. */
  readonly ages: readonly number[];
  /** When those messages came. */
  readonly receipts: readonly EpochMs[];
  /** The newest reading so far: a repeat or a backlog of older readings says nothing about the clock. */
  readonly newestMs: EpochMs;
}

export const NO_CLOCK: ClockState = { receivedMs: null, leastAgeMs: 0, ages: [], receipts: [], newestMs: 0 };

const KEPT = 12;
const LEAST_MESSAGES = 8;
/** Twelve messages of a quarter of an hour span more than this, also where one is lost. */
const LEAST_SPAN_MS = 2 * HOUR_MS;
const LATE_MS = 20 * 60_000;
const EARLY_MS = 2 * 60_000;
/** Messages that were loaded from a file long after say nothing about a clock. */
const LONGEST_MS = 20 * DAY_MS;
/** A wrong clock is wrong by the same; a slow radio is late by anything. */
const SPREAD_MS = 10 * 60_000;

export function clockOnReading(state: ClockState, reading: CleanReading): ClockState {
  const ageMs = reading.receivedMs - reading.timeMs;
  if (state.receivedMs === reading.receivedMs) {
    return { ...state, leastAgeMs: Math.min(state.leastAgeMs, ageMs), newestMs: reading.timeMs };
  }
  const fresh = { receivedMs: reading.receivedMs, leastAgeMs: ageMs, newestMs: reading.timeMs };
  if (state.receivedMs === null) return { ...state, ...fresh };
  return {
    ...state,
    ...fresh,
    ages: [...state.ages, state.leastAgeMs].slice(-KEPT),
    receipts: [...state.receipts, state.receivedMs].slice(-KEPT),
  };
}

export function clockWrong(view: PotView, state: ClockState): FindingDraft | null {
  const { ages } = state;
  if (ages.length < LEAST_MESSAGES) return null;
  // A backlog comes in many messages within minutes, all of them old.
  if (Math.max(...state.receipts) - Math.min(...state.receipts) < LEAST_SPAN_MS) return null;
  const least = Math.min(...ages);
  const greatest = Math.max(...ages);
  const late = least > LATE_MS && greatest < LONGEST_MS && greatest - least < SPREAD_MS + 0.2 * least;
  const sorted = [...ages].sort((a, b) => a - b);
  const typical = sorted[sorted.length >> 1]!;
  const early = typical < -EARLY_MS;
  if (!late && !early) return null;
  // A node that sends once in a while is as old as its interval at most; promised intervals count.
  const interval = (view.promisedIntervalS ?? view.learntIntervalS ?? 0) * 1000;
  if (late && least < 1.5 * interval) return null;
  const offsetMs = late ? least : typical;
  return makeDraft(view, 'clock_wrong', {
    size: -offsetMs / HOUR_MS,
    unit: 'h',
    confidence: 0.85,
    severity: 'low',
    evidence: [
      late
        ? say('finding.clock_wrong.behind', { offMinutes: offsetMs / 60_000, messages: ages.length })
        : say('finding.clock_wrong.ahead', { offMinutes: -offsetMs / 60_000, messages: ages.length }),
    ],
    toConfirm: say('finding.clock_wrong.confirm'),
  });
}
