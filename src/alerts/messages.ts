import type { Message } from '../domain/message.js';

/** How far numbers may lie apart and still tell a person the same. */
export interface Tolerance {
  readonly instantMs: number;
  readonly share: number;
  readonly step: number;
}

/** For what is shown: who plans by the half day does not care for an hour. */
export const SHOWN: Tolerance = { instantMs: 2 * 3_600_000, share: 0.1, step: 0.5 };
/** For what is sent: nobody wants to be told twice for a few litres. */
export const SENT: Tolerance = { instantMs: 8 * 3_600_000, share: 0.25, step: 3 };

/**
 * Whether two messages tell a person the same thing. Forecasts move a little with every reading; without this, every
 * reading would rewrite what people were told.
 */
export function saysTheSame(a: Message, b: Message, tolerance = SHOWN): boolean {
  if (a.code !== b.code) return false;
  const names = Object.keys(a.params);
  if (names.length !== Object.keys(b.params).length) return false;
  return names.every((name) => sameValue(name, a.params[name], b.params[name], tolerance));
}

export function sayTheSame(a: readonly Message[], b: readonly Message[], tolerance = SHOWN): boolean {
  return a.length === b.length && a.every((message, index) => saysTheSame(message, b[index]!, tolerance));
}

type Value = string | number | null | undefined;

function sameValue(name: string, a: Value, b: Value, { instantMs, share, step }: Tolerance): boolean {
  if (typeof a !== 'number' || typeof b !== 'number') return a === b;
  if (name.endsWith('Ms')) return Math.abs(a - b) < instantMs;
  return Math.abs(a - b) <= Math.max(step, share * Math.max(Math.abs(a), Math.abs(b)));
}
