/**
 * On the wire instants are ISO 8601 text in fields without a unit (`dueBy`, `createdAt`); the page counts in epoch
 * milliseconds (`dueByMs`, `createdMs`). This turns the one into the other, types and values alike. A field is an instant
 * by its name and by its wide `string`: states such as a transition's `from` are unions and stay, and so do persons.
 */
type PlainInstant = 'at' | 'from' | 'to' | 'time' | 'hour' | 'until' | 'p10' | 'p50' | 'p90' | 'business' | 'process';
type InstantEnding = 'By' | 'From' | 'Since' | 'Until' | 'Of';
type PersonField = 'acknowledgedBy' | 'heldBy' | 'changedBy';

type InstantName<Key> = Key extends PersonField
  ? never
  : Key extends PlainInstant | `${string}${InstantEnding}`
    ? `${Key}Ms`
    : Key extends `${infer Name}At`
      ? `${Name}Ms`
      : never;

type InstantValue<Value> =
  string extends NonNullable<Value>
    ? number | Extract<Value, null>
    : NonNullable<Value> extends readonly string[]
      ? string[] extends NonNullable<Value>
        ? readonly number[]
        : never
      : never;

type IsInstant<Key, Value> = [InstantName<Key>] extends [never]
  ? false
  : [InstantValue<Value>] extends [never]
    ? false
    : true;

export type Unwire<T> = T extends readonly unknown[]
  ? { readonly [Index in keyof T]: Unwire<T[Index]> }
  : T extends object
    ? {
        readonly [Key in keyof T as IsInstant<Key, T[Key]> extends true ? InstantName<Key> : Key]: Key extends 'params'
          ? T[Key]
          : IsInstant<Key, T[Key]> extends true
            ? InstantValue<T[Key]>
            : Unwire<T[Key]>;
      }
    : T;

const PLAIN = /^(?:at|from|to|time|hour|until|p10|p50|p90|business|process|.+(?:By|From|Since|Until|Of))$/;
const INSTANT = /^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(?:\.\d+)?Z$/;

export function unwire<T>(value: T): Unwire<T> {
  return convert(value) as Unwire<T>;
}

function nameOfInstant(key: string): string | null {
  if (/[a-z]At$/.test(key)) return `${key.slice(0, -2)}Ms`;
  return PLAIN.test(key) ? `${key}Ms` : null;
}

function convert(value: unknown): unknown {
  if (Array.isArray(value)) return value.map(convert);
  if (typeof value !== 'object' || value === null) return value;
  const out: Record<string, unknown> = {};
  for (const [key, part] of Object.entries(value)) {
    const name = nameOfInstant(key);
    if (key === 'params') {
      out[key] = part;
    } else if (name === null) {
      out[key] = convert(part);
    } else if (part === null) {
      // Whether this null is an instant or a state that is not there cannot be told: either name reads null.
      out[name] = null;
      out[key] = null;
    } else if (typeof part === 'string' && INSTANT.test(part)) {
      out[name] = Date.parse(part);
    } else if (Array.isArray(part) && part.every((item) => typeof item === 'string' && INSTANT.test(item))) {
      out[name] = part.map((item) => Date.parse(item));
    } else {
      out[key] = convert(part);
    }
  }
  return out;
}

export const isoInstant = (ms: number): string => new Date(ms).toISOString();
