import type { EpochMs } from '../../../domain/ids.js';
import { DAY_MS, HOUR_MS } from '../../../domain/local-day.js';
import type { Block } from '../../block.js';
import type { CleanReading } from '../../clean-reading.js';
import type { PotView } from '../../pot-view.js';

/**
 * What the soil took up during each block. After a dry spell the soil takes water back as fast as a leak would lose it;
 * the moisture sensor tells the two apart.
 */
export interface SoilGainState {
  /** Smoothed moisture about every hour of the last two days: [time, fraction]. */
  readonly track: readonly (readonly [EpochMs, number])[];
  readonly smooth: number | null;
  readonly lastMs: EpochMs;
  /** For each block of the last 90 days with a known gain: [start, litres per day into the soil]. */
  readonly gains: readonly (readonly [EpochMs, number])[];
}

export const NO_SOIL_GAIN: SoilGainState = { track: [], smooth: null, lastMs: 0, gains: [] };

const SMOOTHING_MS = 1.5 * HOUR_MS;
const STEP_MS = HOUR_MS;
const TRACK_MS = 48 * HOUR_MS;
const GAINS_MS = 91 * DAY_MS;
/** A track this far from a block's end says nothing about it. */
const NEAREST_MS = 3 * HOUR_MS;

export function soilGainOnReading(state: SoilGainState, reading: CleanReading): SoilGainState {
  const moisture = reading.moistureFraction;
  if (moisture === null) return state;
  const gapMs = reading.timeMs - state.lastMs;
  const weight = state.smooth === null ? 1 : 1 - Math.exp(-gapMs / SMOOTHING_MS);
  const smooth = (state.smooth ?? moisture) + weight * (moisture - (state.smooth ?? moisture));
  const lastTracked = state.track[state.track.length - 1]?.[0] ?? Number.NEGATIVE_INFINITY;
  if (reading.timeMs - lastTracked < STEP_MS) return { ...state, smooth, lastMs: reading.timeMs };
  const track = state.track.filter((entry) => entry[0] > reading.timeMs - TRACK_MS);
  return {
    ...state,
    smooth,
    lastMs: reading.timeMs,
    track: [...track, [reading.timeMs, Math.round(smooth * 1e4) / 1e4]],
  };
}

export function soilGainOnBlock(view: PotView, state: SoilGainState, block: Block): SoilGainState {
  const { soil } = view.ctx.container;
  const from = moistureAt(state, block.startMs);
  const to = moistureAt(state, block.endMs);
  if (soil === null || from === null || to === null) return state;
  const days = (block.endMs - block.startMs) / DAY_MS;
  const gain = Math.round((((to - from) * soil.litres) / days) * 100) / 100;
  const kept = state.gains.filter((entry) => entry[0] > block.startMs - GAINS_MS);
  return { ...state, gains: [...kept, [block.startMs, gain]] };
}

function moistureAt(state: SoilGainState, ms: EpochMs): number | null {
  let best: number | null = null;
  let nearest = NEAREST_MS;
  for (const [timeMs, moisture] of state.track) {
    const apart = Math.abs(timeMs - ms);
    if (apart <= nearest) {
      nearest = apart;
      best = moisture;
    }
  }
  return best;
}
