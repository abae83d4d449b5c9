import type { EpochMs } from '../domain/ids.js';
import type { Clock } from '../domain/ports/clock.js';

/** A clock that runs at another speed: at process instant `startProcessMs` it showed `startBusinessMs`. */
export interface ClockScale {
  readonly startBusinessMs: EpochMs;
  readonly startProcessMs: EpochMs;
  /** Business seconds in one real second; above 0. */
  readonly speed: number;
}

/** The machine's clock. */
export const systemClock: Clock = { nowMs: () => Date.now() };

/**
 * The business clock by its scale: any two processes with the same scale agree on it. Whole milliseconds, since all
 * instants are.
 */
export function scaledClock(scale: ClockScale, processClock: Clock): Clock {
  const { startBusinessMs, startProcessMs, speed } = scale;
  return { nowMs: () => Math.round(startBusinessMs + (processClock.nowMs() - startProcessMs) * speed) };
}
