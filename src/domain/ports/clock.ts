import type { EpochMs } from '../ids.js';

/** The business clock: jobs, alarms and forecasts follow it; the demo runs it faster. */
export interface Clock {
  nowMs(): EpochMs;
}

/** Uniform in [0, 1). */
export type Rng = () => number;
