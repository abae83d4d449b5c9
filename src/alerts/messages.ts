import type { Message } from '../domain/message.js';

/** Instants closer than this say the same to a person who plans by the half day. */
const SAME_INSTANT_MS = 2 * 3_600_000;
/** Numbers closer than this share, or than this step, are not worth telling again. */
const SAME_SHARE = 0.1;
const SAME_STEP = 0.5;

/**
 * Whether two messages tell a person the same thing. Forecasts move a little with every reading; without this, every
 * reading would rewrite what people were told.
 */
export function saysTheSame(a: Message, b: Message): boolean {
  if (a.code !== b.code) return false;
  const names = Object.keys(a.params);
  if (names.length !== Object.keys(b.params).length) return false;
  return names.every((name) => sameValue(name, a.params[name], b.params[name]));
}

export function sayTheSame(a: readonly Message[], b: readonly Message[]): boolean {
  return a.length === b.length && a.every((message, index) => saysTheSame(message, b[index]!));
}

function sameValue(name: string, a: string | number | null | undefined, b: string | number | null | undefined) {
  if (typeof a !== 'number' || typeof b !== 'number') return a === b;
  if (name.endsWith('Ms')) return Math.abs(a - b) < SAME_INSTANT_MS;
  return Math.abs(a - b) <= Math.max(SAME_STEP, SAME_SHARE * Math.max(Math.abs(a), Math.abs(b)));
}
