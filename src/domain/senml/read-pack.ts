import type { EpochMs, NodeId, SiteId } from '../ids.js';
import type { Reading, RefusalCode } from '../reading.js';
import type { WeatherSample } from '../weather.js';
import { decodePack } from './decode.js';
import { type ResolvedRecord, resolvePack } from './resolve.js';
import { takeQuantity } from './take.js';
import { NODE_QUANTITIES, type NodeField, type QuantityRule, WEATHER_QUANTITIES, type WeatherField } from './units.js';

/** A clock may run ahead of ours by this much; a time further ahead is not believed. */
export const AHEAD_LIMIT_MS = 10 * 60_000;

/**
 * Clock chips that lost power begin again in 1970, 1980 or 2000 (common practice, no source). No reading of a planter
 * is older than 2005.
 */
export const EARLIEST_BELIEVED_MS: EpochMs = 1_104_537_600_000;

/** A promise of the next reading ("ut") beyond a month, or of none at all, is no promise; the value is taken without it. */
const LONGEST_PROMISE_S = 31 * 86_400;

export interface RefusedRecord {
  /** Null where the whole payload is refused. */
  readonly recordIndex: number | null;
  readonly refusal: RefusalCode;
  readonly detail: string;
}

export interface PackInput {
  readonly payload: Uint8Array;
  readonly contentType: string | null;
  readonly receivedMs: EpochMs;
  /** The broker had kept the message for an unknown time before it reached us; "now" says nothing then. */
  readonly retained: boolean;
}

export interface NodePack {
  /** By (time) one reading, in the order of the pack; a second one for a time where the pack contradicts itself. */
  readonly readings: readonly Reading[];
  readonly refused: readonly RefusedRecord[];
  readonly promisedIntervalS: number | null;
  /** Records taken. */
  readonly taken: number;
}

export interface WeatherPack {
  readonly samples: readonly WeatherSample[];
  readonly refused: readonly RefusedRecord[];
  readonly taken: number;
}

/**
 * Reads a node's pack, record by record: what is good is taken, what is not comes back with its reason.
 * Every record is one or the other; records of base fields only measure nothing and are neither.
 *
 * @param firstAssignmentMs start of the node's first assignment; null where it never had one, and then any time is taken
 */
export function readNodePack(input: PackInput, nodeId: NodeId, firstAssignmentMs: EpochMs | null): NodePack {
  const { items, refused } = readItems(input, NODE_QUANTITIES, firstAssignmentMs);
  const rows = new RowsByTime<NodeField, MutableReading>((timeMs) => emptyReading(nodeId, timeMs, input.receivedMs));
  let promise: Item<NodeField> | null = null;
  for (const item of items) {
    rows.set(item.timeMs, item.field, item.value);
    if (item.promisedIntervalS !== null && (promise === null || item.timeMs >= promise.timeMs)) promise = item;
  }
  return {
    readings: rows.rows,
    refused,
    promisedIntervalS: promise?.promisedIntervalS ?? null,
    taken: items.length,
  };
}

/**
 * Reads a weather station's pack as {@link readNodePack} does.
 * @param windAt2m brings a wind speed measured at 10 m down to 2 m
 */
export function readWeatherPack(
  input: PackInput,
  siteId: SiteId,
  windAt2m: (windAt10mMPerS: number) => number,
): WeatherPack {
  const { items, refused } = readItems(input, WEATHER_QUANTITIES, null);
  const rows = new RowsByTime<WeatherField, MutableSample>((timeMs) => emptySample(siteId, timeMs, input.receivedMs));
  for (const item of items) rows.set(item.timeMs, item.field, item.value);
  return { samples: rows.rows.map((row) => finishSample(row, windAt2m)), refused, taken: items.length };
}

interface Item<Field extends string> {
  readonly timeMs: EpochMs;
  readonly field: Field;
  readonly value: number;
  readonly promisedIntervalS: number | null;
}

function readItems<Field extends string>(
  input: PackInput,
  quantities: ReadonlyMap<string, readonly QuantityRule<Field>[]>,
  earliestMs: EpochMs | null,
): { readonly items: readonly Item<Field>[]; readonly refused: readonly RefusedRecord[] } {
  const refuseAll = (detail: string) => ({
    items: [],
    refused: [{ recordIndex: null, refusal: 'not_senml', detail } as const],
  });
  const decoded = decodePack(input.payload, input.contentType);
  if (decoded.kind === 'undecodable') return refuseAll(decoded.detail);
  const pack = resolvePack(decoded.records, input.receivedMs);
  if (pack.kind === 'refused') return refuseAll(pack.detail);
  if (pack.outcomes.length === 0) return refuseAll('The pack sets base fields but holds no record with a value.');

  const items: Item<Field>[] = [];
  const refused: RefusedRecord[] = [];
  for (const outcome of pack.outcomes) {
    if (outcome.kind === 'malformed') {
      refused.push({ recordIndex: outcome.index, refusal: 'not_senml', detail: outcome.detail });
      continue;
    }
    const { record } = outcome;
    const taken = takeQuantity(record, quantities);
    if (taken.kind === 'refused') {
      refused.push({ recordIndex: record.index, refusal: taken.refusal, detail: taken.detail });
      continue;
    }
    const timeFault = checkTime(record, input, earliestMs);
    if (timeFault !== null) {
      refused.push({ recordIndex: record.index, ...timeFault });
      continue;
    }
    items.push({
      timeMs: Math.round(record.timeS * 1000),
      field: taken.field,
      value: taken.value,
      promisedIntervalS: promiseOf(record),
    });
  }
  return { items, refused };
}

