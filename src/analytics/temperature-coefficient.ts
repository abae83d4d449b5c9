import type { PackedBlock } from './block.js';
import { BLOCK_FLAGS, unpackBlock } from './block.js';

export interface TemperatureCoefficient {
  /** Rise of the reading per kelvin at the same water, mm/K. */
  readonly mmPerK: number;
  readonly sdMmPerK: number;
  readonly nights: number;
}

const NIGHT_SHARE_PRIOR = { mean: 0.25, sd: 0.15 } as const;
/** Of sensors of this kind, mm/K, before anything was learnt of one. */
export const COEFFICIENT_PRIOR_SD = 0.17;
/** The element lags behind the air, so that the formal deviation is too small by about this. */
const INFLATION = 2;
const LEAST_NIGHTS = 8;
const UNFIT = BLOCK_FLAGS.rewetting | BLOCK_FLAGS.dry | BLOCK_FLAGS.rain | BLOCK_FLAGS.debt | BLOCK_FLAGS.disturbed;

/**
 * The level sensor's response to temperature, from night blocks only: loss = share * nominal use + coefficient * what
 * 1 mm/K would feign, by weighted least squares with priors on both. Nights differ in how fast they cool; within one
 * night the temperature is as good as collinear with time, and whole days confound it with the plants' rhythm.
 * Null with fewer than eight fit nights.
 */
export function temperatureCoefficient(blocks: readonly PackedBlock[]): TemperatureCoefficient | null {
  let nights = 0;
  let uu = 1 / NIGHT_SHARE_PRIOR.sd ** 2;
  let uc = 0;
  let cc = 1 / COEFFICIENT_PRIOR_SD ** 2;
  let uy = NIGHT_SHARE_PRIOR.mean / NIGHT_SHARE_PRIOR.sd ** 2;
  let cy = 0;
  for (const packed of blocks) {
    const block = unpackBlock(packed);
    if (block.kind !== 'night' || (block.flags & UNFIT) !== 0 || block.nominalLitresPerDay <= 0) continue;
    const u = block.nominalLitresPerDay;
    const weight = 1 / (block.lossVariance + (0.35 * u) ** 2 + (0.3 * block.areaLitresPerMm) ** 2);
    uu += weight * u * u;
    uc += weight * u * block.temperatureLitresPerDay;
    cc += weight * block.temperatureLitresPerDay ** 2;
    uy += weight * u * block.lossLitresPerDay;
    cy += weight * block.temperatureLitresPerDay * block.lossLitresPerDay;
    nights++;
  }
  if (nights < LEAST_NIGHTS) return null;
  const determinant = uu * cc - uc * uc;
  return {
    mmPerK: (uu * cy - uc * uy) / determinant,
    sdMmPerK: INFLATION * Math.sqrt(uu / determinant),
    nights,
  };
}
