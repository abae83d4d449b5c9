import type { EpochMs } from '../../domain/ids.js';
import { DAY_MS, HOUR_MS } from '../../domain/local-day.js';
import type { FindingDraft } from '../../domain/pot.js';
import type { CleanReading } from '../clean-reading.js';
import type { PotView } from '../pot-view.js';
import { COEFFICIENT_PRIOR_SD } from '../temperature-coefficient.js';
import { REFERENCE_C } from '../temperature-correction.js';
import { makeDraft, say } from './draft.js';

/**
 * What the water above the overflow invert says about the port. A working port clears it within minutes to an hour; a
 * hose outruns a port of 15 mm, so a level above the invert during a fill proves nothing: what counts is how long it
 * stays, and how it goes down.
 */
export interface PortState {
  /** The stand above the invert that is in course. */
  readonly stand: Stand | null;
  /** Stands of the last months that lasted long enough to say something, oldest first, at most eight. */
  readonly proofs: readonly Proof[];
  /** When a rise last reached the invert and went back to it as it should. */
  readonly lastPassedMs: EpochMs | null;
  /** When the water last stood at the invert at all. */
  readonly lastTestedMs: EpochMs | null;
}

export interface Stand {
  readonly sinceMs: EpochMs;
  readonly lastMs: EpochMs;
  readonly peakMm: number;
  readonly peakMs: EpochMs;
  readonly levelMm: number;
  readonly readings: number;
}

export interface Proof {
  readonly startMs: EpochMs;
  readonly hours: number;
  readonly peakMm: number;
  /** Fall from the peak to the end of the stand, mm, and what the planting's use would have taken, mm. */
  readonly fellMm: number;
  readonly expectedFallMm: number;
  readonly kind: 'blocked' | 'partly';
}

export const NO_PORT: PortState = { stand: null, proofs: [], lastPassedMs: null, lastTestedMs: null };

const LEAST_HOURS = 2;
/** One stand of this length needs no second. */
const SURE_HOURS = 12;
/** A level that falls this many times as fast as the planting draws is running out somewhere. */
const RUNNING_OUT = 2.5;
const KEPT_PROOFS = 8;
const PROOFS_LAST_MS = 120 * DAY_MS;

function marginMm(noiseMm: number): number {
  return Math.max(4, 3 * noiseMm + 2);
}

/** What is not known of the response counts so many deviations: two hid no more false stands on two fleets than one. */
const DOUBTED_SDS = 1;

/**
 * A cold night lifts the reading of many sensors by millimetres, and lasts as long as a stand would: the level is judged
 * as at the reference temperature, with what is not known of the sensor's response as doubt.
 */
function restated(view: PotView, levelMm: number, temperatureC: number | null) {
  if (temperatureC === null) return { levelMm, doubtMm: 0 };
  const kelvin = temperatureC - REFERENCE_C;
  const sdMmPerK = view.temperatureSdMmPerK ?? COEFFICIENT_PRIOR_SD;
  return { levelMm: levelMm - view.temperatureMmPerK * kelvin, doubtMm: DOUBTED_SDS * sdMmPerK * Math.abs(kelvin) };
}

export function portOnReading(view: PotView, state: PortState, reading: CleanReading): PortState {
  if (reading.levelMm === null || reading.rawLevelMm === null) return state;
  if (reading.verdict !== 'accepted' && reading.verdict !== 'jump') return state;
  const invertMm = view.ctx.container.reservoir.overflowMm;
  const { levelMm, doubtMm } = restated(view, reading.levelMm, reading.temperatureC);
  const above = levelMm - invertMm > marginMm(reading.noiseMm) + doubtMm;
  const { stand } = state;
  if (above) {
    if (stand === null) {
      return {
        ...state,
        lastTestedMs: reading.timeMs,
        stand: {
          sinceMs: reading.timeMs,
          lastMs: reading.timeMs,
          peakMm: levelMm,
          peakMs: reading.timeMs,
          levelMm,
          readings: 1,
        },
      };
    }
    const higher = levelMm > stand.peakMm;
    const next: Stand = {
      ...stand,
      lastMs: reading.timeMs,
      levelMm,
      readings: stand.readings + 1,
      peakMm: higher ? levelMm : stand.peakMm,
      peakMs: higher ? reading.timeMs : stand.peakMs,
    };
    return { ...state, lastTestedMs: reading.timeMs, stand: next };
  }
  if (stand === null) {
    const at = Math.abs(levelMm - invertMm) <= 2;
    return at ? { ...state, lastTestedMs: reading.timeMs } : state;
  }
  const proof = judge(view, { ...stand, lastMs: reading.timeMs, levelMm });
  if (proof === null) return { ...state, stand: null, lastPassedMs: reading.timeMs };
  return { ...state, stand: null, proofs: [...state.proofs, proof].slice(-KEPT_PROOFS) };
}

