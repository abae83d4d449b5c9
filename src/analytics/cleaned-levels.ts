import type { PotContext, PotInput } from '../domain/analysis.js';
import type { EpochMs, NodeId } from '../domain/ids.js';
import type { CleanReading } from './clean-reading.js';
import { Fold } from './fold.js';
import type { PotState } from './state.js';
import { atReferenceMm, temperatureCorrection } from './temperature-correction.js';

/**
 * Why a level is what it is after cleaning.
 * smoothed: within what noise and use allow; it moved the filtered level by a share. temperature: likewise, and restated
 * for what the sensor reads too high or low at its temperature. jump: it and a neighbour agree on a new level. waits:
 * outside of what was expected, and nothing came after it yet. astray: outside, and the next reading did not agree.
 * stuck: repeated to the last digit for longer than water stands still. impossible: outside what the vessel can hold.
 * no_level: the reading carried none.
 */
export type CleaningReason =
  | 'smoothed'
  | 'temperature'
  | 'jump'
  | 'waits'
  | 'astray'
  | 'stuck'
  | 'impossible'
  | 'no_level';

export interface CleanedLevel {
  readonly nodeId: NodeId;
  readonly timeMs: EpochMs;
  /** Null where the level was refused. */
  readonly levelMm: number | null;
  readonly reason: CleaningReason;
}

/**
 * Folds as `advance` does, and tells for each reading what became of its level.
 * @param before what earlier calls told; the last of it may have waited for these readings
 */
export function cleanedLevels(
  ctx: PotContext,
  state: PotState,
  inputs: readonly PotInput[],
  before: readonly CleanedLevel[] = [],
): { readonly state: PotState; readonly levels: readonly CleanedLevel[] } {
  const levels = [...before];
  const fold = new Fold(ctx, state, (reading, now) => {
    if (reading.verdict === 'jump') settleWaiting(levels, 'jump', reading.rawLevelMm);
    else if (reading.heldWasOutlier) settleWaiting(levels, 'astray', null);
    levels.push(cleaned(reading, now));
  });
  for (const input of inputs) fold.take(input);
  return { state: fold.result(false).state, levels };
}

/** The reading that waited for this one knows by now what it was. */
function settleWaiting(levels: CleanedLevel[], reason: CleaningReason, levelMm: number | null): void {
  for (let i = levels.length - 1; i >= 0; i--) {
    const level = levels[i]!;
    if (level.reason !== 'waits') continue;
    levels[i] = { ...level, reason, levelMm };
    return;
  }
}

function cleaned(reading: CleanReading, state: PotState): CleanedLevel {
  const { nodeId, timeMs, verdict, levelMm, temperatureC } = reading;
  const counts = verdict === 'accepted' || verdict === 'jump';
  if (!counts || levelMm === null) {
    const reason = verdict === 'held' ? 'waits' : verdict === 'accepted' || verdict === 'jump' ? 'no_level' : verdict;
    return { nodeId, timeMs, levelMm: null, reason };
  }
  const restatedMm = atReferenceMm(levelMm, temperatureC, temperatureCorrection(state.temperature));
  const reason = verdict === 'jump' ? 'jump' : restatedMm === levelMm ? 'smoothed' : 'temperature';
  return { nodeId, timeMs, levelMm: Math.round(restatedMm * 100) / 100, reason };
}
