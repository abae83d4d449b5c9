import type { EpochMs } from '../domain/ids.js';
import { HOUR_MS } from '../domain/local-day.js';
import type { Knowledge } from '../domain/pot.js';
import type { PotState } from './state.js';

/** Days of use that the demand filter must have seen before its rate is more than the planting's class. */
export const LEARNING_DAYS = 5;
/** A node is silent after this many of its intervals, and not before six hours. */
const SILENT_INTERVALS = 6;
const SILENT_LEAST_MS = 6 * HOUR_MS;

/** How much is known of the pot at an instant. */
export function knowledgeOf(state: PotState, nowMs: EpochMs): Knowledge {
  if (state.assignment.ended) return 'no_node';
  if (state.latest.readingMs === null) return state.assignment.nodeId === null ? 'no_node' : 'learning';
  if (nowMs - state.latest.readingMs > silentAfterMs(state)) return 'silent';
  if (state.cleaning.levelMm === null || nowMs - state.cleaning.levelMs > silentAfterMs(state)) return 'sensor_fault';
  if (state.demand.days < LEARNING_DAYS) return 'learning';
  return 'known';
}

export function silentAfterMs(state: PotState): number {
  const intervalS = Math.max(state.assignment.promisedIntervalS ?? 0, state.cleaning.intervalS ?? 0);
  return Math.max(SILENT_INTERVALS * intervalS * 1000, SILENT_LEAST_MS);
}
