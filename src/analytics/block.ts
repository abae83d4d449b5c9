import type { EpochMs } from '../domain/ids.js';

export type BlockKind = 'day' | 'night' | 'post_refill';

/** Reasons for which a block may be unfit for one test or another; a bit each, so that a block stays small. */
export const BLOCK_FLAGS = {
  /** The soil still takes back what it lost while the reservoir was dry. */
  rewetting: 1,
  /** Water stood at or near the wick foot. */
  dry: 2,
  /** Rain fell on the day or the day before, on a pot that rain reaches. */
  rain: 4,
  /** The moisture sensor shows that the soil owes the reservoir water. */
  debt: 8,
  /** Readings above the overflow invert were cut off. */
  aboveOverflow: 16,
  /** The soil of an uncovered pot held rain water that the plants use first. */
  wetSoil: 32,
  /** No observed weather: the nominal demand is a guess from season and latitude. */
  demandGuessed: 64,
  /** A person or the level says that water was taken out within the block. */
  disturbed: 128,
} as const;

/**
 * A stretch of drawdown between events, reduced to a line. Day blocks run 05:30-22:30 on the wall of the site, night
 * blocks 22:30-05:30, and the first 5 h after a refill form a block of their own. All rates are litres per day,
 * positive while the reservoir loses water.
 */
export interface Block {
  readonly startMs: EpochMs;
  readonly endMs: EpochMs;
  readonly kind: BlockKind;
  /** Days since 1970-01-01 of the site-local day on which the block's day or evening began. */
  readonly dayNumber: number;
  readonly readings: number;
  readonly lossLitresPerDay: number;
  /** Of the loss, from the level's noise alone, (L/d)^2. */
  readonly lossVariance: number;
  /** Fitted level at the two ends. */
  readonly startLevelMm: number;
  readonly endLevelMm: number;
  /** dV/dh at the mean level, L/mm. */
  readonly areaLitresPerMm: number;
  /** Use that weather and planting would explain, by the coefficient of 10-60 days before. */
  readonly nominalLitresPerDay: number;
  /** The loss that a temperature coefficient of 1 mm/K would feign within the block. */
  readonly temperatureLitresPerDay: number;
  readonly noiseMm: number;
  /** Sum of {@link BLOCK_FLAGS}. */
  readonly flags: number;
}

/** A block as it lies in the state: an array in the order of {@link FIELDS}. */
export type PackedBlock = readonly number[];

const KINDS: readonly BlockKind[] = ['day', 'night', 'post_refill'];

/** Five digits: a hundredth of what the noise leaves uncertain, and half the bytes of a full double. */
const DIGITS = 5;

export function packBlock(block: Block): PackedBlock {
  return [
    block.startMs,
    block.endMs - block.startMs,
    KINDS.indexOf(block.kind),
    block.dayNumber,
    block.readings,
    shorten(block.lossLitresPerDay),
    shorten(block.lossVariance),
    shorten(block.startLevelMm),
    shorten(block.endLevelMm),
    shorten(block.areaLitresPerMm),
    shorten(block.nominalLitresPerDay),
    shorten(block.temperatureLitresPerDay),
    shorten(block.noiseMm),
    block.flags,
  ];
}

export function unpackBlock(packed: PackedBlock): Block {
  return {
    startMs: packed[0]!,
    endMs: packed[0]! + packed[1]!,
    kind: KINDS[packed[2]!]!,
    dayNumber: packed[3]!,
    readings: packed[4]!,
    lossLitresPerDay: packed[5]!,
    lossVariance: packed[6]!,
    startLevelMm: packed[7]!,
    endLevelMm: packed[8]!,
    areaLitresPerMm: packed[9]!,
    nominalLitresPerDay: packed[10]!,
    temperatureLitresPerDay: packed[11]!,
    noiseMm: packed[12]!,
    flags: packed[13]!,
  };
}

export function hasFlag(block: { readonly flags: number }, flag: keyof typeof BLOCK_FLAGS): boolean {
  return (block.flags & BLOCK_FLAGS[flag]) !== 0;
}

/** Rounds to the digits that a packed record keeps; a null stays null. */
export function shorten(value: number): number {
  return Number(value.toPrecision(DIGITS));
}
