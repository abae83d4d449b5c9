import type { ContainerId, EpochMs, LocalDay, NodeId } from './ids.js';
import type { Message } from './message.js';

/** A reading attributed to a container: level above the reservoir floor. */
export interface PotReading {
  readonly nodeId: NodeId;
  readonly timeMs: EpochMs;
  readonly receivedMs: EpochMs;
  readonly levelMm: number | null;
  readonly moistureFraction: number | null;
  readonly temperatureC: number | null;
  readonly batteryV: number | null;
  readonly batteryFraction: number | null;
}

export type EventKind = 'refill' | 'rain' | 'overflow' | 'drained' | 'sudden_loss';

/** What happened to the water of one container. */
export interface PotEvent {
  /** Deterministic: made from container, kind and start. */
  readonly id: string;
  readonly containerId: ContainerId;
  readonly kind: EventKind;
  readonly startMs: EpochMs;
  readonly endMs: EpochMs;
  readonly startLevelMm: number;
  readonly endLevelMm: number;
  /** Gained (refill, rain) or lost (the others); never negative. */
  readonly litres: number;
  /** The port ran, so that more may have gone in than stayed. */
  readonly atLeast: boolean;
  readonly confidence: number;
}

/** What a person may say of an event. `none`: nothing happened. `as_found`: what the levels show counts again. */
export type CorrectedKind = EventKind | 'none' | 'as_found';

/** An event as it stood when a person spoke of it. */
export interface EventStanding {
  readonly kind: EventKind;
  readonly litres: number;
  readonly startMs: EpochMs;
}

/** A person's word on an event, or of one that nobody had seen. Every word is kept; the last one counts. */
export interface EventCorrection {
  readonly eventId: string;
  readonly containerId: ContainerId;
  readonly correctedKind: CorrectedKind;
  /** Null: as measured. */
  readonly litres: number | null;
  /** Null: when it was seen. */
  readonly startMs: EpochMs | null;
  /** What stood there; null where nothing did. */
  readonly before: EventStanding | null;
  readonly atMs: EpochMs;
  readonly actorId: string;
}

export type FindingKind =
  | 'leak'
  | 'overflow_blocked'
  | 'overflow_partly_blocked'
  | 'wick_failed'
  | 'wick_limited'
  | 'waterlogged'
  | 'demand_collapsed'
  | 'sensor_stuck'
  | 'sensor_drift'
  | 'sensor_unplugged'
  | 'sensor_fouled'
  | 'node_silent'
  | 'nodes_swapped'
  | 'clock_wrong'
  | 'battery_low';

export type Severity = 'low' | 'medium' | 'high';

/** A condition as analytics sees it now. The store gives it an identity and a life. */
export interface FindingDraft {
  readonly containerId: ContainerId;
  readonly nodeId: NodeId | null;
  readonly kind: FindingKind;
  /** When the condition seems to have begun, which is earlier than when it could be said. */
  readonly onsetMs: EpochMs | null;
  readonly size: number | null;
  /** Unit of `size`, as UCUM writes it: `L/d`, `mm`, `V`, `h`. */
  readonly unit: string | null;
  readonly heightMm: number | null;
  readonly confidence: number;
  readonly severity: Severity;
  readonly evidence: readonly Message[];
  /** What would settle the matter, for instance one full fill. */
  readonly toConfirm: Message | null;
}

export interface Finding extends FindingDraft {
  readonly id: string;
  /** The moment at which the program said so. */
  readonly openedMs: EpochMs;
  readonly closedMs: EpochMs | null;
}

/** Null beyond the horizon of 60 days, or where it is not known. */
export interface Quantiles {
  readonly p10Ms: EpochMs | null;
  readonly p50Ms: EpochMs | null;
  readonly p90Ms: EpochMs | null;
}

/** Why there is no forecast, or that there is one. */
export type Knowledge = 'known' | 'learning' | 'silent' | 'no_node' | 'sensor_fault';

export interface Forecast {
  readonly containerId: ContainerId;
  readonly originMs: EpochMs;
  readonly knowledge: Knowledge;
  readonly levelMm: number | null;
  /** All the water in the reservoir, dead storage included. */
  readonly litres: number | null;
  readonly rateLitresPerDay: number | null;
  readonly rateSdLitresPerDay: number | null;
  /** The water stands at the wick foot. */
  readonly dry: Quantiles | null;
  /** The soil has lost its readily available water as well. */
  readonly stress: Quantiles | null;
  /** Days of data behind the rate. */
  readonly dataDays: number;
  /** The rate's parts and the assumptions made, one message each. */
  readonly basis: readonly Message[];
}

/** What is known of a container now; one row a container, replaced as readings arrive. */
export interface PotStatus {
  readonly containerId: ContainerId;
  readonly atMs: EpochMs;
  readonly nodeId: NodeId | null;
  readonly lastReadingMs: EpochMs | null;
  readonly levelMm: number | null;
  readonly litres: number | null;
  /** Litres up to the overflow invert. */
  readonly capacityLitres: number;
  /** Litres below the wick foot. */
  readonly deadLitres: number;
  readonly moistureFraction: number | null;
  readonly temperatureC: number | null;
  readonly batteryV: number | null;
  readonly forecast: Forecast;
}

/**
 * One site-local day of one container's water, litres.
 * opening + refillCrew + refillOther + rain = uptake + leak + overflow + drained + unexplained + closing.
 */
export interface LedgerDay {
  readonly containerId: ContainerId;
  readonly day: LocalDay;
  readonly openingLitres: number;
  readonly refillCrewLitres: number;
  readonly refillOtherLitres: number;
  readonly rainLitres: number;
  readonly uptakeLitres: number;
  readonly leakLitres: number;
  readonly overflowLitres: number;
  readonly drainedLitres: number;
  /** What cannot be attributed; may be negative. */
  readonly unexplainedLitres: number;
  readonly closingLitres: number;
  /** Standard uncertainty of the day's net change. */
  readonly sdLitres: number;
  /** Share of the day that readings cover, 0-1. */
  readonly coverage: number;
}

/** An entry of the account: what was posted for a day, and when another took its place. */
export interface LedgerPosting extends LedgerDay {
  readonly postedMs: EpochMs;
  /** Null: it stands. */
  readonly supersededMs: EpochMs | null;
}

export interface RollupValues {
  readonly readings: number;
  readonly levelMinMm: number | null;
  readonly levelMeanMm: number | null;
  readonly levelMaxMm: number | null;
  readonly litresMean: number | null;
  readonly moistureMean: number | null;
  readonly temperatureMeanC: number | null;
  readonly batteryMinV: number | null;
}

export interface HourRollup extends RollupValues {
  readonly containerId: ContainerId;
  /** Start of the UTC hour. */
  readonly hourMs: EpochMs;
}

export interface DayRollup extends RollupValues {
  readonly containerId: ContainerId;
  readonly day: LocalDay;
}
