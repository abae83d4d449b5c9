import type { EpochMs } from '../domain/ids.js';

/** Memory of the level filter. Levels in mm above the reservoir floor, as measured. */
export interface CleaningState {
  /** Filtered level; null before the first level. */
  readonly levelMm: number | null;
  /** Time of the last level that counted. */
  readonly levelMs: EpochMs;
  readonly noiseMm: number;
  /** Second differences that the noise scale has seen, counted up to {@link SETTLED_SAMPLES}. */
  readonly noiseSamples: number;
  readonly previousMm: number | null;
  readonly beforePreviousMm: number | null;
  readonly previousMs: EpochMs;
  /** A reading outside the gate, waiting for the next one to agree or not. */
  readonly held: LevelPoint | null;
  /** Readings held in a row without two that agree. */
  readonly heldCount: number;
  /** How many readings in a row, up to now, had the same value, and since when. */
  readonly sameCount: number;
  readonly sameSinceMs: EpochMs;
  /** Running median of the interval between level readings, s. */
  readonly intervalS: number | null;
}

export interface LevelPoint {
  readonly timeMs: EpochMs;
  readonly levelMm: number;
  readonly temperatureC: number | null;
}

export interface CleaningResult {
  readonly state: CleaningState;
  readonly verdict: 'accepted' | 'held' | 'jump' | 'impossible';
  /** Points that count from now on, in order of time: none, one, or two where a held one was confirmed. */
  readonly accepted: readonly LevelPoint[];
  readonly heldWasOutlier: boolean;
  /** A step between the filtered level before and the two readings that agree on another one. */
  readonly jump: { readonly beforeMm: number; readonly afterMm: number; readonly beforeMs: EpochMs } | null;
}

/** What the gate has to know about the pot. */
export interface CleaningLimits {
  /** Fastest fall that the planting can cause, mm/h. */
  readonly fallMmPerHour: number;
  /** No water stands higher: some way above the highest pair of the strapping table. */
  readonly topMm: number;
}

/** A uniform error of one part has this standard deviation: 1 mm quantisation gives 0.29 mm. */
export const QUANTISATION_SD_MM = 1 / Math.sqrt(12);
const NOISE_START_MM = 1;
const NOISE_MAX_MM = 8;
/** Below the floor by more than this a value cannot come from water and noise. */
const BELOW_FLOOR_MM = 25;
/** A run of equal values this long is no sample of the noise: a frozen sensor would seem ever more precise. */
const FROZEN_COUNT = 5;
/** From here on the noise scale has forgotten where it began. */
const SETTLED_SAMPLES = 120;
/** After so many in a row the level is lost, and two that roughly agree are taken for it. */
const RELOCK_COUNT = 4;
const STUCK_COUNT = 12;
const STUCK_MS = 10 * 3_600_000;
const STUCK_NOISE_MM = 0.6;
const HOUR_MS = 3_600_000;

/** Equal to the last digit for longer than a sensor with this much noise could be. */
export function isStuck(state: CleaningState, nowMs: EpochMs): boolean {
  return state.noiseMm >= STUCK_NOISE_MM && state.sameCount >= STUCK_COUNT && nowMs - state.sameSinceMs >= STUCK_MS;
}

export function startCleaning(): CleaningState {
  return {
    levelMm: null,
    levelMs: 0,
    noiseMm: NOISE_START_MM,
    noiseSamples: 0,
    previousMm: null,
    beforePreviousMm: null,
    previousMs: 0,
    held: null,
    heldCount: 0,
    sameCount: 0,
    sameSinceMs: 0,
    intervalS: null,
  };
}

/**
 * Takes one level reading: accepts it, holds it back for one reading, or confirms a jump together with the one held.
 *
 * The noise scale is a running median of the second differences of the raw values (divided by sqrt 6, and by 0.6745
 * for the normal distribution), which a drawdown does not touch. It never falls under the quantiser's own deviation: a
 * MAD of 1 mm data is often 0, and a gate of width 0 refuses everything. O(1).
 */