/** What a stand shows once it is over, or so far; null while a working port explains it. */
function judge(view: PotView, stand: Stand): Proof | null {
  const hours = (stand.lastMs - stand.sinceMs) / HOUR_MS;
  if (hours <= LEAST_HOURS || stand.readings < 3) return null;
  const area = view.strapping.areaLitresPerMm(stand.peakMm);
  const sincePeakDays = (stand.lastMs - stand.peakMs) / DAY_MS;
  const expectedFallMm = (view.demandLitresPerDay * sincePeakDays) / area;
  const fellMm = stand.peakMm - stand.levelMm;
  const explained = RUNNING_OUT * expectedFallMm + 2 * marginMm(view.noiseMm);
  const invertMm = view.ctx.container.reservoir.overflowMm;
  // Drained to the invert faster than plants can: open enough to pass water, too slow to be clean.
  const partly = fellMm > explained && stand.peakMm - invertMm > explained / 2;
  return {
    startMs: stand.sinceMs,
    hours,
    peakMm: stand.peakMm,
    fellMm,
    expectedFallMm,
    kind: partly ? 'partly' : 'blocked',
  };
}

/** Days since the water last stood at the port; null where it never did. */
export function portUntestedDays(state: PortState, nowMs: EpochMs): number | null {
  return state.lastTestedMs === null ? null : (nowMs - state.lastTestedMs) / DAY_MS;
}

export function overflowPort(view: PotView, state: PortState, nowMs: EpochMs): FindingDraft | null {
  const open = state.stand === null ? null : judge(view, state.stand);
  const proofs = [...state.proofs, ...(open === null ? [] : [open])].filter(
    (proof) =>
      proof.startMs > nowMs - PROOFS_LAST_MS && (state.lastPassedMs === null || proof.startMs > state.lastPassedMs),
  );
  const last = proofs[proofs.length - 1];
  if (last === undefined) return null;
  const longest = Math.max(...proofs.map((proof) => proof.hours));
  if (proofs.length < 2 && longest <= SURE_HOURS) return null;
  const blocked = proofs.filter((proof) => proof.kind === 'blocked').length * 2 >= proofs.length;
  const invertMm = view.ctx.container.reservoir.overflowMm;
  const kind = blocked ? 'overflow_blocked' : 'overflow_partly_blocked';
  return makeDraft(view, kind, {
    onsetMs: proofs[0]!.startMs,
    size: last.peakMm - invertMm,
    unit: 'mm',
    heightMm: invertMm,
    confidence: Math.min(0.97, 0.7 + 0.1 * (proofs.length - 1) + (longest > SURE_HOURS ? 0.12 : 0)),
    severity: blocked ? 'high' : 'medium',
    evidence: [
      say(open === null ? 'finding.overflow.stood' : 'finding.overflow.stands', {
        aboveMm: last.peakMm - invertMm,
        standHours: last.hours,
        invertMm,
      }),
      blocked
        ? say('finding.overflow.falls_as_drawn', { fellMm: last.fellMm, expectedMm: last.expectedFallMm })
        : say('finding.overflow.falls_slowly', { fellMm: last.fellMm, standHours: last.hours }),
      ...(proofs.length > 1 ? [say('finding.overflow.repeated', { times: proofs.length })] : []),
    ],
    toConfirm: say('finding.overflow.confirm'),
  });
}
