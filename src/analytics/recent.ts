import type { EpochMs } from '../domain/ids.js';
import type { LevelPoint } from './cleaning.js';
import type { Strapping } from './strapping.js';
import { atReferenceMm, type TemperatureCorrection } from './temperature-correction.js';

/** The last two days and a little more of levels that counted, oldest first; columns, so that they stay small as JSON. */
export interface RecentLevels {
  readonly timeMs: readonly EpochMs[];
  readonly levelMm: readonly number[];
  readonly temperatureC: readonly (number | null)[];
}

/** An estimate with its standard deviation. */
export interface Estimate {
  readonly value: number;
  readonly sd: number;
  readonly count: number;
}

const KEPT_MS = 48 * 3_600_000;
const KEPT_POINTS = 200;
/** What is too old is let go this many at a time: until then a new point costs one copy of the columns and not two. */
const LET_GO_POINTS = 16;

export const NO_RECENT: RecentLevels = { timeMs: [], levelMm: [], temperatureC: [] };

export function remember(recent: RecentLevels, point: LevelPoint): RecentLevels {
  const kept = letGo(recent, point.timeMs);
  return {
    timeMs: kept.timeMs.concat(point.timeMs),
    levelMm: kept.levelMm.concat(Math.round(point.levelMm * 100) / 100),
    temperatureC: kept.temperatureC.concat(point.temperatureC),
  };
}

function letGo(recent: RecentLevels, nowMs: EpochMs): RecentLevels {
  const { timeMs } = recent;
  const count = timeMs.length;
  const next = timeMs[LET_GO_POINTS - 1];
  if (next === undefined || (next >= nowMs - KEPT_MS && count < KEPT_POINTS + LET_GO_POINTS)) return recent;
  let from = LET_GO_POINTS;
  while (from < count && (timeMs[from]! < nowMs - KEPT_MS || count - from >= KEPT_POINTS)) from++;
  return {
    timeMs: timeMs.slice(from),
    levelMm: recent.levelMm.slice(from),
    temperatureC: recent.temperatureC.slice(from),
  };
}

/**
 * Litres in the reservoir at `atMs`: trimmed mean (an eighth at each end) of the readings of the window before it, each
 * moved forward by the use expected since. Null without a reading in the window.
 * @param fromMs readings before it do not count, for instance those before the last jump
 * @param usedBetween litres expected to be drawn between two instants
 * @param correction what is known of the sensor's response to temperature
 */
export function estimateLitres(
  recent: RecentLevels,
  strapping: Strapping,
  atMs: EpochMs,
  fromMs: EpochMs,
  noiseMm: number,
  usedBetween: (fromMs: EpochMs, toMs: EpochMs) => number,
  correction: TemperatureCorrection | null,
): Estimate | null {
  const litres: number[] = [];
  let used = 0;
  let sumLevel = 0;
  for (let i = recent.timeMs.length - 1; i >= 0; i--) {
    const timeMs = recent.timeMs[i]!;
    if (timeMs > atMs) continue;
    if (timeMs < fromMs) break;
    used = usedBetween(timeMs, atMs);
    const levelMm = atReferenceMm(recent.levelMm[i]!, recent.temperatureC[i]!, correction);
    sumLevel += levelMm;
    litres.push(strapping.litresAt(levelMm) - used);
  }
  const count = litres.length;
  if (count === 0) return null;
  litres.sort((a, b) => a - b);
  const cut = Math.floor(count / 8);
  let sum = 0;
  for (let i = cut; i < count - cut; i++) sum += litres[i]!;
  const area = strapping.areaLitresPerMm(sumLevel / count);
  const sd = area * Math.hypot((1.2 * noiseMm) / Math.sqrt(count), SLOW_ERROR_MM);
  return { value: sum / (count - 2 * cut), sd, count };
}

/** What averaging does not remove: temperature, the vessel's tilt, the wick's lag. */
const SLOW_ERROR_MM = 0.5;

/** Median of the last `count` levels at or before the end of the ring, from index `endExclusive` backwards. */
export function medianLevel(levels: readonly number[], endExclusive: number, count: number): number | null {
  const from = Math.max(0, endExclusive - count);
  const part = levels.slice(from, endExclusive);
  if (part.length === 0) return null;
  part.sort((a, b) => a - b);
  const middle = part.length >> 1;
  return part.length % 2 === 1 ? part[middle]! : (part[middle - 1]! + part[middle]!) / 2;
}