export function cleanLevel(state: CleaningState, point: LevelPoint, limits: CleaningLimits): CleaningResult {
  if (point.levelMm < -BELOW_FLOOR_MM || point.levelMm > limits.topMm) {
    return { state, verdict: 'impossible', accepted: [], heldWasOutlier: false, jump: null };
  }
  const tracked = trackRaw(state, point);
  const last = state.levelMm;
  if (last === null) {
    return settle(tracked, point, [point], 'accepted', null, false);
  }
  const gapHours = (point.timeMs - state.levelMs) / HOUR_MS;
  if (withinGate(point.levelMm - last, gapHours, tracked.noiseMm, limits)) {
    const gain = Math.max(0.25, 1 - Math.exp(-gapHours / 1.5));
    const levelMm = last + gain * (point.levelMm - last);
    return settle({ ...tracked, levelMm }, point, [point], 'accepted', null, state.held !== null);
  }
  const held = state.held;
  const lost = state.heldCount >= RELOCK_COUNT;
  if (held !== null && agrees(point, held, lost ? 4 * tracked.noiseMm : tracked.noiseMm, limits)) {
    const afterMm = (held.levelMm + point.levelMm) / 2;
    const jump = { beforeMm: last, afterMm, beforeMs: state.levelMs };
    return settle({ ...tracked, levelMm: afterMm }, point, [held, point], 'jump', jump, false);
  }
  return {
    state: { ...tracked, held: point, heldCount: state.heldCount + 1 },
    verdict: 'held',
    accepted: [],
    heldWasOutlier: held !== null,
    jump: null,
  };
}

function settle(
  tracked: CleaningState,
  point: LevelPoint,
  accepted: readonly LevelPoint[],
  verdict: 'accepted' | 'jump',
  jump: CleaningResult['jump'],
  heldWasOutlier: boolean,
): CleaningResult {
  const levelMm = tracked.levelMm ?? point.levelMm;
  return {
    state: { ...tracked, levelMm, levelMs: point.timeMs, held: null, heldCount: 0 },
    verdict,
    accepted,
    heldWasOutlier,
    jump,
  };
}

function withinGate(residualMm: number, gapHours: number, noiseMm: number, limits: CleaningLimits): boolean {
  const both = Math.max(4.5 * noiseMm, 4) + 0.15 * Math.min(gapHours, 24);
  if (residualMm >= 0) return residualMm <= both;
  return -residualMm <= both + Math.min(limits.fallMmPerHour * gapHours, 40 + 2 * limits.fallMmPerHour);
}

function agrees(point: LevelPoint, held: LevelPoint, noiseMm: number, limits: CleaningLimits): boolean {
  const gapHours = (point.timeMs - held.timeMs) / HOUR_MS;
  const apartMm = point.levelMm - held.levelMm;
  const tolerance = Math.max(4 * noiseMm, 4);
  return apartMm <= tolerance && -apartMm <= tolerance + limits.fallMmPerHour * Math.min(gapHours, 6);
}

/** Noise scale, interval and runs of equal values, from the raw values whether they count or not. */
function trackRaw(state: CleaningState, point: LevelPoint): CleaningState {
  const { previousMm, beforePreviousMm } = state;
  const frozen = state.sameCount >= FROZEN_COUNT && state.noiseSamples >= SETTLED_SAMPLES;
  let { noiseMm, noiseSamples } = state;
  let intervalS = state.intervalS;
  if (previousMm !== null) {
    const gapS = (point.timeMs - state.previousMs) / 1000;
    intervalS =
      intervalS === null ? gapS : intervalS * Math.exp(0.1 * Math.sign(gapS - intervalS) * stepSize(gapS, intervalS));
    if (beforePreviousMm !== null && gapS < 4 * Math.max(intervalS, 900) && !frozen) {
      const second = Math.abs(point.levelMm - 2 * previousMm + beforePreviousMm) / Math.sqrt(6);
      // A refill is no noise: second differences far outside the scale say nothing about it.
      if (second < 12 * noiseMm) {
        noiseSamples = Math.min(SETTLED_SAMPLES, noiseSamples + 1);
        noiseMm *= Math.exp(0.02 * (second > 0.6745 * noiseMm ? 1 : -1));
        noiseMm = Math.min(Math.max(noiseMm, QUANTISATION_SD_MM), NOISE_MAX_MM);
      }
    }
  }
  const same = previousMm !== null && previousMm === point.levelMm;
  return {
    ...state,
    noiseMm,
    noiseSamples,
    intervalS,
    beforePreviousMm: previousMm,
    previousMm: point.levelMm,
    previousMs: point.timeMs,
    sameCount: same ? state.sameCount + 1 : 1,
    sameSinceMs: same ? state.sameSinceMs : point.timeMs,
  };
}

/** Equal intervals leave the running median where it is instead of making it tremble. */
function stepSize(gapS: number, intervalS: number): number {
  return Math.min(1, Math.abs(Math.log(Math.max(gapS, 1) / Math.max(intervalS, 1))) / 0.1);
}
