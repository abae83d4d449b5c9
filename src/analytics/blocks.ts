import type { EpochMs } from '../domain/ids.js';
import { DAY_MS, HOUR_MS } from '../domain/local-day.js';
import type { Reservoir } from '../domain/registry.js';
import { BLOCK_FLAGS, type Block, type BlockKind } from './block.js';
import type { RecentLevels } from './recent.js';
import { median } from './stats/order.js';
import type { Strapping } from './strapping.js';

/** The block that the newest readings belong to. */
export interface OpenBlock {
  readonly kind: BlockKind;
  readonly startMs: EpochMs;
  readonly dayNumber: number;
  /** What has been true at some time in it. */
  readonly flags: number;
}

/** A leak empties the upper part of a vessel within hours of a refill: those hours are looked at by themselves. */
export const POST_REFILL_MS = 5 * HOUR_MS;

const LEAST_READINGS = 4;
const LEAST_SPAN_MS = 2 * HOUR_MS;
const TRIM_MADS = 4;
/** Close to the invert the port runs; close to the foot the wick falls dry: the level there follows neither model. */
const BELOW_INVERT_MM = 2;
const ABOVE_FOOT_MM = 4;
const BELOW_FOOT_MM = 2;

/**
 * Reduces the readings of a block to a line by least squares, after one pass of trimming at four MADs.
 * Readings near the invert and near the foot are left out; where water stood on both sides of the foot, the side with
 * more readings counts. Null with fewer than four readings or two hours.
 */
export function closeBlock(
  open: OpenBlock,
  endMs: EpochMs,
  recent: RecentLevels,
  reservoir: Reservoir,
  strapping: Strapping,
  noiseMm: number,
): Block | null {
  const above: number[] = [];
  const below: number[] = [];
  let { flags } = open;
  for (let i = 0; i < recent.timeMs.length; i++) {
    const timeMs = recent.timeMs[i]!;
    if (timeMs < open.startMs || timeMs > endMs) continue;
    const levelMm = recent.levelMm[i]!;
    if (levelMm > reservoir.overflowMm - BELOW_INVERT_MM) flags |= BLOCK_FLAGS.aboveOverflow;
    else if (levelMm >= reservoir.wickFootMm + ABOVE_FOOT_MM) above.push(i);
    else {
      flags |= BLOCK_FLAGS.dry;
      if (levelMm < reservoir.wickFootMm - BELOW_FOOT_MM) below.push(i);
    }
  }
  const chosen = above.length >= below.length ? above : below;
  const line = fitLine(chosen, recent, open.startMs);
  if (line === null) return null;
  const meanMm = line.meanMm;
  const areaLitresPerMm = strapping.areaLitresPerMm(meanMm);
  return {
    startMs: open.startMs,
    endMs,
    kind: open.kind,
    dayNumber: open.dayNumber,
    readings: line.count,
    lossLitresPerDay: -line.slopeMmPerDay * areaLitresPerMm,
    lossVariance: (noiseMm ** 2 / line.sxx) * areaLitresPerMm ** 2,
    startLevelMm: line.firstMm,
    endLevelMm: line.lastMm,
    areaLitresPerMm,
    nominalLitresPerDay: 0,
    temperatureLitresPerDay: -line.kelvinPerDay * areaLitresPerMm,
    noiseMm,
    flags,
  };
}

interface Line {
  readonly count: number;
  readonly slopeMmPerDay: number;
  readonly sxx: number;
  readonly meanMm: number;
  readonly firstMm: number;
  readonly lastMm: number;
  readonly kelvinPerDay: number;
}

function fitLine(indices: readonly number[], recent: RecentLevels, originMs: EpochMs): Line | null {
  if (!enough(indices, recent)) return null;
  const x = (index: number): number => (recent.timeMs[index]! - originMs) / DAY_MS;
  const all = leastSquares(indices, x, (index) => recent.levelMm[index]!);
  const residual = (index: number): number =>
    Math.abs(recent.levelMm[index]! - all.mean - all.slope * (x(index) - all.meanX));
  const scale = 1.4826 * (median(indices.map(residual)) ?? 0);
  const kept = scale > 0 ? indices.filter((index) => residual(index) <= TRIM_MADS * scale) : indices;
  if (!enough(kept, recent)) return null;
  const fit = leastSquares(kept, x, (index) => recent.levelMm[index]!);
  if (fit.sxx <= 0) return null;
  const warm = kept.filter((index) => recent.temperatureC[index] !== null);
  const kelvin = enough(warm, recent) ? leastSquares(warm, x, (index) => recent.temperatureC[index]!) : null;
  const at = (index: number): number => fit.mean + fit.slope * (x(index) - fit.meanX);
  return {
    count: kept.length,
    slopeMmPerDay: fit.slope,
    sxx: fit.sxx,
    meanMm: fit.mean,
    firstMm: at(kept[0]!),
    lastMm: at(kept[kept.length - 1]!),
    kelvinPerDay: kelvin === null || kelvin.sxx <= 0 ? 0 : kelvin.slope,
  };
}

function enough(indices: readonly number[], recent: RecentLevels): boolean {
  if (indices.length < LEAST_READINGS) return false;
  return recent.timeMs[indices[indices.length - 1]!]! - recent.timeMs[indices[0]!]! >= LEAST_SPAN_MS;
}

function leastSquares(
  indices: readonly number[],
  x: (index: number) => number,
  y: (index: number) => number,
): { readonly slope: number; readonly mean: number; readonly meanX: number; readonly sxx: number } {
  let meanX = 0;
  let mean = 0;
  for (const index of indices) {
    meanX += x(index);
    mean += y(index);
  }
  meanX /= indices.length;
  mean /= indices.length;
  let sxx = 0;
  let sxy = 0;
  for (const index of indices) {
    sxx += (x(index) - meanX) ** 2;
    sxy += (x(index) - meanX) * (y(index) - mean);
  }
  return { slope: sxx > 0 ? sxy / sxx : 0, mean, meanX, sxx };
}
