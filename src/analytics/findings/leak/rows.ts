import { BLOCK_FLAGS, type Block, type PackedBlock, unpackBlock } from '../../block.js';

/** Crack heights that are tried, as shares of the overflow height. */
export const HEIGHT_SHARES: readonly number[] = Array.from({ length: 18 }, (_, i) => i * 0.05);

/** One block as a line of the regression. */
export interface LeakRow {
  readonly dayNumber: number;
  readonly kind: Block['kind'];
  /** Observed loss, L/d. */
  readonly loss: number;
  readonly sd: number;
  readonly nominal: number;
  /** Loss feigned by 1 mm/K. */
  readonly temperature: number;
  readonly areaLitresPerMm: number;
  /** Flow of a unit leak (1 L/d at the invert) through a crack at each of {@link HEIGHT_SHARES}. */
  readonly flows: readonly number[];
}

/** Blocks in which something else than plants and a leak moved the level. */
const UNFIT =
  BLOCK_FLAGS.rewetting |
  BLOCK_FLAGS.dry |
  BLOCK_FLAGS.rain |
  BLOCK_FLAGS.debt |
  BLOCK_FLAGS.wetSoil |
  BLOCK_FLAGS.disturbed;

/** The day's use varies about its mean by this share of it (weather at the pot, cloud, lag of the wick). */
const RELATIVE_SD = { day: 0.22, night: 0.35, post_refill: 0.6 } as const;
/** Slow errors of the level, mm per day: settling, tilt, what temperature leaves over. */
const SLOW_MM_PER_DAY = 0.3;

/**
 * Mean over a straight path of levels of sqrt((h - crack)/(invert - crack)), 0 below the crack: what an orifice at
 * `crackMm` passes, as a share of its flow with water at the invert.
 */
export function meanOrificeShare(fromMm: number, toMm: number, crackMm: number, invertMm: number): number {
  const span = invertMm - crackMm;
  const high = Math.max(fromMm, toMm) - crackMm;
  const low = Math.min(fromMm, toMm) - crackMm;
  if (high <= 0 || span <= 0) return 0;
  if (high - low < 0.5) return Math.sqrt(Math.max(0, (high + low) / 2) / span);
  const upper = high ** 1.5;
  const lower = low > 0 ? low ** 1.5 : 0;
  return ((2 / 3) * (upper - lower)) / (Math.sqrt(span) * (high - low));
}

export function leakRow(packed: PackedBlock, invertMm: number): LeakRow | null {
  const block = unpackBlock(packed);
  if ((block.flags & UNFIT) !== 0 || block.readings < 4) return null;
  if (!(block.lossVariance > 0)) return null;
  const model = RELATIVE_SD[block.kind] * block.nominalLitresPerDay;
  const slow = SLOW_MM_PER_DAY * block.areaLitresPerMm;
  return {
    dayNumber: block.dayNumber,
    kind: block.kind,
    loss: block.lossLitresPerDay,
    sd: Math.sqrt(block.lossVariance + model ** 2 + slow ** 2),
    nominal: block.nominalLitresPerDay,
    temperature: block.temperatureLitresPerDay,
    areaLitresPerMm: block.areaLitresPerMm,
    flows: HEIGHT_SHARES.map((share) =>
      meanOrificeShare(block.startLevelMm, block.endLevelMm, share * invertMm, invertMm),
    ),
  };
}
