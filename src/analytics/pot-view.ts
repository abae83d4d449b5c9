import type { PotContext } from '../domain/analysis.js';
import type { EpochMs, NodeId } from '../domain/ids.js';
import type { PotEvent } from '../domain/pot.js';
import type { PackedBlock } from './block.js';
import type { PackedDay } from './day-record.js';
import type { Strapping } from './strapping.js';

/** What the fold knows of a pot at an instant, for the findings to judge by. */
export interface PotView {
  readonly ctx: PotContext;
  readonly strapping: Strapping;
  readonly atMs: EpochMs;
  readonly nodeId: NodeId | null;
  readonly assignedMs: EpochMs | null;
  readonly promisedIntervalS: number | null;
  /** Median interval between readings; null before five of them. */
  readonly learntIntervalS: number | null;
  readonly lastReadingMs: EpochMs | null;
  readonly lastLevelMs: EpochMs | null;
  readonly levelMm: number | null;
  readonly litres: number | null;
  readonly moistureFraction: number | null;
  readonly noiseMm: number;
  /** Sensor's response to temperature, mm/K; sd null before it was learnt. */
  readonly temperatureMmPerK: number;
  readonly temperatureSdMmPerK: number | null;
  /** Use expected in the 24 h around `atMs`, leak not included. */
  readonly demandLitresPerDay: number;
  /** Evaporative demand of the last complete day. */
  readonly et0Mm: number;
  readonly kappa: number;
  readonly kappaSd: number;
  /** Days that the demand filter has used. */
  readonly demandDays: number;
  readonly moistureReference: number | null;
  /** Water that the soil will take back before the plants' use shows again. */
  readonly debtLitres: number;
  /** Rain water that the soil of an uncovered pot holds above what it keeps. */
  readonly rainBucketLitres: number;
  /** Events of the last 14 days, oldest first. */
  readonly recentEvents: readonly PotEvent[];
  /** The last 90 days of drawdown blocks, oldest first, the one just observed included. */
  readonly blocks: readonly PackedBlock[];
  /** The last 120 days, oldest first, the one just observed included. */
  readonly days: readonly PackedDay[];
}
