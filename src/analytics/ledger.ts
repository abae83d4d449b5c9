import type { EpochMs, LocalDay } from '../domain/ids.js';
import type { LedgerDay, PotEvent } from '../domain/pot.js';
import type { EventRecord } from './event-records.js';
import type { Strapping } from './strapping.js';

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
  /** What a dried-out soil may have drawn on top. */
  readonly soilMayTakeLitres: number;
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
 * @param records gains and losses that touch the day; of one that goes over a midnight the day gets the part that its
 *   opening does not hold yet and its closing does
 */
export function closeDay(
  containerId: string,
  day: OpenLedgerDay,
  closing: Closing,
  records: readonly EventRecord[],
  strapping: Strapping,
): LedgerDay {
  let refillCrewLitres = 0;
  let refillOtherLitres = 0;
  let rainLitres = 0;
  let drainedLitres = 0;
  let overflowLitres = 0;
  let gainVariance = 0;
  for (const record of records) {
    const { event, byCrew } = record;
    const litres = shareOfDay(day, closing, event, strapping);
    // What was poured beyond what stayed went out by the port, on the day on which it ended.
    const spilt = event.endMs < closing.atMs ? (record.spill?.litres ?? 0) : 0;
    switch (event.kind) {
      case 'refill':
        if (byCrew) refillCrewLitres += litres + spilt;
        else refillOtherLitres += litres + spilt;
        overflowLitres += spilt;
        break;
      case 'rain':
        rainLitres += litres + spilt;
        overflowLitres += spilt;
        break;
      case 'drained':
      case 'sudden_loss':
        drainedLitres += litres;
        break;
      case 'overflow':
        overflowLitres += litres;
        break;
    }
    gainVariance += (GAIN_ERROR * litres) ** 2;
  }
  const gains = refillCrewLitres + refillOtherLitres + rainLitres;
  const lost = day.openingLitres + gains - overflowLitres - drainedLitres - closing.litres;
  const leakLitres = Math.max(0, Math.min(day.leakLitres, lost));
  const most = day.expectedUseLitres + PLAUSIBLE_SDS * day.expectedUseSd + day.soilMayTakeLitres;
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

/**
 * The part of an event that belongs to a day. A midnight within it divides it by what the book holds at that midnight:
 * a jump that a silence hides may have come on either side of it, and is booked where the level shows it.
 */
function shareOfDay(day: OpenLedgerDay, closing: Closing, event: PotEvent, strapping: Strapping): number {
  const bookedBy = (litres: number, atMs: EpochMs): number => {
    if (event.endMs < atMs) return event.litres;
    if (event.startMs >= atMs) return 0;
    const change = litres - Math.max(0, strapping.litresAt(event.startLevelMm));
    const gained = event.endLevelMm >= event.startLevelMm ? change : -change;
    return Math.max(0, Math.min(gained, event.litres));
  };
  return bookedBy(closing.litres, closing.atMs) - bookedBy(day.openingLitres, day.startMs);
}
