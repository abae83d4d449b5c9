import type { EpochMs } from '../../domain/ids.js';
import { DAY_MS, HOUR_MS } from '../../domain/local-day.js';
import type { FindingDraft, PotEvent } from '../../domain/pot.js';
import type { PotView } from '../pot-view.js';
import { median } from '../stats/order.js';
import { lastDays } from './baseline.js';
import { makeDraft, say } from './draft.js';

/** The level trembles far more than it used to, or follows a refill only after hours. */
export interface FouledState {
  readonly open: { readonly onsetMs: EpochMs; readonly noiseMm: number; readonly usualMm: number } | null;
  /** Refills of late whose rise took hours: start and duration. */
  readonly slow: readonly { readonly id: string; readonly startMs: EpochMs; readonly hours: number }[];
}

export const CLEAN: FouledState = { open: null, slow: [] };

const NOISE_FACTOR = 2;
/** Noise scales under a millimetre may double by chance of the quantiser. */
const NOISE_ADDED_MM = 0.8;
const LEAST_DAYS = 3;
const USUAL_DAYS = 60;
const LEAST_USUAL = 10;
const SLOW_HOURS = 2.5;
const SLOW_REFILLS = 2;
const SLOW_LAST_MS = 30 * DAY_MS;
const REFILL_MM = 25;

export function fouledOnDay(view: PotView, state: FouledState): FouledState {
  const days = lastDays(view, USUAL_DAYS + LEAST_DAYS).filter((day) => day.readings > 0);
  const recent = days.slice(-LEAST_DAYS);
  const before = days.slice(0, -LEAST_DAYS);
  const usualMm = state.open?.usualMm ?? median(before.map((day) => day.noiseMm));
  if (usualMm === null || before.length < LEAST_USUAL || recent.length < LEAST_DAYS) return state;
  const limit = Math.max(NOISE_FACTOR * usualMm, usualMm + NOISE_ADDED_MM);
  const noiseMm = median(recent.map((day) => day.noiseMm)) ?? 0;
  if (recent.every((day) => day.noiseMm > limit)) {
    const onsetMs = state.open?.onsetMs ?? recent[0]!.startMs;
    return { ...state, open: { onsetMs, noiseMm, usualMm } };
  }
  return noiseMm < (limit + usualMm) / 2 ? { ...state, open: null } : state;
}

export function fouledOnEvent(_view: PotView, state: FouledState, event: PotEvent): FouledState {
  if (event.kind !== 'refill' || event.endLevelMm - event.startLevelMm < REFILL_MM) return state;
  const hours = (event.endMs - event.startMs) / HOUR_MS;
  const slow = state.slow.filter((entry) => entry.id !== event.id);
  if (hours < SLOW_HOURS) return slow.length === 0 && state.slow.length === 0 ? state : { ...state, slow: [] };
  return { ...state, slow: [...slow, { id: event.id, startMs: event.startMs, hours }].slice(-4) };
}

export function sensorFouled(view: PotView, state: FouledState): FindingDraft | null {
  const slow = state.slow.filter((entry) => entry.startMs > view.atMs - SLOW_LAST_MS);
  const lags = slow.length >= SLOW_REFILLS;
  if (state.open === null && !lags) return null;
  return makeDraft(view, 'sensor_fouled', {
    onsetMs: state.open?.onsetMs ?? slow[0]?.startMs ?? null,
    size: state.open?.noiseMm ?? null,
    unit: state.open === null ? null : 'mm',
    confidence: state.open !== null && lags ? 0.85 : 0.65,
    severity: 'low',
    evidence: [
      ...(state.open === null
        ? []
        : [say('finding.sensor_fouled.noise', { noiseMm: state.open.noiseMm, usualMm: state.open.usualMm })]),
      ...(lags ? [say('finding.sensor_fouled.lags', { lagHours: slow[slow.length - 1]!.hours })] : []),
    ],
    toConfirm: say('finding.sensor_fouled.confirm'),
  });
}
