import { Temporal } from 'temporal-polyfill';
import type { EpochMs, LocalDay } from './ids.js';

export const HOUR_MS = 3_600_000;
export const DAY_MS = 86_400_000;

/**
 * Days of one IANA zone, right across daylight-saving changes. Looking a zone up costs tens of microseconds, so the
 * last day found is kept: readings of one pot mostly fall on the same day as the one before.
 */
export class LocalDays {
  readonly timeZone: string;
  #day: LocalDay = '';
  #startMs = 0;
  #endMs = 0;

  /** @throws RangeError for a zone that is not in the IANA database */
  constructor(timeZone: string) {
    this.timeZone = timeZone;
    this.#seek(0);
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
    const zoned = Temporal.Instant.fromEpochMilliseconds(ms).toZonedDateTimeISO(this.timeZone);
    return zoned.hour + zoned.minute / 60 + zoned.second / 3600;
  }

  startMs(day: LocalDay): EpochMs {
    return Temporal.PlainDate.from(day).toZonedDateTime(this.timeZone).epochMilliseconds;
  }

  /** First instant after the day. */
  endMs(day: LocalDay): EpochMs {
    return this.startMs(addDays(day, 1));
  }

  /** The instant at which the wall shows `hour`:`minute` on that day. */
  atMs(day: LocalDay, hour: number, minute = 0): EpochMs {
    return Temporal.PlainDate.from(day).toZonedDateTime({ timeZone: this.timeZone, plainTime: { hour, minute } })
      .epochMilliseconds;
  }

  #seek(ms: EpochMs): void {
    const date = Temporal.Instant.fromEpochMilliseconds(Math.floor(ms)).toZonedDateTimeISO(this.timeZone).toPlainDate();
    this.#day = date.toString();
    this.#startMs = date.toZonedDateTime(this.timeZone).epochMilliseconds;
    this.#endMs = date.add({ days: 1 }).toZonedDateTime(this.timeZone).epochMilliseconds;
  }
}

export function addDays(day: LocalDay, days: number): LocalDay {
  return Temporal.PlainDate.from(day).add({ days }).toString();
}

/** Whole days from `from` to `to`; negative where `to` is earlier. */
export function daysBetween(from: LocalDay, to: LocalDay): number {
  return Temporal.PlainDate.from(from).until(Temporal.PlainDate.from(to)).days;
}

/** 1-366. */
export function dayOfYear(day: LocalDay): number {
  return Temporal.PlainDate.from(day).dayOfYear;
}
