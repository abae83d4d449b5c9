import { closeSync, openSync, readFileSync, writeSync } from 'node:fs';
import { join } from 'node:path';
import type { EpochMs } from '../../domain/ids.js';
import type { Reading } from '../../domain/reading.js';

/** A reading as it lies in a bucket: the node by its number, NaN for what was not sent. */
const FIELDS = 7;
const ROW_BYTES = FIELDS * Float64Array.BYTES_PER_ELEMENT;
/** Rows gathered before they are written; buckets are few, so this is some megabytes in all. */
const BUFFERED_ROWS = 4096;

export interface SpooledReading {
  readonly node: number;
  readonly timeMs: EpochMs;
  readonly receivedMs: EpochMs;
  readonly levelMm: number | null;
  readonly moistureFraction: number | null;
  readonly temperatureC: number | null;
  readonly batteryV: number | null;
}

/**
 * Sorts readings into files by where they belong, so that a file in any order and of any size can be replayed pot by pot
 * in bounded memory. Rows are fixed columns of doubles: a worker reads a bucket in one piece, with nothing to parse.
 */
export class SpoolWriter {
  readonly #buckets: { readonly fd: number; readonly buffer: Float64Array; rows: number }[];

  constructor(dir: string, buckets: number) {
    this.#buckets = Array.from({ length: buckets }, (_, bucket) => ({
      fd: openSync(spoolFile(dir, bucket), 'w'),
      buffer: new Float64Array(BUFFERED_ROWS * FIELDS),
      rows: 0,
    }));
  }

  add(bucket: number, node: number, reading: Reading): void {
    const target = this.#buckets[bucket]!;
    const at = target.rows * FIELDS;
    const { buffer } = target;
    buffer[at] = node;
    buffer[at + 1] = reading.timeMs;
    buffer[at + 2] = reading.receivedMs;
    buffer[at + 3] = reading.levelMm ?? Number.NaN;
    buffer[at + 4] = reading.moistureFraction ?? Number.NaN;
    buffer[at + 5] = reading.temperatureC ?? Number.NaN;
    buffer[at + 6] = reading.batteryV ?? Number.NaN;
    target.rows += 1;
    if (target.rows === BUFFERED_ROWS) this.#flush(bucket);
  }

  close(): void {
    for (let bucket = 0; bucket < this.#buckets.length; bucket++) {
      this.#flush(bucket);
      closeSync(this.#buckets[bucket]!.fd);
    }
  }

  #flush(bucket: number): void {
    const target = this.#buckets[bucket]!;
    if (target.rows === 0) return;
    writeSync(target.fd, new Uint8Array(target.buffer.buffer, 0, target.rows * ROW_BYTES));
    target.rows = 0;
  }
}

/** The readings of a bucket, in the order of the file they came from. */
export function readSpool(dir: string, bucket: number): readonly SpooledReading[] {
  const bytes = readFileSync(spoolFile(dir, bucket));
  const values = new Float64Array(bytes.buffer.slice(bytes.byteOffset, bytes.byteOffset + bytes.byteLength));
  const known = (value: number): number | null => (Number.isNaN(value) ? null : value);
  const readings: SpooledReading[] = [];
  for (let at = 0; at + FIELDS <= values.length; at += FIELDS) {
    readings.push({
      node: values[at]!,
      timeMs: values[at + 1]!,
      receivedMs: values[at + 2]!,
      levelMm: known(values[at + 3]!),
      moistureFraction: known(values[at + 4]!),
      temperatureC: known(values[at + 5]!),
      batteryV: known(values[at + 6]!),
    });
  }
  return readings;
}

function spoolFile(dir: string, bucket: number): string {
  return join(dir, `bucket-${bucket}.f64`);
}
