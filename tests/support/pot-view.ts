import { type Block, packBlock } from '../../src/analytics/block.js';
import type { CleanReading } from '../../src/analytics/clean-reading.js';
import { type DayRecord, packDay } from '../../src/analytics/day-record.js';
import type { PotView } from '../../src/analytics/pot-view.js';
import { makeStrapping } from '../../src/analytics/strapping.js';
import { DAY_MS } from '../../src/domain/local-day.js';
import type { Container, Site } from '../../src/domain/registry.js';

/** 2026-03-01T00:00:00Z. */
export const START_MS = 1_772_323_200_000;
export const START_DAY = START_MS / DAY_MS;

export const site: Site = {
  id: 'S1',
  accountId: 'A1',
  name: 'Terrace',
  latitude: 41.2,
  longitude: 2.1,
  elevationM: 5,
  timeZone: 'UTC',
  tap: true,
};

/** A straight-sided pot of 0.15 m²: 1 mm is 0.15 L; overflow at 200 mm, wick foot at 20 mm. */
export const container: Container = {
  id: 'C1',
  siteId: 'S1',
  name: 'Bowl',
  place: null,
  covered: true,
  installedOn: '2026-01-01',
  removedOn: null,
  reservoir: {
    strapping: [
      [0, 0],
      [240, 36],
    ],
    overflowMm: 200,
    wickFootMm: 20,
  },
  soil: { litres: 60, surfaceM2: 0.2 },
  potKg: 20,
  plants: [],
};

export function makeView(parts: Partial<PotView> = {}): PotView {
  return {
    ctx: { container, site, calibration: null },
    strapping: makeStrapping(container.reservoir),
    atMs: START_MS,
    nodeId: 'N1',
    assignedMs: START_MS - 60 * DAY_MS,
    promisedIntervalS: null,
    learntIntervalS: 1800,
    lastReadingMs: START_MS,
    lastLevelMs: START_MS,
    levelMm: 120,
    litres: 18,
    moistureFraction: 0.4,
    noiseMm: 1,
    temperatureMmPerK: 0,
    temperatureSdMmPerK: null,
    demandLitresPerDay: 1,
    et0Mm: 4,
    kappa: Math.log(0.25),
    kappaSd: 0.05,
    demandDays: 40,
    moistureReference: 0.4,
    debtLitres: 0,
    rainBucketLitres: 0,
    recentEvents: [],
    blocks: [],
    days: [],
    ...parts,
  };
}

export function makeBlock(parts: Partial<Block> = {}): Block {
  return {
    startMs: START_MS,
    endMs: START_MS + 7 * 3_600_000,
    kind: 'night',
    dayNumber: START_DAY,
    readings: 14,
    lossLitresPerDay: 0.3,
    lossVariance: 0.09,
    startLevelMm: 150,
    endLevelMm: 149,
    areaLitresPerMm: 0.15,
    nominalLitresPerDay: 0.3,
    temperatureLitresPerDay: 0,
    noiseMm: 1,
    flags: 0,
    ...parts,
  };
}

export function makeDay(parts: Partial<DayRecord> = {}): DayRecord {
  const dayNumber = parts.dayNumber ?? START_DAY;
  return {
    dayNumber,
    startMs: dayNumber * DAY_MS + 5.5 * 3_600_000,
    endMs: (dayNumber + 1) * DAY_MS + 5.5 * 3_600_000,
    readings: 48,
    dawnLevelMm: 120,
    dawnLitres: 18,
    netUseLitres: 1,
    expectedLitres: 1,
    innovation: 0,
    kappa: Math.log(0.25),
    kappaSd: 0.05,
    et0Mm: 4,
    et0Source: 'weather',
    rainMm: 0,
    dawnMoisture: 0.4,
    moistureReference: 0.4,
    levelMinMm: 115,
    levelMaxMm: 125,
    refills: 0,
    refillLitres: 0,
    rainLitres: 0,
    hoursDry: 0,
    hoursFull: 0,
    noiseMm: 1,
    temperatureMinC: 15,
    temperatureMaxC: 25,
    batteryV: 3,
    batteryFraction: null,
    batteryTemperatureC: 20,
    outliers: 0,
    flags: 0,
    ...parts,
  };
}

export const packDays = (days: readonly DayRecord[]) => days.map(packDay);
export const packBlocks = (blocks: readonly Block[]) => blocks.map(packBlock);

export function makeReading(parts: Partial<CleanReading> = {}): CleanReading {
  const timeMs = parts.timeMs ?? START_MS;
  return {
    nodeId: 'N1',
    timeMs,
    receivedMs: timeMs + 2000,
    verdict: 'accepted',
    heldWasOutlier: false,
    rawLevelMm: 120,
    levelMm: 120,
    litres: 18,
    gapHours: 0.5,
    noiseMm: 1,
    moistureFraction: 0.4,
    temperatureC: 20,
    batteryV: 3,
    batteryFraction: null,
    ...parts,
  };
}
