import type { Reservoir } from '../domain/registry.js';
import { stepRunningQuantile } from './stats/order.js';

/** What a hydrological day's record needs of its readings, dawn to dawn. */
export interface DayStats {
  readonly readings: number;
  readonly outliers: number;
  readonly levelMinMm: number | null;
  readonly levelMaxMm: number | null;
  readonly temperatureMinC: number | null;
  readonly temperatureMaxC: number | null;
  readonly hoursDry: number;
  readonly hoursFull: number;
  readonly batteryV: number | null;
  readonly batteryFraction: number | null;
  readonly batteryTemperatureC: number | null;
  /** Sum of BLOCK_FLAGS. */
  readonly flags: number;
}

export const NO_STATS: DayStats = {
  readings: 0,
  outliers: 0,
  levelMinMm: null,
  levelMaxMm: null,
  temperatureMinC: null,
  temperatureMaxC: null,
  hoursDry: 0,
  hoursFull: 0,
  batteryV: null,
  batteryFraction: null,
  batteryTemperatureC: null,
  flags: 0,
};

export interface StatsReading {
  /** Filtered level; null where the reading's level did not count. */
  readonly levelMm: number | null;
  readonly heldWasOutlier: boolean;
  readonly gapHours: number;
  readonly temperatureC: number | null;
  readonly batteryV: number | null;
  readonly batteryFraction: number | null;
}

const NEAR_FOOT_MM = 4;
const NEAR_INVERT_MM = 2;
/** Time between two readings counts as dry or full up to this, h. */
const LONGEST_GAP_HOURS = 3;
const BATTERY_STEP_V = 0.004;

export function addToStats(stats: DayStats, reservoir: Reservoir, reading: StatsReading): DayStats {
  const { levelMm, temperatureC, batteryV } = reading;
  const hours = Math.min(LONGEST_GAP_HOURS, reading.gapHours);
  return {
    readings: stats.readings + 1,
    outliers: stats.outliers + (reading.heldWasOutlier ? 1 : 0),
    levelMinMm: least(stats.levelMinMm, levelMm),
    levelMaxMm: most(stats.levelMaxMm, levelMm),
    temperatureMinC: least(stats.temperatureMinC, temperatureC),
    temperatureMaxC: most(stats.temperatureMaxC, temperatureC),
    hoursDry: stats.hoursDry + (levelMm !== null && levelMm < reservoir.wickFootMm + NEAR_FOOT_MM ? hours : 0),
    hoursFull: stats.hoursFull + (levelMm !== null && levelMm >= reservoir.overflowMm - NEAR_INVERT_MM ? hours : 0),
    batteryV:
      batteryV === null
        ? stats.batteryV
        : stats.batteryV === null
          ? batteryV
          : stepRunningQuantile(stats.batteryV, batteryV, 0.1, BATTERY_STEP_V),
    batteryFraction: least(stats.batteryFraction, reading.batteryFraction),
    batteryTemperatureC: mean(stats.batteryTemperatureC, temperatureC),
    flags: stats.flags,
  };
}

function least(a: number | null, b: number | null): number | null {
  return a === null ? b : b === null ? a : Math.min(a, b);
}

function most(a: number | null, b: number | null): number | null {
  return a === null ? b : b === null ? a : Math.max(a, b);
}

/** Of the last dozen or so: what the cell feels when its voltage is taken. */
function mean(before: number | null, value: number | null): number | null {
  if (value === null) return before;
  return before === null ? value : before + 0.1 * (value - before);
}
