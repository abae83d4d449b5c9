import type { EpochMs, NodeId } from '../domain/ids.js';

/**
 * What became of a reading's level.
 * accepted: within the gate of what was expected. held: outside it; the next reading decides.
 * jump: the second of two readings that agree on a new level, both of which count.
 * no_level: the reading carried none. stuck: repeated to the last digit for longer than the water could stand still.
 * impossible: outside what the vessel can hold.
 */
export type Verdict = 'accepted' | 'held' | 'jump' | 'no_level' | 'stuck' | 'impossible';

/** A reading after cleaning, in the order of its time; findings see each one once. */
export interface CleanReading {
  readonly nodeId: NodeId;
  readonly timeMs: EpochMs;
  readonly receivedMs: EpochMs;
  readonly verdict: Verdict;
  /** A reading held before this one turned out to be an outlier. */
  readonly heldWasOutlier: boolean;
  /** As measured. */
  readonly rawLevelMm: number | null;
  /** Filtered level after the reading; null before the first level. */
  readonly levelMm: number | null;
  readonly litres: number | null;
  /** Hours since the level reading before. */
  readonly gapHours: number | null;
  /** White noise of the level, quantisation included. */
  readonly noiseMm: number;
  readonly moistureFraction: number | null;
  readonly temperatureC: number | null;
  readonly batteryV: number | null;
  readonly batteryFraction: number | null;
}
