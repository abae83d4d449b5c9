import { DAY_MS } from '../../../domain/local-day.js';
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
  /** Of a loss smaller than expected: rain that comes through the soil makes losses smaller, never larger. */
  readonly sdBelow: number;
  readonly nominal: number;
  /** What the pot might draw in fuller growth, L/d: bounds what a change of demand can explain. */
  readonly potential: number;
  /** Loss feigned by 1 mm/K. */
  readonly temperature: number;
  /** What the soil took up by the moisture sensor, L/d; 0 where the soil was settled. */
  readonly soilGain: number;
  /** Flow of a unit leak (1 L/d at the invert) through a crack at each of {@link HEIGHT_SHARES}. */
  readonly flows: readonly number[];
}

/** Blocks in which rain moved the level too. */
const RAINY = BLOCK_FLAGS.rain | BLOCK_FLAGS.wetSoil;
/** The soil takes water back: such a block counts only where the moisture sensor says how much. */
const REWETTED = BLOCK_FLAGS.rewetting | BLOCK_FLAGS.debt;
/**
 * The wick's foot is known to some millimetres, and near it the wick falls dry: a level that stands still there is no
 * crack's height, and one that falls there may be drunk.
 */
const CLEAR_OF_FOOT_MM = { above: 8, below: 6 } as const;
/** What the sensor says of the soil's gain is this uncertain: it sees one place of the soil. */
const SOIL_GAIN_ERROR = 0.4;
const MOISTURE_ERROR = 0.004;

/** The day's use varies about its mean by this share of it (weather at the pot, cloud, lag of the wick). */
const RELATIVE_SD = { day: 0.22, night: 0.35, post_refill: 0.6 } as const;
/** A coefficient on the move (growth in spring, a new planting) is known less well, by this share of the way it went. */
const MOVED_ERROR = 0.15;
/** Single days stray by this share of what the pot might draw at most. */
const POTENTIAL_ERROR = 0.07;
/** What the soil's rain saves the reservoir is known to about this share of it. */
const RELIEF_ERROR = 0.7;
/** Of the rain on the soil this much may reach the reservoir within a day, unseen. */
const PERCOLATION_SHARE = 0.3;
/** Roots that hang in the dead storage draw up to this share of the use. */
const ROOTS_SHARE = 0.15;
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

export interface LeakPot {
  readonly invertMm: number;
  readonly footMm: number;
  readonly soilLitres: number | null;
  /** Litres per day into the soil by start of the block. */
  readonly soilGains: ReadonlyMap<number, number>;
}

/** What is known of the plants' demand on one day. */
export interface DayThirst {
  /** Of today's expectation by the coefficient that is held against a leak, as a multiple of the block's own nominal. */
  readonly scale: number;
  /** Use in fuller growth as a multiple of that expectation, at least 1. */
  readonly growth: number;
  /** How far the coefficient has moved of late, as a share of itself; 0 for not at all. */
  readonly moved: number;
  /** The whole day's use by that coefficient. */
  readonly useLitresPerDay: number;
  /** Of it, the share that rain water in the soil covered as far as the rain gauge tells. */
  readonly rainShare: number;
  /** Rain of the day and the day before that fell on the soil; 0 on covered pots. */
  readonly rainLitres: number;
}

/** A day of which no more is known than what the block itself was given. */
export const AS_NOMINAL: DayThirst = {
  scale: 1,
  growth: 1,
  moved: 0,
  useLitresPerDay: 0,
  rainShare: 0,
  rainLitres: 0,
};

/** What a block shows, whatever the plants are held to use. */
export interface LeakBlock {
  readonly block: Block;
  readonly underFoot: boolean;
  readonly rained: boolean;
  readonly soilGain: number;
  /** Variance of the loss by noise, slow errors and the soil's gain. */
  readonly variance: number;
  readonly flows: readonly number[];
}

/** Null where the block says nothing about a leak. */
export function leakBlock(packed: PackedBlock, pot: LeakPot): LeakBlock | null {
  const block = unpackBlock(packed);
  const { invertMm, footMm } = pot;
  if (block.readings < 4 || !(block.lossVariance > 0)) return null;
  const underFoot = Math.max(block.startLevelMm, block.endLevelMm) < footMm - CLEAR_OF_FOOT_MM.below;
  if (!underFoot && Math.min(block.startLevelMm, block.endLevelMm) < footMm + CLEAR_OF_FOOT_MM.above) return null;
  const rewetted = !underFoot && (block.flags & REWETTED) !== 0;
  const gain = pot.soilGains.get(block.startMs);
  if (rewetted && (gain === undefined || pot.soilLitres === null)) return null;
  const soilGain = rewetted ? Math.max(0, gain ?? 0) : 0;
  const spanDays = (block.endMs - block.startMs) / DAY_MS;
  const soilSd = rewetted
    ? Math.hypot(SOIL_GAIN_ERROR * soilGain, (MOISTURE_ERROR * (pot.soilLitres ?? 0)) / spanDays)
    : 0;
  const slow = SLOW_MM_PER_DAY * block.areaLitresPerMm;
  return {
    block,
    underFoot,
    rained: (block.flags & RAINY) !== 0,
    soilGain,
    variance: block.lossVariance + slow ** 2 + soilSd ** 2,
    flows: HEIGHT_SHARES.map((share) =>
      meanOrificeShare(block.startLevelMm, block.endLevelMm, share * invertMm, invertMm),
    ),
  };
}

/** The block as a line of the regression, beside what the plants are held to use. */
export function leakRow(seen: LeakBlock, thirst: DayThirst): LeakRow {
  const { block, underFoot, rained } = seen;
  const full = underFoot ? 0 : thirst.scale * block.nominalLitresPerDay;
  const relief = rained ? thirst.rainShare * full : 0;
  const roots = underFoot ? ROOTS_SHARE * thirst.useLitresPerDay : 0;
  const potential = thirst.growth * (underFoot ? roots : full);
  const model = Math.hypot(
    RELATIVE_SD[block.kind] * full,
    MOVED_ERROR * thirst.moved * full,
    POTENTIAL_ERROR * potential,
    RELIEF_ERROR * relief,
    roots,
  );
  const sd = Math.sqrt(seen.variance + model ** 2);
  return {
    dayNumber: block.dayNumber,
    kind: block.kind,
    loss: block.lossLitresPerDay,
    sd,
    sdBelow: rained ? Math.hypot(sd, full - relief, PERCOLATION_SHARE * thirst.rainLitres) : sd,
    nominal: full - relief,
    potential,
    temperature: block.temperatureLitresPerDay,
    soilGain: seen.soilGain,
    flows: seen.flows,
  };
}
