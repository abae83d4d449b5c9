import { startOfDayMs, wallTime } from './zone.js';

const MINUTE_MS = 60_000;

/** An instant as the field for day and hour writes it, in a place's own time: `2026-08-31T09:30`. */
export function localText(ms: number, timeZone: string): string {
  const wall = wallTime(ms, timeZone);
  const two = (value: number): string => String(value).padStart(2, '0');
  return `${wall.day}T${two(wall.hour)}:${two(wall.minute)}`;
}

/** The instant of such a text; null where it is none. An hour that a change of clocks leaves out is the one after it. */
export function instantOfLocal(text: string, timeZone: string): number | null {
  const match = /^(\d{4}-\d\d-\d\d)T(\d\d):(\d\d)/.exec(text);
  if (match === null) return null;
  const minutes = Number(match[2]) * 60 + Number(match[3]);
  const guess = startOfDayMs(match[1]!, timeZone) + minutes * MINUTE_MS;
  const shown = localText(guess, timeZone);
  const off = (Number(shown.slice(11, 13)) * 60 + Number(shown.slice(14, 16)) - minutes) * MINUTE_MS;
  // A day that changes its clocks is an hour longer or shorter than midnight lets one expect.
  return shown.slice(0, 10) === match[1] ? guess - off : guess;
}
