import { AT, type PackedDay } from './day-record.js';
import { median } from './stats/order.js';

const FROM_AGO_DAYS = 60;
const TO_AGO_DAYS = 10;
const LEAST_DAYS = 5;

/**
 * Log of litres per mm that is held against a day: median of the filter's of 10 to 60 days before, so that a leak that
 * has just begun cannot hide in the demand; `current` where fewer than five of them are known.
 * @param days oldest first
 */
export function nominalKappa(days: readonly PackedDay[], dayNumber: number, current: number): number {
  const kappas: number[] = [];
  for (const packed of days) {
    const number = packed[AT.dayNumber]!;
    if (number < dayNumber - FROM_AGO_DAYS || number > dayNumber - TO_AGO_DAYS) continue;
    if (packed[AT.expectedLitres] !== null) kappas.push(packed[AT.kappa]!);
  }
  return kappas.length >= LEAST_DAYS ? median(kappas)! : current;
}
