import type { EpochMs } from '../domain/ids.js';

/**
 * The shape that a row has in JSON: instants are ISO 8601 text in UTC, and their fields lose the unit `Ms` that they
 * bear inside (`createdMs` becomes `createdAt`, `dueByMs` becomes `dueBy`). All else stays. The parameters of a message
 * keep their names, since the text catalogue formats each by the unit in its name.
 */
export type Wire<T> = T extends readonly unknown[]
  ? WireList<T>
  : T extends object
    ? { [Key in keyof T as WireKey<Key>]: Key extends 'params' ? T[Key] : WireValue<Key, T[Key]> }
    : T;

type WireList<T extends readonly unknown[]> = { readonly [Index in keyof T]: Wire<T[Index]> };

type PlainInstant = 'at' | 'from' | 'to' | 'time' | 'hour' | 'until' | 'p10' | 'p50' | 'p90';
type InstantEnding = 'At' | 'By' | 'From' | 'Since' | 'Until' | 'Of';

export type WireKey<Key> = Key extends `${infer Name}Ms`
  ? Name extends PlainInstant | `${string}${InstantEnding}`
    ? Name
    : `${Name}At`
  : Key;

type WireValue<Key, Value> = Key extends `${string}Ms` ? (Value extends number ? string : Value) : Wire<Value>;

const PLAIN_INSTANT = /^(?:at|from|to|time|hour|until|p10|p50|p90|.*(?:At|By|From|Since|Until|Of))$/;

/** Turns a row, or rows, into what goes over the wire. */
export function toWire<T>(value: T): Wire<T> {
  return convert(value) as Wire<T>;
}

export function isoInstant(ms: EpochMs): string {
  return new Date(ms).toISOString();
}

/** The name that a field has in JSON. */
export function wireKey(key: string): string {
  if (!key.endsWith('Ms')) return key;
  const name = key.slice(0, -2);
  return PLAIN_INSTANT.test(name) ? name : `${name}At`;
}

function convert(value: unknown): unknown {
  if (Array.isArray(value)) return value.map(convert);
  if (typeof value !== 'object' || value === null) return value;
  const wire: Record<string, unknown> = {};
  for (const [key, part] of Object.entries(value)) {
    if (key === 'params') wire[key] = part;
    else if (key.endsWith('Ms')) wire[wireKey(key)] = typeof part === 'number' ? isoInstant(part) : part;
    else wire[key] = convert(part);
  }
  return wire;
}
