import type { PotContext } from '../domain/analysis.js';
import type { EpochMs } from '../domain/ids.js';
import type { EventKind, PotEvent } from '../domain/pot.js';
import type { Strapping } from './strapping.js';

/** What a rise tells of its cause by itself. */
export interface RiseShape {
  /** Steepest rise over two intervals between readings, as a share of the whole: poured water comes at once. */
  readonly suddenShare: number;
  /** What the soil's moisture gained meanwhile, as a fraction; null without a probe. */
  readonly moistureGain: number | null;
}

/** What went out by the port along with a gain. */
export interface Spill {
  readonly litres: number;
  readonly confidence: number;
}

/** A gain or loss with what is needed to judge it again when the weather or a person has spoken. */
export interface EventRecord {
  readonly event: PotEvent;
  /** Null for losses, and for what a person told. */
  readonly shape: RiseShape | null;
  readonly byCrew: boolean;
  /** Litres that the crew says it poured. */
  readonly pouredLitres: number | null;
  readonly spill: Spill | null;
  /** A person said so: nothing changes it any more. */
  readonly corrected: boolean;
  /** A slow climb, too small to be told as an event for its own sake. */
  readonly doubtful: boolean;
  /** Booked in the account, but not told as an event: too doubtful, or the day's rain is not known yet. */
  readonly untold: boolean;
}

/** A rise that may still go on. */
export interface OpenRise {
  readonly id: string;
  readonly startMs: EpochMs;
  readonly startMm: number;
  readonly startLitres: number;
  /** Last time at which it rose. */
  readonly endMs: EpochMs;
  readonly topMm: number;
  /** Made of jumps, or of a slow rise. */
  readonly fast: boolean;
  /** Levels since the last jump, at most three: their median is the level after it. */
  readonly after: readonly number[];
  /** Steepest rise over two intervals between readings. */
  readonly steepestMm: number;
  /** Soil moisture before it began. */
  readonly moistureBefore: number | null;
}

/** A fall that may yet turn out to be readings gone astray together. */
export interface OpenLoss {
  readonly id: string;
  readonly beforeMm: number;
  readonly endMs: EpochMs;
  /** Levels since that agree with it. */
  readonly agreed: number;
}

export interface WorkReport {
  readonly timeMs: EpochMs;
  readonly work: string;
  readonly litres: number | null;
}

/** What a person said of an event; it is known before the event is seen. */
export interface CorrectionMemo {
  readonly eventId: string;
  readonly kind: EventKind | 'none';
  readonly litres: number | null;
  readonly startMs: EpochMs | null;
}

export interface EventState {
  readonly open: OpenRise | null;
  readonly openLoss: OpenLoss | null;
  /** Events of the last 14 days, oldest first. */
  readonly records: readonly EventRecord[];
  readonly reports: readonly WorkReport[];
  readonly corrections: readonly CorrectionMemo[];
  /** Time of the last jump, up or down: levels before it say nothing about now. */
  readonly lastJumpMs: EpochMs;
  /** End of the last gain or loss: rises are looked for among the levels after it. */
  readonly riseFromMs: EpochMs;
  /** Soil moisture of the last hours, thinned: [time, fraction], oldest first. */
  readonly moisture: readonly (readonly [EpochMs, number])[];
}

export const NO_EVENTS: EventState = {
  open: null,
  openLoss: null,
  records: [],
  reports: [],
  corrections: [],
  lastJumpMs: 0,
  riseFromMs: 0,
  moisture: [],
};

const KEPT_MS = 14 * 24 * 3_600_000;
const KEPT_RECORDS = 24;

export interface EventSurroundings {
  readonly ctx: PotContext;
  readonly strapping: Strapping;
  readonly noiseMm: number;
  /** The soil takes back what it lost: falls are quick then, and no loss. */
  readonly rewetting: boolean;
  /** Observed days come in: a day's rain will be known when it is over. */
  readonly hasWeather: boolean;
  /** Rain that may have come down between two instants, and what may linger of the day before; null: not known. */
  readonly rainBetween: (fromMs: EpochMs, toMs: EpochMs) => number | null;
  /** Hour on the wall. */
  readonly wallHour: (ms: EpochMs) => number;
}

export interface EventStep {
  readonly state: EventState;
  /** New or revised, in order of start. */
  readonly changed: readonly EventRecord[];
  /** Ids of events that were told and turned out to be none. */
  readonly gone: readonly string[];
}

/** A step that changes no event. */
export function quiet(state: EventState): EventStep {
  return { state, changed: [], gone: [] };
}

/** Keeps a record, in place of the one of the same event. */
export function put(state: EventState, record: EventRecord): EventStep {
  const { event } = record;
  const index = state.records.findIndex((known) => known.event.id === event.id);
  let records: EventRecord[];
  if (index >= 0) {
    records = [...state.records];
    records[index] = record;
  } else {
    records = state.records.filter((known) => known.event.startMs > event.startMs - KEPT_MS).slice(-(KEPT_RECORDS - 1));
    records.push(record);
  }
  return { state: { ...state, records }, changed: [record], gone: [] };
}
