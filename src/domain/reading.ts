import type { EpochMs, NodeId } from './ids.js';

/** One instant of one node. Quantities that the node did not send are null. Key: (nodeId, timeMs). */
export interface Reading {
  readonly nodeId: NodeId;
  readonly timeMs: EpochMs;
  /** When it first reached us. */
  readonly receivedMs: EpochMs;
  /** As sent: above the sensor's zero, not yet above the reservoir floor. */
  readonly levelMm: number | null;
  readonly moistureFraction: number | null;
  readonly temperatureC: number | null;
  readonly batteryV: number | null;
  readonly batteryFraction: number | null;
  readonly signalDbm: number | null;
}

export const READING_QUANTITIES = [
  'levelMm',
  'moistureFraction',
  'temperatureC',
  'batteryV',
  'batteryFraction',
  'signalDbm',
] as const satisfies readonly (keyof Reading)[];

export type ReadingQuantity = (typeof READING_QUANTITIES)[number];

/** Why a record was refused. The text catalogue explains each code, and says what to do. */
export type RefusalCode =
  | 'not_senml'
  | 'unknown_node'
  | 'no_quantity'
  | 'unknown_unit'
  | 'ratio_out_of_range'
  | 'impossible_value'
  | 'before_first_assignment'
  | 'too_far_ahead'
  | 'payload_too_large'
  | 'unknown_site'
  | 'bad_row';

/** A record that was refused, kept with its bytes so that it can be run again once the cause is mended. */
export interface QuarantinedRecord {
  readonly id: string;
  readonly receivedMs: EpochMs;
  /** MQTT topic, or `file:NAME:LINE`. */
  readonly source: string;
  readonly nodeId: NodeId | null;
  readonly refusal: RefusalCode;
  /** What exactly was wrong, for a person: the field, the value found, what was expected. */
  readonly detail: string;
  readonly raw: Uint8Array;
  readonly contentType: string | null;
  /** Index of the refused record within the pack; null where the whole payload was refused. */
  readonly recordIndex: number | null;
  readonly resolvedMs: EpochMs | null;
}
