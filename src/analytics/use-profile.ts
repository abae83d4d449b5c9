import type { EpochMs } from '../domain/ids.js';
import { DAY_MS, HOUR_MS } from '../domain/local-day.js';

/** How a day's use spreads over the solar clock: shares of 24 hours from solar midnight on, sum 1. */
export type UseProfile = readonly number[];

export const PROFILE_BINS = 24;

/** Share of a day's use that falls between solar midnight and each bin's start, 25 values from 0 to 1. */
export function cumulate(profile: UseProfile): readonly number[] {
  const cumulated = [0];
  let sum = 0;
  for (const share of profile) {
    sum += share;
    cumulated.push(sum);
  }
  cumulated[PROFILE_BINS] = 1;
  return cumulated;
}

/** Day-equivalents of use between two instants; 1 over any 24 h. Negative where `toMs` is earlier. */
export function dayEquivalents(
  cumulated: readonly number[],
  longitudeDeg: number,
  fromMs: EpochMs,
  toMs: EpochMs,
): number {
  return positionOf(cumulated, longitudeDeg, toMs) - positionOf(cumulated, longitudeDeg, fromMs);
}

/** The instant at which `days` day-equivalents of use have passed since `fromMs`. */
export function advanceBy(cumulated: readonly number[], longitudeDeg: number, fromMs: EpochMs, days: number): EpochMs {
  const target = positionOf(cumulated, longitudeDeg, fromMs) + days;
  const whole = Math.floor(target);
  const part = target - whole;
  let bin = 0;
  while (bin < PROFILE_BINS - 1 && cumulated[bin + 1]! <= part) bin++;
  const share = cumulated[bin + 1]! - cumulated[bin]!;
  const within = share > 0 ? Math.min(1, (part - cumulated[bin]!) / share) : 0;
  return whole * DAY_MS + (bin + within) * HOUR_MS - solarShiftMs(longitudeDeg);
}

function positionOf(cumulated: readonly number[], longitudeDeg: number, ms: EpochMs): number {
  const solarMs = ms + solarShiftMs(longitudeDeg);
  const whole = Math.floor(solarMs / DAY_MS);
  const inDay = solarMs - whole * DAY_MS;
  const bin = Math.min(PROFILE_BINS - 1, Math.floor(inDay / HOUR_MS));
  const within = inDay / HOUR_MS - bin;
  return whole + cumulated[bin]! + within * (cumulated[bin + 1]! - cumulated[bin]!);
}

/** Mean solar time is four minutes a degree ahead of Greenwich, to the east. */
function solarShiftMs(longitudeDeg: number): number {
  return (longitudeDeg / 360) * DAY_MS;
}
