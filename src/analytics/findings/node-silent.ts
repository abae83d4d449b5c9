import type { EpochMs } from '../../domain/ids.js';
import { DAY_MS, HOUR_MS } from '../../domain/local-day.js';
import type { FindingDraft } from '../../domain/pot.js';
import type { CleanReading } from '../clean-reading.js';
import type { PotView } from '../pot-view.js';
import { makeDraft, say } from './draft.js';

/** What a node's own record says about its gaps. */
export interface SilenceState {
  readonly lastMs: EpochMs | null;
  /** When it was last heard, by the time of receipt: a node whose clock is a day behind is not silent. */
  readonly heardMs: EpochMs | null;
  /** The longest gap of late, forgotten by a tenth a day: a node that often pauses is given more time. */
  readonly usualGapMs: number;
}

export const NO_SILENCE: SilenceState = { lastMs: null, heardMs: null, usualGapMs: 0 };

/** Readings that may be missing before it is said. Radio loses one in ten; six in a row is one in a million. */
const MISSING_INTERVALS = 6;
const SHORTEST_MS = 12 * HOUR_MS;
const LONGEST_MS = 26 * HOUR_MS;
/** A reading received later than this after its time is a history that was loaded, no sign of life. */
const LATEST_MS = 30 * HOUR_MS;
const GAP_FACTOR = 2;
const FORGETTING_PER_DAY = 0.1;
/** Half an hour between readings where nothing was promised and too little was seen. */
const ASSUMED_INTERVAL_S = 1800;

export function silenceOnReading(state: SilenceState, reading: CleanReading): SilenceState {
  const heardMs = Math.max(state.heardMs ?? 0, Math.min(reading.receivedMs, reading.timeMs + LATEST_MS));
  if (state.lastMs === null) return { lastMs: reading.timeMs, heardMs, usualGapMs: 0 };
  const gapMs = reading.timeMs - state.lastMs;
  const kept = state.usualGapMs * Math.exp((-FORGETTING_PER_DAY * gapMs) / DAY_MS);
  // One long outage does not teach that long outages are usual.
  const counted = Math.min(gapMs, LONGEST_MS / 2);
  return { lastMs: reading.timeMs, heardMs, usualGapMs: Math.round(Math.max(kept, counted)) };
}

/** Silence after which a node's pot is unknown, ms. */
export function silenceLimitMs(view: PotView, state: SilenceState): number {
  const intervalS = longestInterval(view) ?? ASSUMED_INTERVAL_S;
  const byInterval = MISSING_INTERVALS * intervalS * 1000;
  return Math.min(Math.max(LONGEST_MS, byInterval), Math.max(SHORTEST_MS, byInterval, GAP_FACTOR * state.usualGapMs));
}

/** The promise counts, unless the node has been seen to keep a longer interval. */
function longestInterval(view: PotView): number | null {
  const { promisedIntervalS: promised, learntIntervalS: learnt } = view;
  if (promised === null) return learnt;
  return learnt === null ? promised : Math.max(promised, learnt);
}

function heardOf(view: PotView, state: SilenceState): EpochMs | null {
  if (view.lastReadingMs === null) return view.assignedMs;
  // A node that was put on after the last reading has its time to speak first.
  return Math.max(view.lastReadingMs, state.heardMs ?? 0, view.assignedMs ?? 0);
}

export function nodeSilent(view: PotView, state: SilenceState, nowMs: EpochMs): FindingDraft | null {
  if (view.nodeId === null) return null;
  const heardMs = heardOf(view, state);
  if (heardMs === null) return null;
  const silentMs = nowMs - heardMs;
  const limitMs = silenceLimitMs(view, state);
  if (silentMs <= limitMs) return null;
  const silentHours = silentMs / HOUR_MS;
  const intervalS = longestInterval(view);
  return makeDraft(view, 'node_silent', {
    onsetMs: heardMs,
    size: silentHours,
    unit: 'h',
    confidence: silentMs > 2 * limitMs ? 0.98 : 0.9,
    severity: silentMs > DAY_MS ? 'high' : 'medium',
    evidence: [
      view.lastReadingMs === null
        ? say('finding.node_silent.never', { sinceMs: heardMs })
        : say('finding.node_silent.since', { lastMs: heardMs, silentHours }),
      view.promisedIntervalS !== null
        ? say('finding.node_silent.promised', { intervalMinutes: (view.promisedIntervalS ?? 0) / 60 })
        : say('finding.node_silent.learnt', { intervalMinutes: intervalS === null ? null : intervalS / 60 }),
    ],
    toConfirm: say('finding.node_silent.confirm'),
  });
}
