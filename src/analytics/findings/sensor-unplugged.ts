import type { EpochMs } from '../../domain/ids.js';
import type { FindingDraft } from '../../domain/pot.js';
import type { CleanReading } from '../clean-reading.js';
import type { PotView } from '../pot-view.js';
import { makeDraft, say } from './draft.js';

/** The level is gone, at an end of its scale or outside the vessel, while the node itself goes on reporting. */
export interface UnpluggedState {
  /** Readings in a row without a believable level, and when they began. */
  readonly count: number;
  readonly sinceMs: EpochMs;
  readonly rawMm: number | null;
  /** A level has been seen, so that its absence means something. */
  readonly hadLevel: boolean;
  /** The last believable level. */
  readonly lastRawMm: number | null;
  /** The run began with a step that no water makes. */
  readonly stepped: boolean;
}

export const PLUGGED: UnpluggedState = {
  count: 0,
  sinceMs: 0,
  rawMm: null,
  hadLevel: false,
  lastRawMm: null,
  stepped: false,
};

const LEAST_READINGS = 3;
/** A dead end of the scale repeats itself exactly; water that was drained trembles like any other. */
const LEAST_REPEATS = 6;
const STEP_MM = 30;
const NEAR_ZERO_MM = 3;
/** A sensor that is mounted above the floor reads this much at most when it reads nothing. */
const MOUNTED_MM = 12;

export function unpluggedOnReading(view: PotView, state: UnpluggedState, reading: CleanReading): UnpluggedState {
  const raw = reading.rawLevelMm;
  const gone = raw === null || reading.verdict === 'impossible';
  const dead = !gone && deadEnd(view, state, raw);
  if (!gone && !dead) {
    // A single odd value is no level to fall from.
    const believed = reading.verdict === 'accepted' || reading.verdict === 'jump';
    return { ...PLUGGED, hadLevel: true, lastRawMm: believed ? raw : state.lastRawMm };
  }
  if (!state.hadLevel) return state;
  if (state.count === 0) {
    return {
      ...state,
      count: 1,
      sinceMs: reading.timeMs,
      rawMm: raw,
      stepped: raw === null || reading.verdict === 'impossible' || dead,
    };
  }
  return { ...state, count: state.count + 1, rawMm: raw };
}

/** Zero or full scale, after a step, and then the very same again. */
function deadEnd(view: PotView, state: UnpluggedState, raw: number): boolean {
  if (state.count > 0) return state.rawMm !== null && raw === state.rawMm;
  if (state.lastRawMm === null) return false;
  const top = view.ctx.container.reservoir.strapping.at(-1)?.[0] ?? Number.MAX_VALUE;
  const { wickFootMm } = view.ctx.container.reservoir;
  const end = raw <= Math.max(NEAR_ZERO_MM, Math.min(MOUNTED_MM, wickFootMm - 1)) || raw > top + STEP_MM;
  return end && Math.abs(raw - state.lastRawMm) > STEP_MM;
}

export function sensorUnplugged(view: PotView, state: UnpluggedState): FindingDraft | null {
  const least = state.rawMm === null ? LEAST_READINGS : LEAST_REPEATS;
  if (state.count < least || !state.stepped) return null;
  return makeDraft(view, 'sensor_unplugged', {
    onsetMs: state.sinceMs,
    confidence: state.count >= 2 * LEAST_REPEATS ? 0.95 : 0.85,
    severity: 'medium',
    evidence: [
      state.rawMm === null
        ? say('finding.sensor_unplugged.none', { readings: state.count, sinceMs: state.sinceMs })
        : say('finding.sensor_unplugged.end_of_scale', {
            readings: state.count,
            rawMm: state.rawMm,
            beforeMm: state.lastRawMm,
          }),
      say('finding.sensor_unplugged.node_alive'),
    ],
    toConfirm: say('finding.sensor_unplugged.confirm'),
  });
}
