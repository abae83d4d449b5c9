import type { PotContext } from '../domain/analysis.js';
import type { EpochMs, LocalDay } from '../domain/ids.js';
import { addDays, DAY_MS, LocalDays } from '../domain/local-day.js';

/** Moments of each site-local day at which the fold does its daily work. */
export type MarkKind = 'midnight' | 'dawn' | 'dusk';

export interface Mark {
  readonly kind: MarkKind;
  readonly atMs: EpochMs;
}

/** Plants use least and the wick has caught up: the hydrological day turns here. */
const DAWN = { hour: 5, minute: 30 } as const;
const DUSK = { hour: 22, minute: 30 } as const;

/** One site-local day; `number` counts days since 1970-01-01 on the wall. */
export interface SiteDay {
  readonly name: LocalDay;
  readonly number: number;
  readonly startMs: EpochMs;
  readonly dawnMs: EpochMs;
  readonly duskMs: EpochMs;
  readonly endMs: EpochMs;
}

/** Days kept of a zone; some fifteen years, in a megabyte. */
const KEPT_DAYS = 6000;

/** The days of one zone. Working one out costs a tenth of a millisecond, so each is worked out once. */
export class SiteCalendar {
  readonly #days: LocalDays;
  readonly #known = new Map<number, SiteDay>();
  #last: SiteDay;

  constructor(timeZone: string) {
    this.#days = new LocalDays(timeZone);
    this.#last = this.numbered(0);
  }

  /** The day that holds an instant. */
  at(ms: EpochMs): SiteDay {
    let day = this.#last;
    if (ms >= day.startMs && ms < day.endMs) return day;
    // No zone is further than 14 h from Greenwich: the guess is at most a day off.
    day = this.numbered(Math.floor((ms + (day.number * DAY_MS - day.startMs)) / DAY_MS));
    while (ms < day.startMs) day = this.numbered(day.number - 1);
    while (ms >= day.endMs) day = this.numbered(day.number + 1);
    this.#last = day;
    return day;
  }

  numbered(number: number): SiteDay {
    const known = this.#known.get(number);
    if (known !== undefined) return known;
    if (this.#known.size >= KEPT_DAYS) this.#known.clear();
    const name = addDays('1970-01-01', number);
    const day: SiteDay = {
      name,
      number,
      startMs: this.#days.startMs(name),
      dawnMs: this.#days.atMs(name, DAWN.hour, DAWN.minute),
      duskMs: this.#days.atMs(name, DUSK.hour, DUSK.minute),
      endMs: this.#days.endMs(name),
    };
    this.#known.set(number, day);
    return day;
  }
}

const calendars = new Map<string, SiteCalendar>();

/** The calendar of a site's zone; what it keeps follows from the zone alone. */
export function calendarOf(ctx: Pick<PotContext, 'site'>): SiteCalendar {
  const known = calendars.get(ctx.site.timeZone);
  if (known !== undefined) return known;
  const made = new SiteCalendar(ctx.site.timeZone);
  calendars.set(ctx.site.timeZone, made);
  return made;
}

/** The first mark strictly after `ms`. */
export function nextMark(calendar: SiteCalendar, ms: EpochMs): Mark {
  const day = calendar.at(ms);
  if (day.dawnMs > ms) return { kind: 'dawn', atMs: day.dawnMs };
  if (day.duskMs > ms) return { kind: 'dusk', atMs: day.duskMs };
  return { kind: 'midnight', atMs: day.endMs };
}

/** The day whose dawn is the last at or before `ms`: the hydrological day that `ms` lies in. */
export function hydrologicalDay(calendar: SiteCalendar, ms: EpochMs): SiteDay {
  const day = calendar.at(ms);
  return day.dawnMs <= ms ? day : calendar.numbered(day.number - 1);
}

/** Days since 1970-01-01 of a calendar day; the same for every zone. */
export function dayNumberOf(day: LocalDay): number {
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
  return fromMarch >= 306 ? fromMarch - 306 + 1 : fromMarch + 59 + 1 + (isLeap(year) ? 1 : 0);
}

function isLeap(year: number): boolean {
  return (year % 4 === 0 && year % 100 !== 0) || year % 400 === 0;
}

/** Start of the UTC hour. */
export function hourOf(ms: EpochMs): EpochMs {
  return Math.floor(ms / 3_600_000) * 3_600_000;
}
