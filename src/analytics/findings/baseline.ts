import { BLOCK_FLAGS } from '../block.js';
import { type DayRecord, type PackedDay, unpackDay } from '../day-record.js';
import type { PotView } from '../pot-view.js';
import { median } from '../stats/order.js';

/** A day on which the level shows what the plants drew, and what they used to draw in such weather. */
export interface UseDay {
  readonly day: DayRecord;
  readonly usedLitres: number;
  /** By the coefficient of some weeks before, so that a fault cannot hide in it. */
  readonly usualLitres: number;
  readonly sdLitres: number;
}

const UNFIT = BLOCK_FLAGS.rewetting | BLOCK_FLAGS.dry | BLOCK_FLAGS.rain | BLOCK_FLAGS.wetSoil | BLOCK_FLAGS.disturbed;
/** Measured refills are this uncertain, relative. */
const REFILL_ERROR = 0.05;
const DAY_ERROR = 0.3;
const LEVEL_ERROR_MM = 0.8;

/** The list that was unpacked last: at a dawn half a dozen findings ask for the days of the same pot. */
let unpacked: { readonly packed: readonly PackedDay[]; readonly days: readonly DayRecord[] } | null = null;

/** The last `count` days, oldest first. */
export function lastDays(view: PotView, count: number): readonly DayRecord[] {
  if (unpacked?.packed !== view.days) unpacked = { packed: view.days, days: view.days.map(unpackDay) };
  return unpacked.days.slice(-count);
}

/**
 * Log of litres per mm that the pot used to draw: median over the filter's days from `fromAgo` to `toAgo` days before
 * the last; null where fewer than `least` of them were seen.
 */
export function usualKappa(days: readonly DayRecord[], fromAgo: number, toAgo: number, least: number): number | null {
  const last = days[days.length - 1];
  if (last === undefined) return null;
  const kappas: number[] = [];
  for (const day of days) {
    const ago = last.dayNumber - day.dayNumber;
    if (ago <= fromAgo && ago >= toAgo && day.innovation !== null) kappas.push(day.kappa);
  }
  return kappas.length < least ? null : median(kappas);
}

/** The day as a comparison of use with what was usual; null where the level does not show the plants' use. */
export function useDay(view: PotView, day: DayRecord, kappa: number, leastAboveFootMm: number): UseDay | null {
  if ((day.flags & UNFIT) !== 0 || day.netUseLitres === null || day.dawnLevelMm === null) return null;
  const footMm = view.ctx.container.reservoir.wickFootMm;
  if (day.dawnLevelMm < footMm + leastAboveFootMm || day.hoursDry > 0) return null;
  const usualLitres = Math.exp(kappa) * day.et0Mm;
  const area = view.strapping.areaLitresPerMm(day.dawnLevelMm);
  return {
    day,
    usedLitres: day.netUseLitres,
    usualLitres,
    sdLitres: Math.hypot(DAY_ERROR * usualLitres, REFILL_ERROR * day.refillLitres, LEVEL_ERROR_MM * area),
  };
}
