import type { EpochMs, LocalDay } from '../domain/ids.js';
import type { LedgerDay } from '../domain/pot.js';
import type { EventRecord } from './events.js';

/** A local day whose account may still change. */
export interface OpenLedgerDay {
  readonly day: LocalDay;
  readonly startMs: EpochMs;
  readonly openingLitres: number;
  readonly openingSd: number;
  /** Null while the day lasts. */
  readonly closing: { readonly litres: number; readonly sd: number; readonly atMs: EpochMs } | null;
  /** Use that the weather and the planting explain, and its sd. */
  readonly expectedUseLitres: number;
  readonly expectedUseSd: number;
  readonly leakLitres: number;
  /** Time covered by readings no further apart than four intervals, h. */
  readonly coveredHours: number;
}

export interface Closing {
  readonly litres: number;
  readonly sd: number;
  readonly atMs: EpochMs;
}

/** How far above the expected use, in sds, a loss is still taken for use. */
const PLAUSIBLE_SDS = 3;

/**
 * The account of one day. It closes by construction: what the gains and the change of the level leave over is divided
 * into leak, use and, where neither can explain it, "unexplained", which may be negative.
 * @param records gains and losses that began on the day
 */
export function closeDay(
  containerId: string,
  day: OpenLedgerDay,
  closing: Closing,
  records: readonly EventRecord[],
): LedgerDay {
  let refillCrewLitres = 0;
  let refillOtherLitres = 0;
  let rainLitres = 0;
  let drainedLitres = 0;
  let overflowLitres = 0;
  let gainVariance = 0;
  for (const { event, byCrew, pouredLitres } of records) {
    switch (event.kind) {
      case 'refill':
        if (byCrew) {
          // What the crew poured beyond what stayed went out by the port.
          const poured = event.atLeast ? Math.max(pouredLitres ?? 0, event.litres) : event.litres;
          refillCrewLitres += poured;
          overflowLitres += poured - event.litres;
        } else refillOtherLitres += event.litres;
        break;
      case 'rain':
        rainLitres += event.litres;
        break;
      case 'drained':
      case 'sudden_loss':
        drainedLitres += event.litres;
        break;
      case 'overflow':
        break;
    }
    gainVariance += (GAIN_ERROR * event.litres) ** 2;
  }
  const gains = refillCrewLitres + refillOtherLitres + rainLitres;
  const lost = day.openingLitres + gains - overflowLitres - drainedLitres - closing.litres;
  const leakLitres = Math.max(0, Math.min(day.leakLitres, lost));
  const most = day.expectedUseLitres + PLAUSIBLE_SDS * day.expectedUseSd;
  const uptakeLitres = Math.max(0, Math.min(lost - leakLitres, most));
  return {
    containerId,
    day: day.day,
    openingLitres: day.openingLitres,
    refillCrewLitres,
    refillOtherLitres,
    rainLitres,
    uptakeLitres,
    leakLitres,
    overflowLitres,
    drainedLitres,
    unexplainedLitres: lost - leakLitres - uptakeLitres,
    closingLitres: closing.litres,
    sdLitres: Math.sqrt(day.openingSd ** 2 + closing.sd ** 2 + gainVariance),
    coverage: Math.min(1, day.coveredHours / 24),
  };
}

/** Volumes by a strapping table and a few readings err by about so much. */
const GAIN_ERROR = 0.04;
