import type { PotContext } from '../domain/analysis.js';
import type { EpochMs, NodeId } from '../domain/ids.js';
import type { PackedBlock } from './block.js';
import type { OpenBlock } from './blocks.js';
import { type CleaningState, startCleaning } from './cleaning.js';
import type { PackedDay } from './day-record.js';
import { type DayStats, NO_STATS } from './day-stats.js';
import { type DemandFilter, startDemand } from './demand-filter.js';
import { type EventState, NO_EVENTS } from './event-records.js';
import { type FindingState, startFindings } from './findings/state.js';
import type { OpenLedgerDay } from './ledger.js';
import type { MarkKind } from './marks.js';
import { NO_PROFILE, type ProfileLearning, profileOf } from './profile-learning.js';
import { NO_RECENT, type RecentLevels } from './recent.js';
import type { RollupSums } from './rollups.js';
import { NO_SOIL, type SoilState } from './soil.js';
import { makeStrapping, type Strapping } from './strapping.js';
import type { TemperatureCoefficient } from './temperature-coefficient.js';
import { cumulate } from './use-profile.js';
import { NO_WEATHER, type WeatherMemory } from './weather-memory.js';

/**
 * All that the fold remembers of one pot: plain JSON of bounded size. Everything that is derived follows from it and
 * from the inputs to come.
 */
export interface PotState {
  /** Counts changes of this shape; a checkpoint of another version is useless and the fold starts anew. */
  readonly version: number;
  /** Time of the last input or mark; 0 before the first. */
  readonly atMs: EpochMs;
  readonly nextMarkMs: EpochMs;
  readonly nextMarkKind: MarkKind;
  readonly assignment: AssignmentState;
  readonly latest: LatestValues;
  readonly cleaning: CleaningState;
  readonly recent: RecentLevels;
  readonly events: EventState;
  readonly weather: WeatherMemory;
  readonly demand: DemandFilter;
  readonly soil: SoilState;
  readonly temperature: TemperatureCoefficient | null;
  readonly profileLearning: ProfileLearning;
  /** The profile that was learnt, cumulated; kept because it is asked for with every reading. */
  readonly cumulatedUse: readonly number[];
  /** The last dawn passed; null before the first. */
  readonly dawnMs: EpochMs | null;
  readonly ledger: { readonly today: OpenLedgerDay | null; readonly yesterday: OpenLedgerDay | null };
  readonly hour: RollupSums | null;
  readonly day: RollupSums | null;
  /** Since the last dawn. */
  readonly stats: DayStats;
  readonly openBlock: OpenBlock | null;
  /** Blocks since the last dawn, which do not know yet what the weather made the plants use. */
  readonly newBlocks: readonly PackedBlock[];
  readonly blocks: readonly PackedBlock[];
  readonly days: readonly PackedDay[];
  readonly findings: FindingState;
}

export interface AssignmentState {
  /** Null: no node is on the pot as far as is known; readings still count. */
  readonly nodeId: NodeId | null;
  readonly sinceMs: EpochMs | null;
  readonly promisedIntervalS: number | null;
  /** A node was taken off and none put on since. */
  readonly ended: boolean;
}

export interface LatestValues {
  readonly nodeId: NodeId | null;
  readonly readingMs: EpochMs | null;
  readonly firstReadingMs: EpochMs | null;
  readonly moistureFraction: number | null;
  readonly temperatureC: number | null;
  readonly batteryV: number | null;
}

export const STATE_VERSION = 9;

/** Expected thirst before the pot's own drawdown is known: days that a full reservoir lasts at 4 mm of ET0. */
const FULL_LASTS_DAYS = 12;
const FULL_LASTS_AT_ET0_MM = 4;

export function startState(ctx: PotContext): PotState {
  const strapping = strappingOf(ctx);
  const usable = Math.max(strapping.capacityLitres - strapping.deadLitres, 0.1);
  return {
    version: STATE_VERSION,
    atMs: 0,
    nextMarkMs: 0,
    nextMarkKind: 'midnight',
    assignment: { nodeId: null, sinceMs: null, promisedIntervalS: null, ended: false },
    latest: {
      nodeId: null,
      readingMs: null,
      firstReadingMs: null,
      moistureFraction: null,
      temperatureC: null,
      batteryV: null,
    },
    cleaning: startCleaning(),
    recent: NO_RECENT,
    events: NO_EVENTS,
    weather: NO_WEATHER,
    demand: startDemand(Math.log(usable / FULL_LASTS_DAYS / FULL_LASTS_AT_ET0_MM)),
    soil: NO_SOIL,
    temperature: null,
    profileLearning: NO_PROFILE,
    cumulatedUse: cumulate(profileOf(NO_PROFILE)),
    dawnMs: null,
    ledger: { today: null, yesterday: null },
    hour: null,
    day: null,
    stats: NO_STATS,
    openBlock: null,
    newBlocks: [],
    blocks: [],
    days: [],
    findings: startFindings(),
  };
}

// The curve follows from the container alone; a context is made anew for every run, the container object is not.
const curves = new WeakMap<object, Strapping>();

export function strappingOf(ctx: PotContext): Strapping {
  const known = curves.get(ctx.container.reservoir);
  if (known !== undefined) return known;
  const made = makeStrapping(ctx.container.reservoir);
  curves.set(ctx.container.reservoir, made);
  return made;
}
