import type { PotContext } from '../domain/analysis.js';
import type { EpochMs } from '../domain/ids.js';
import { addDays, LocalDays } from '../domain/local-day.js';

/** Moments of each site-local day at which the fold does its daily work. */
export type MarkKind = 'midnight' | 'dawn' | 'dusk';

export interface Mark {
  readonly kind: MarkKind;
  readonly atMs: EpochMs;
}

/** Plants use least and the wick has caught up: the hydrological day turns here. */
export const DAWN = { hour: 5, minute: 30 } as const;
export const DUSK = { hour: 22, minute: 30 } as const;

// One calendar a zone: looking a zone up costs tens of microseconds, and the class remembers only the last day asked.
const calendars = new Map<string, LocalDays>();

/** The calendar of a site's zone. */
export function calendarOf(ctx: PotContext): LocalDays {
  const known = calendars.get(ctx.site.timeZone);
  if (known !== undefined) return known;
  const made = new LocalDays(ctx.site.timeZone);
  calendars.set(ctx.site.timeZone, made);
  return made;
}

/** The first mark strictly after `ms`. */
export function nextMark(calendar: LocalDays, ms: EpochMs): Mark {
  const day = calendar.dayOf(ms);
  const midnightMs = calendar.endOfDayMs(ms);
  const dawnMs = calendar.atMs(day, DAWN.hour, DAWN.minute);
  if (dawnMs > ms) return { kind: 'dawn', atMs: dawnMs };
  const duskMs = calendar.atMs(day, DUSK.hour, DUSK.minute);
  if (duskMs > ms) return { kind: 'dusk', atMs: duskMs };
  return { kind: 'midnight', atMs: midnightMs };
}

/** The last dawn at or before `ms`. */
export function dawnBefore(calendar: LocalDays, ms: EpochMs): EpochMs {
  const day = calendar.dayOf(ms);
  const dawnMs = calendar.atMs(day, DAWN.hour, DAWN.minute);
  return dawnMs <= ms ? dawnMs : calendar.atMs(addDays(day, -1), DAWN.hour, DAWN.minute);
}

/** Days since 1970-01-01 of a calendar day; the same for every zone. */
export function dayNumberOf(day: string): number {
  const year = Number(day.slice(0, 4));
  const month = Number(day.slice(5, 7));
  const date = Number(day.slice(8, 10));
  // Days from civil date by shifting the year to begin in March (a plain calendar identity).
  const y = month <= 2 ? year - 1 : year;
  const era = Math.floor(y / 400);
  const yearOfEra = y - era * 400;
  const dayOfYear = Math.floor((153 * (month + (month > 2 ? -3 : 9)) + 2) / 5) + date - 1;
  const dayOfEra = yearOfEra * 365 + Math.floor(yearOfEra / 4) - Math.floor(yearOfEra / 100) + dayOfYear;
  return era * 146_097 + dayOfEra - 719_468;
}

/** 1-366, from a day number; no zone needed. */
export function dayOfYearOf(dayNumber: number): number {
  const shifted = dayNumber + 719_468;
  const era = Math.floor(shifted / 146_097);
  const dayOfEra = shifted - era * 146_097;
  const yearOfEra = Math.floor(
    (dayOfEra - Math.floor(dayOfEra / 1460) + Math.floor(dayOfEra / 36_524) - Math.floor(dayOfEra / 146_096)) / 365,
  );
  const fromMarch = dayOfEra - (365 * yearOfEra + Math.floor(yearOfEra / 4) - Math.floor(yearOfEra / 100));
  const year = yearOfEra + era * 400;
  const januaryBased = fromMarch >= 306 ? fromMarch - 306 + 1 : fromMarch + 59 + 1 + (isLeap(year) ? 1 : 0);
  return januaryBased;
}

function isLeap(year: number): boolean {
  return (year % 4 === 0 && year % 100 !== 0) || year % 400 === 0;
}

/** Start of the UTC hour. */
export function hourOf(ms: EpochMs): EpochMs {
  return Math.floor(ms / 3_600_000) * 3_600_000;
}
