import type { EpochMs } from '../domain/ids.js';
import type { RollupValues } from '../domain/pot.js';

/** Running sums of an hour or a day. */
export interface RollupSums {
  readonly fromMs: EpochMs;
  readonly readings: number;
  readonly levels: number;
  readonly levelSum: number;
  readonly levelMin: number;
  readonly levelMax: number;
  readonly litresSum: number;
  readonly moistures: number;
  readonly moistureSum: number;
  readonly temperatures: number;
  readonly temperatureSum: number;
  readonly batteryMinV: number | null;
}

export interface RollupReading {
  /** Null where the level was missing or did not count. */
  readonly levelMm: number | null;
  readonly litres: number;
  readonly moistureFraction: number | null;
  readonly temperatureC: number | null;
  readonly batteryV: number | null;
}

export function startSums(fromMs: EpochMs): RollupSums {
  return {
    fromMs,
    readings: 0,
    levels: 0,
    levelSum: 0,
    levelMin: 0,
    levelMax: 0,
    litresSum: 0,
    moistures: 0,
    moistureSum: 0,
    temperatures: 0,
    temperatureSum: 0,
    batteryMinV: null,
  };
}

export function addToSums(sums: RollupSums, reading: RollupReading): RollupSums {
  const { levelMm } = reading;
  const first = sums.levels === 0;
  return {
    fromMs: sums.fromMs,
    readings: sums.readings + 1,
    levels: sums.levels + (levelMm === null ? 0 : 1),
    levelSum: sums.levelSum + (levelMm ?? 0),
    levelMin: levelMm === null ? sums.levelMin : first ? levelMm : Math.min(sums.levelMin, levelMm),
    levelMax: levelMm === null ? sums.levelMax : first ? levelMm : Math.max(sums.levelMax, levelMm),
    litresSum: sums.litresSum + (levelMm === null ? 0 : reading.litres),
    moistures: sums.moistures + (reading.moistureFraction === null ? 0 : 1),
    moistureSum: sums.moistureSum + (reading.moistureFraction ?? 0),
    temperatures: sums.temperatures + (reading.temperatureC === null ? 0 : 1),
    temperatureSum: sums.temperatureSum + (reading.temperatureC ?? 0),
    batteryMinV:
      reading.batteryV === null
        ? sums.batteryMinV
        : sums.batteryMinV === null
          ? reading.batteryV
          : Math.min(sums.batteryMinV, reading.batteryV),
  };
}

export function valuesOf(sums: RollupSums): RollupValues {
  const none = sums.levels === 0;
  return {
    readings: sums.readings,
    levelMinMm: none ? null : sums.levelMin,
    levelMeanMm: none ? null : sums.levelSum / sums.levels,
    levelMaxMm: none ? null : sums.levelMax,
    litresMean: none ? null : sums.litresSum / sums.levels,
    moistureMean: sums.moistures === 0 ? null : sums.moistureSum / sums.moistures,
    temperatureMeanC: sums.temperatures === 0 ? null : sums.temperatureSum / sums.temperatures,
    batteryMinV: sums.batteryMinV,
  };
}
