import type { PotContext } from '../domain/analysis.js';
import { AT, type PackedDay } from './day-record.js';

/** So much of a day with the water at the wick foot, and what the plants used came out of the soil. */
const DRY_HOURS = 20;
/** Rain of less than this does not reach the soil under leaves; judgement. */
const LEAST_RAIN_MM = 0.5;
/** Further below what it settles at, the plants may close their stomata: the expected use is no measure then. Judgement. */
const MOST_FALL_FRACTION = 0.12;
/** A fall of so much of the soil's volume weighs as much as the expectation that the probe is right. */
const EXPECTATION_SHARE = 0.03;
const LEAST_GAIN = 0.6;
const MOST_GAIN = 1.5;

/**
 * How many litres the moisture probe shows for each litre that the soil loses: 1 for a true probe. Learnt from days on
 * which the reservoir stood dry, when the soil lost what the plants were expected to use; 1 until there were any. O(days).
 */
export function probeGain(ctx: PotContext, days: readonly PackedDay[]): number {
  const soilLitres = ctx.container.soil?.litres ?? 0;
  if (soilLitres <= 0) return 1;
  const expectation = EXPECTATION_SHARE * soilLitres;
  let shownLitres = expectation;
  let usedLitres = expectation;
  for (let i = 1; i < days.length; i++) {
    const day = days[i]!;
    const before = days[i - 1]!;
    const moisture = day[AT.dawnMoisture] ?? null;
    const moistureBefore = before[AT.dawnMoisture] ?? null;
    if (moisture === null || moistureBefore === null || day[AT.hoursDry]! < DRY_HOURS) continue;
    if (day[AT.refills]! > 0 || day[AT.rainLitres]! > 0) continue;
    if (!ctx.container.covered && (rained(day) || rained(before))) continue;
    const reference = day[AT.moistureReference] ?? null;
    if (reference !== null && reference - moisture > MOST_FALL_FRACTION) continue;
    shownLitres += (moistureBefore - moisture) * soilLitres;
    usedLitres += Math.exp(day[AT.kappa]!) * day[AT.et0Mm]!;
  }
  return Math.min(MOST_GAIN, Math.max(LEAST_GAIN, shownLitres / usedLitres));
}

function rained(day: PackedDay): boolean {
  return (day[AT.rainMm] ?? 0) > LEAST_RAIN_MM;
}
