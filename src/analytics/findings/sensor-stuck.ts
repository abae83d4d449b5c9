import type { EpochMs } from '../../domain/ids.js';
import { DAY_MS, HOUR_MS } from '../../domain/local-day.js';
import type { FindingDraft } from '../../domain/pot.js';
import type { CleanReading } from '../clean-reading.js';
import type { PotView } from '../pot-view.js';
import { median } from '../stats/order.js';
import { lastDays } from './baseline.js';
import { makeDraft, say } from './draft.js';

/** A level that repeats itself to the last digit while the water cannot have stood still. */
export interface StuckState {
  readonly rawMm: number | null;
  /** Changes of the value seen so far, up to {@link ENOUGH_CHANGES}: a sensor that never moved shows nothing. */
  readonly changes: number;
  readonly count: number;
  /** The longest run of equal values of late, slowly forgotten. */
  readonly usualRun: number;
  readonly sinceMs: EpochMs;
  /** Litres that the planting would have drawn meanwhile. */
  readonly expectedLitres: number;
  readonly lastMs: EpochMs;
  /** The lowest value of all: a sensor that is mounted above the floor repeats it while the water stands below. */
  readonly lowestMm: number | null;
  readonly moistureFrom: number | null;
  readonly temperatureMinC: number | null;
  readonly temperatureMaxC: number | null;
}

export const NOT_STUCK: StuckState = {
  rawMm: null,
  changes: 0,
  count: 0,
  usualRun: 0,
  sinceMs: 0,
  expectedLitres: 0,
  lastMs: 0,
  lowestMm: null,
  moistureFrom: null,
  temperatureMinC: null,
  temperatureMaxC: null,
};

/** Changes of the value before a still one is strange, and days of known thirst before a fall may be missed. */
const ENOUGH_CHANGES = 40;
const ENOUGH_DAYS = 5;
const LEAST_READINGS = 12;
const RUN_FORGETTING = 0.995;
const RUN_FACTOR = 2.5;
/** A long freeze does not teach that freezes are usual. */
const LONGEST_USUAL_RUN = 40;
/** Hours of equal values: a sensor with visible noise does not repeat itself, a quiet one may for a while. */
const LEAST_HOURS = { noisy: 10, quiet: 30 } as const;
const NOISY_MM = 0.55;
/** Fall that the planting would have caused: more than a quantum and what the demand model may be wrong by. */
const EXPECTED_FALL_MM = 3;

export function stuckOnReading(view: PotView, state: StuckState, reading: CleanReading): StuckState {
  const rawMm = reading.rawLevelMm;
  if (rawMm === null) return state;
  if (state.rawMm === null || rawMm !== state.rawMm) {
    return {
      rawMm,
      changes: state.rawMm === null ? 0 : Math.min(ENOUGH_CHANGES, state.changes + 1),
      count: 1,
      usualRun: Math.max(state.usualRun * RUN_FORGETTING, Math.min(state.count, LONGEST_USUAL_RUN)),
      sinceMs: reading.timeMs,
      lastMs: reading.timeMs,
      lowestMm: least(state.lowestMm, rawMm),
      expectedLitres: 0,
      moistureFrom: reading.moistureFraction,
      temperatureMinC: reading.temperatureC,
      temperatureMaxC: reading.temperatureC,
    };
  }
  const days = (reading.timeMs - state.lastMs) / DAY_MS;
  return {
    ...state,
    count: state.count + 1,
    lastMs: reading.timeMs,
    expectedLitres: state.expectedLitres + Math.max(0, view.demandLitresPerDay) * days,
    moistureFrom: state.moistureFrom ?? reading.moistureFraction,
    temperatureMinC: least(state.temperatureMinC, reading.temperatureC),
    temperatureMaxC: most(state.temperatureMaxC, reading.temperatureC),
  };
}

function least(a: number | null, b: number | null): number | null {
  return a === null ? b : b === null ? a : Math.min(a, b);
}

function most(a: number | null, b: number | null): number | null {
  return a === null ? b : b === null ? a : Math.max(a, b);
}

export function sensorStuck(view: PotView, state: StuckState): FindingDraft | null {
  if (state.rawMm === null || state.count < LEAST_READINGS || state.changes < ENOUGH_CHANGES) return null;
  if (state.count < RUN_FACTOR * state.usualRun) return null;
  const { noiseMm, learntIntervalS } = view;
  const hours = (state.lastMs - state.sinceMs) / HOUR_MS;
  const noisy = usualNoiseMm(view) >= NOISY_MM;
  const least = noisy ? LEAST_HOURS.noisy : LEAST_HOURS.quiet;
  if (hours < Math.max(least, ((learntIntervalS ?? 0) * LEAST_READINGS) / 3600)) return null;
  const levelMm = view.levelMm ?? state.rawMm;
  const area = view.strapping.areaLitresPerMm(levelMm);
  const { overflowMm, wickFootMm } = view.ctx.container.reservoir;
  if (state.rawMm <= wickFootMm + 3 && state.rawMm === state.lowestMm) return null;
  // Below the wick foot nothing draws, and at the port rain and demand may hold a balance.
  const draws = levelMm > wickFootMm + 3 && view.demandDays >= ENOUGH_DAYS;
  const expectedFallMm = draws ? state.expectedLitres / area : 0;
  const warmed = most(0, (state.temperatureMaxC ?? 0) - (state.temperatureMinC ?? 0)) ?? 0;
  const feigned = Math.abs(view.temperatureMmPerK) * warmed;
  const idleFull = Math.abs(levelMm - overflowMm) < 3 && expectedFallMm < 2 * EXPECTED_FALL_MM;
  const shouldMove = expectedFallMm > EXPECTED_FALL_MM + noiseMm || (view.temperatureSdMmPerK !== null && feigned > 3);
  // A coarse scale may hide a small tremble for most of a day; a sensor that stands dry has nothing to tremble with.
  const shouldTremble =
    noisy && levelMm > wickFootMm + 3 && state.count >= 3 * LEAST_READINGS && hours > 2.4 * LEAST_HOURS.noisy;
  if (idleFull && !shouldTremble) return null;
  if (!shouldMove && !shouldTremble) return null;
  // Only a soil that dries keeps a still level honest: then the wick has failed, not the sensor.
  const dried =
    state.moistureFrom !== null && view.moistureFraction !== null && state.moistureFrom - view.moistureFraction > 0.03;
  if (dried && !noisy) return null;
  return makeDraft(view, 'sensor_stuck', {
    onsetMs: state.sinceMs,
    size: hours,
    unit: 'h',
    heightMm: levelMm,
    confidence: noisy ? 0.93 : 0.75,
    severity: 'medium',
    evidence: [
      say('finding.sensor_stuck.same', { readings: state.count, stuckHours: hours, levelMm }),
      say('finding.sensor_stuck.expected', { expectedMm: expectedFallMm, noiseMm: usualNoiseMm(view) }),
    ],
    toConfirm: say('finding.sensor_stuck.confirm'),
  });
}

/** Noise before the values froze: the running scale shrinks while they repeat. */
function usualNoiseMm(view: PotView): number {
  return median(lastDays(view, 20).map((day) => day.noiseMm)) ?? view.noiseMm;
}
