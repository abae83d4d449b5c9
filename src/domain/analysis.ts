import type { EpochMs } from './ids.js';
import type { DayRollup, FindingDraft, HourRollup, LedgerDay, PotEvent, PotReading, PotStatus } from './pot.js';
import type { Container, Site } from './registry.js';
import type { WeatherDay } from './weather.js';

/** What the analysis of one container depends on besides its dated inputs. */
export interface PotContext {
  readonly container: Container;
  readonly site: Site;
  /** Factors on the spread of forecasts by lead, frozen daily over the fleet; null before the first. */
  readonly calibration: FleetCalibration | null;
  /** How far the site's weather forecasts are to be followed, by lead in days from 0 on; null before the archive spoke. */
  readonly weatherSkill?: readonly WeatherSkill[] | null;
}

/** ln(observed / usual) = offset + slope ln(forecast / usual), with an error of `errorSd` where the season alone leaves `usualSd`. */
export interface WeatherSkill {
  readonly slope: number;
  readonly offset: number;
  readonly usualSd: number;
  readonly errorSd: number;
}

export interface FleetCalibration {
  readonly frozenMs: EpochMs;
  /** Leads for which there are factors, days. */
  readonly leadDays: readonly number[];
  /**
   * Factors on the spread, one for each lead: of the early side of covered pots, then of their late side, then the same
   * for pots that rain reaches.
   */
  readonly spreadFactors: readonly number[];
}

/** A dated fact about one container. Inputs are folded in order of (timeMs, kind, receivedMs). */
export type PotInput =
  | { readonly kind: 'reading'; readonly timeMs: EpochMs; readonly reading: PotReading }
  /** An observed day; dated at the end of that site-local day. */
  | { readonly kind: 'weather'; readonly timeMs: EpochMs; readonly day: WeatherDay }
  /** A crew's report of what it did; dated when it was done. */
  | {
      readonly kind: 'work';
      readonly timeMs: EpochMs;
      readonly work: 'refill' | 'drain' | 'wet_from_above' | 'repack_wick' | 'replant' | 'clear_overflow' | 'other';
      readonly litres: number | null;
    }
  /** A person's word on an event: dated at the event, or at the instant that the person moved it to if that is earlier. */
  | {
      readonly kind: 'correction';
      readonly timeMs: EpochMs;
      readonly eventId: string;
      /** `none`: nothing happened to the water. */
      readonly correctedKind: PotEvent['kind'] | 'none';
      /** Null: as measured. */
      readonly litres: number | null;
      /** Null: when it was seen. */
      readonly startMs: EpochMs | null;
      /** The person tells of something that the levels did not show. */
      readonly added: boolean;
    }
  /** A node was put on the pot or taken off it. */
  | {
      readonly kind: 'assignment';
      readonly timeMs: EpochMs;
      readonly nodeId: string | null;
      readonly promisedIntervalS: number | null;
    };

/** What the fold has derived for the time from `fromMs` on; it replaces whatever was derived for that time before. */
export interface DerivedRecords {
  readonly fromMs: EpochMs;
  readonly events: readonly PotEvent[];
  /** Ids of events, also of earlier ones, that are none; mostly they were never told. */
  readonly withdrawnEvents: readonly string[];
  readonly ledgerDays: readonly LedgerDay[];
  readonly hourRollups: readonly HourRollup[];
  readonly dayRollups: readonly DayRollup[];
}

/** The fold's memory at an instant; plain JSON, so that it can be stored and compared. */
export interface Checkpoint<State> {
  readonly atMs: EpochMs;
  readonly state: State;
}

export interface FoldResult<State> {
  readonly state: State;
  readonly derived: DerivedRecords;
  /** One for each site-local midnight that was passed. */
  readonly checkpoints: readonly Checkpoint<State>[];
}

/** What the analysis says at an instant: a function of the fold's state, the instant and the weather to come. */
export interface Assessment {
  readonly status: PotStatus;
  readonly findings: readonly FindingDraft[];
}