function checkTime(
  record: ResolvedRecord,
  input: PackInput,
  earliestMs: EpochMs | null,
): { readonly refusal: RefusalCode; readonly detail: string } | null {
  const where = `Record ${record.index}`;
  if (record.relative && input.retained) {
    return {
      refusal: 'impossible_value',
      detail: `${where}: its time is relative to now, but the broker had retained the message, so nobody knows when "now" was. Publish readings without the retain flag.`,
    };
  }
  return timeRefusal(record.timeS * 1000, input.receivedMs, earliestMs, where);
}

/**
 * Why a time cannot be believed, or null where it can.
 * @param where what the sentence begins with
 */
export function timeRefusal(
  timeMs: EpochMs,
  receivedMs: EpochMs,
  firstAssignmentMs: EpochMs | null,
  where: string,
): { readonly refusal: RefusalCode; readonly detail: string } | null {
  if (timeMs > receivedMs + AHEAD_LIMIT_MS) {
    return {
      refusal: 'too_far_ahead',
      detail: `${where}: its time is ${duration(timeMs - receivedMs)} after its receipt; at most 10 min are taken. Set the clock of the sender.`,
    };
  }
  if (timeMs < EARLIEST_BELIEVED_MS) {
    return {
      refusal: 'impossible_value',
      detail: `${where}: its time is ${duration(receivedMs - timeMs)} before its receipt, earlier than 2005. The clock of the sender has lost its time.`,
    };
  }
  if (firstAssignmentMs !== null && timeMs < firstAssignmentMs) {
    return {
      refusal: 'before_first_assignment',
      detail: `${where}: its time is ${duration(firstAssignmentMs - timeMs)} before the node was first assigned to a container. If the node stood there already, move the start of the assignment.`,
    };
  }
  return null;
}

function duration(ms: number): string {
  const minutes = ms / 60_000;
  if (minutes < 120) return `${minutes.toFixed(1)} min`;
  const hours = minutes / 60;
  return hours < 48 ? `${hours.toFixed(1)} h` : `${Math.round(hours / 24)} days`;
}

function promiseOf(record: ResolvedRecord): number | null {
  const { updateTimeS } = record;
  return updateTimeS !== null && updateTimeS > 0 && updateTimeS <= LONGEST_PROMISE_S ? updateTimeS : null;
}

type Mutable<T> = { -readonly [Key in keyof T]: T[Key] };
type MutableReading = Mutable<Reading>;
type MutableSample = Mutable<WeatherSample> & { wind10MPerS: number | null };

/** Gathers quantities of the same time into one row; a contradiction opens a second row, which counts as received later. */
class RowsByTime<Field extends string, Row extends { [F in Field]: number | null }> {
  readonly rows: Row[] = [];
  readonly #open = new Map<EpochMs, Row>();
  readonly #make: (timeMs: EpochMs) => Row;

  constructor(make: (timeMs: EpochMs) => Row) {
    this.#make = make;
  }

  set(timeMs: EpochMs, field: Field, value: number): void {
    let row = this.#open.get(timeMs);
    const stands: number | null = row === undefined ? null : row[field];
    if (row === undefined || (stands !== null && stands !== value)) {
      row = this.#make(timeMs);
      this.#open.set(timeMs, row);
      this.rows.push(row);
    }
    row[field] = value as Row[Field];
  }
}

function emptyReading(nodeId: NodeId, timeMs: EpochMs, receivedMs: EpochMs): MutableReading {
  return {
    nodeId,
    timeMs,
    receivedMs,
    levelMm: null,
    moistureFraction: null,
    temperatureC: null,
    batteryV: null,
    batteryFraction: null,
    signalDbm: null,
  };
}

function emptySample(siteId: SiteId, timeMs: EpochMs, receivedMs: EpochMs): MutableSample {
  return {
    siteId,
    timeMs,
    receivedMs,
    temperatureC: null,
    humidityFraction: null,
    windMPerS: null,
    wind10MPerS: null,
    solarWPerM2: null,
    rainMm: null,
    pressurePa: null,
  };
}

/** A wind measured at 2 m goes before one brought down; night offsets of the solar sensor and fog are clipped. */
function finishSample(row: MutableSample, windAt2m: (windAt10mMPerS: number) => number): WeatherSample {
  const { wind10MPerS, ...sample } = row;
  return {
    ...sample,
    windMPerS: sample.windMPerS ?? (wind10MPerS === null ? null : windAt2m(wind10MPerS)),
    humidityFraction: sample.humidityFraction === null ? null : Math.min(1, sample.humidityFraction),
    solarWPerM2: sample.solarWPerM2 === null ? null : Math.max(0, sample.solarWPerM2),
  };
}
