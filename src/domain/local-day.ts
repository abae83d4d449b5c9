import { Temporal } from 'temporal-polyfill';
import { dayOfNumber, numberOfDay } from './day-number.js';
import type { EpochMs, LocalDay } from './ids.js';

export const HOUR_MS = 3_600_000;
export const DAY_MS = 86_400_000;

/** First instants of days by zone: asking the zone database costs tens of microseconds, and there are few days. */
const startsOfZones = new Map<string, Map<LocalDay, EpochMs>>();

/**
 * Days of one IANA zone, right across daylight-saving changes. The last day found is kept: readings of one pot mostly
 * fall on the same day as the one before.
 */
export class LocalDays {
  readonly timeZone: string;
  readonly #starts: Map<LocalDay, EpochMs>;
  #day: LocalDay = '';
  #startMs = 0;
  #endMs = 0;

  /** @throws RangeError for a zone that is not in the IANA database */
  constructor(timeZone: string) {
    this.timeZone = timeZone;
    this.#starts = startsOfZones.get(timeZone) ?? new Map();
    this.#seek(0);
    startsOfZones.set(timeZone, this.#starts);
  }

  dayOf(ms: EpochMs): LocalDay {
    if (ms < this.#startMs || ms >= this.#endMs) this.#seek(ms);
    return this.#day;
  }

  /** First instant of the local day that holds `ms`. */
  startOfDayMs(ms: EpochMs): EpochMs {
    this.dayOf(ms);
    return this.#startMs;
  }

  /** First instant of the next local day. */
  endOfDayMs(ms: EpochMs): EpochMs {
    this.dayOf(ms);
    return this.#endMs;
  }

  /** Hours since local midnight by the clock on the wall, 0-24. */
  wallHour(ms: EpochMs): number {
    this.dayOf(ms);
    if (this.#endMs - this.#startMs === DAY_MS) return Math.floor((ms - this.#startMs) / 1000) / 3600;
    const zoned = Temporal.Instant.fromEpochMilliseconds(Math.floor(ms)).toZonedDateTimeISO(this.timeZone);
    return zoned.hour + zoned.minute / 60 + zoned.second / 3600;
  }

  startMs(day: LocalDay): EpochMs {
    const known = this.#starts.get(day);
    if (known !== undefined) return known;
    const startMs = Temporal.PlainDate.from(day).toZonedDateTime(this.timeZone).epochMilliseconds;
    this.#starts.set(day, startMs);
    return startMs;
  }

  /** First instant after the day. */
  endMs(day: LocalDay): EpochMs {
    return this.startMs(addDays(day, 1));
  }

  /** The instant at which the wall shows `hour`:`minute` on that day. */
  atMs(day: LocalDay, hour: number, minute = 0): EpochMs {
    const startMs = this.startMs(day);
    if (this.endMs(day) - startMs === DAY_MS) return startMs + hour * HOUR_MS + minute * 60_000;
    return Temporal.PlainDate.from(day).toZonedDateTime({ timeZone: this.timeZone, plainTime: { hour, minute } })
      .epochMilliseconds;
  }

  #seek(ms: EpochMs): void {
    // Mostly it is the next day.
    if (this.#day !== '' && ms >= this.#endMs) {
      const next = addDays(this.#day, 1);
      const nextEndMs = this.endMs(next);
      if (ms < nextEndMs) {
        this.#startMs = this.#endMs;
        this.#endMs = nextEndMs;
        this.#day = next;
        return;
      }
    }
    const date = Temporal.Instant.fromEpochMilliseconds(Math.floor(ms)).toZonedDateTimeISO(this.timeZone).toPlainDate();
    this.#day = date.toString();
    this.#startMs = this.startMs(this.#day);
    this.#endMs = this.endMs(this.#day);
  }
}

/** @throws RangeError for what is no day of the calendar */
export function addDays(day: LocalDay, days: number): LocalDay {
  return dayOfNumber(numberOfDay(day) + days);
}

/** Whole days from `from` to `to`; negative where `to` is earlier. */
export function daysBetween(from: LocalDay, to: LocalDay): number {
  return numberOfDay(to) - numberOfDay(from);
}

/** 1-366. */
export function dayOfYear(day: LocalDay): number {
  return numberOfDay(day) - numberOfDay(`${day.slice(0, 4)}-01-01`) + 1;
}
