import type { EpochMs } from '../../domain/ids.js';
import type { FindingDraft, PotEvent } from '../../domain/pot.js';
import type { Block } from '../block.js';
import type { CleanReading } from '../clean-reading.js';
import type { DayRecord } from '../day-record.js';
import type { PotView } from '../pot-view.js';
import { type KnownLeak, type LeakState, leakFinding, leakOnDay, NO_LEAK } from './leak/leak.js';
import { NO_SILENCE, nodeSilent, type SilenceState, silenceOnReading } from './node-silent.js';
import { NO_PORT, overflowPort, type PortState, portOnReading } from './overflow-port.js';

/** What the findings remember of one pot: plain JSON of bounded size, one part for each. */
export interface FindingState {
  readonly silence: SilenceState;
  readonly port: PortState;
  readonly leak: LeakState;
}

export function startFindings(): FindingState {
  return { silence: NO_SILENCE, port: NO_PORT, leak: NO_LEAK };
}

/** Takes a cleaned reading; the view is of the moment after it. O(1). */
export function observeReading(view: PotView, state: FindingState, reading: CleanReading): FindingState {
  return {
    ...state,
    silence: silenceOnReading(state.silence, reading),
    port: portOnReading(view, state.port, reading),
  };
}

/** Takes a finished stretch of drawdown; `view.blocks` holds it already. */
export function observeBlock(_view: PotView, state: FindingState, _block: Block): FindingState {
  return state;
}

/** Takes a finished day at dawn; `view.days` holds it already. Under 2 ms with 90 days of blocks. */
export function observeDay(view: PotView, state: FindingState, day: DayRecord): FindingState {
  return { ...state, leak: leakOnDay(view, state.leak, day) };
}

/** Takes an event when it is first seen and again whenever it is judged anew (the same id). */
export function observeEvent(_view: PotView, state: FindingState, _event: PotEvent): FindingState {
  return state;
}

/** Everything that seems wrong at an instant at or after the last reading, the gravest first within a kind's rank. */
export function currentFindings(view: PotView, state: FindingState, nowMs: EpochMs): readonly FindingDraft[] {
  const drafts = [
    nodeSilent(view, state.silence, nowMs),
    overflowPort(view, state.port, nowMs),
    leakFinding(view, state.leak),
  ];
  return drafts.filter((draft) => draft !== null);
}

/** The leak that is held to exist, for the forecast and the ledger; null where none is. */
export function knownLeak(state: FindingState): KnownLeak | null {
  return state.leak.open;
}
