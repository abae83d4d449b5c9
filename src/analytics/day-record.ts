import type { EpochMs } from '../domain/ids.js';
import { shorten } from './block.js';

/** Where the day's evaporative demand came from. */
export type DemandSource = 'weather' | 'latitude';

/**
 * One hydrological day of one pot, from 05:30 on the wall of the site to 05:30 of the next day, when plants use least
 * and the soil has settled. What is not known is null.
 */
export interface DayRecord {
  /** Days since 1970-01-01 of the site-local day on which it began. */
  readonly dayNumber: number;
  readonly startMs: EpochMs;
  readonly endMs: EpochMs;
  readonly readings: number;
  /** Level and litres at the end, from the readings of the night before it. */
  readonly dawnLevelMm: number | null;
  readonly dawnLitres: number | null;
  /** Litres lost between the two dawns with refills, rain gains and drains taken out: use plus leak plus overflow. */
  readonly netUseLitres: number | null;
  /** What the demand filter expected before it saw the day. */
  readonly expectedLitres: number | null;
  /** (observed - expected) / sd of the filter; null where the day was not used. */
  readonly innovation: number | null;
  /** Log of litres per mm of evaporative demand, after the day. */
  readonly kappa: number;
  readonly kappaSd: number;
  readonly et0Mm: number;
  readonly et0Source: DemandSource;
  readonly rainMm: number | null;
  /** Moisture at the end of the day and the level it settles at while water stands above the wick foot. */
  readonly dawnMoisture: number | null;
  readonly moistureReference: number | null;
  readonly levelMinMm: number | null;
  readonly levelMaxMm: number | null;
  readonly refills: number;
  readonly refillLitres: number;
  readonly rainLitres: number;
  /** Hours with the level near or below the wick foot, and at or above the overflow invert. */
  readonly hoursDry: number;
  readonly hoursFull: number;
  readonly noiseMm: number;
  readonly temperatureMinC: number | null;
  readonly temperatureMaxC: number | null;
  /** 10th percentile of the day. */
  readonly batteryV: number | null;
  readonly batteryFraction: number | null;
  readonly batteryTemperatureC: number | null;
  readonly outliers: number;
  /** Sum of `BLOCK_FLAGS` that held at some time in the day. */
  readonly flags: number;
}

/** Where a packed day holds what is asked for without unpacking it. */
export const AT = {
  dayNumber: 0,
  startMs: 1,
  spanMs: 2,
  expectedLitres: 7,
  kappa: 9,
  dawnMoisture: 14,
  moistureReference: 15,
  refills: 18,
  rainLitres: 20,
  hoursDry: 21,
  levelMinMm: 16,
  et0Mm: 11,
  rainMm: 13,
} as const;

/** A day as it lies in the state. */
export type PackedDay = readonly (number | null)[];

const SOURCES: readonly DemandSource[] = ['weather', 'latitude'];

export function packDay(record: DayRecord): PackedDay {
  return [
    record.dayNumber,
    record.startMs,
    record.endMs - record.startMs,
    record.readings,
    brief(record.dawnLevelMm),
    brief(record.dawnLitres),
    brief(record.netUseLitres),
    brief(record.expectedLitres),
    brief(record.innovation),
    shorten(record.kappa),
    shorten(record.kappaSd),
    shorten(record.et0Mm),
    SOURCES.indexOf(record.et0Source),
    brief(record.rainMm),
    brief(record.dawnMoisture),
    brief(record.moistureReference),
    brief(record.levelMinMm),
    brief(record.levelMaxMm),
    record.refills,
    shorten(record.refillLitres),
    shorten(record.rainLitres),
    shorten(record.hoursDry),
    shorten(record.hoursFull),
    shorten(record.noiseMm),
    brief(record.temperatureMinC),
    brief(record.temperatureMaxC),
    brief(record.batteryV),
    brief(record.batteryFraction),
    brief(record.batteryTemperatureC),
    record.outliers,
    record.flags,
  ];
}

export function unpackDay(packed: PackedDay): DayRecord {
  const at = (index: number): number | null => packed[index] ?? null;
  const sure = (index: number): number => packed[index] ?? 0;
  return {
    dayNumber: sure(0),
    startMs: sure(1),
    endMs: sure(1) + sure(2),
    readings: sure(3),
    dawnLevelMm: at(4),
    dawnLitres: at(5),
    netUseLitres: at(6),
    expectedLitres: at(7),
    innovation: at(8),
    kappa: sure(9),
    kappaSd: sure(10),
    et0Mm: sure(11),
    et0Source: SOURCES[sure(12)]!,
    rainMm: at(13),
    dawnMoisture: at(14),
    moistureReference: at(15),
    levelMinMm: at(16),
    levelMaxMm: at(17),
    refills: sure(18),
    refillLitres: sure(19),
    rainLitres: sure(20),
    hoursDry: sure(21),
    hoursFull: sure(22),
    noiseMm: sure(23),
    temperatureMinC: at(24),
    temperatureMaxC: at(25),
    batteryV: at(26),
    batteryFraction: at(27),
    batteryTemperatureC: at(28),
    outliers: sure(29),
    flags: sure(30),
  };
}

function brief(value: number | null): number | null {
  return value === null ? null : shorten(value);
}
