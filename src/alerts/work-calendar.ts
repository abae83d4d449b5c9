import type { EpochMs, LocalDay } from '../domain/ids.js';
import { addDays, daysBetween, type LocalDays } from '../domain/local-day.js';

/** When the crew works, by the clock on the site's wall. */
export interface WorkCalendar {
  /** ISO weekdays, 1 Monday to 7 Sunday. */
  readonly weekdays: readonly number[];
  readonly holidays: readonly LocalDay[];
  /** Hours since midnight. */
  readonly startHour: number;
  readonly endHour: number;
}

/** Monday to Friday, early out in summer heat: an assumption, no source. */
export const USUAL_CALENDAR: WorkCalendar = { weekdays: [1, 2, 3, 4, 5], holidays: [], startHour: 7, endHour: 16 };

const A_MONDAY: LocalDay = '2024-01-01';

/** Longest run of days off that is looked across; a calendar without a working day in it has no next one. */
const SEARCH_DAYS = 60;

export function isWorkingDay(calendar: WorkCalendar, day: LocalDay): boolean {
  return calendar.weekdays.includes(isoWeekday(day)) && !calendar.holidays.includes(day);
}

/** The first working day after `day`; null where none is within sixty days. */
export function nextWorkingDay(calendar: WorkCalendar, day: LocalDay): LocalDay | null {
  for (let ahead = 1; ahead <= SEARCH_DAYS; ahead += 1) {
    const candidate = addDays(day, ahead);
    if (isWorkingDay(calendar, candidate)) return candidate;
  }
  return null;
}

export function startOfWorkMs(calendar: WorkCalendar, days: LocalDays, day: LocalDay): EpochMs {
  return wallInstantMs(days, day, calendar.startHour);
}

export function endOfWorkMs(calendar: WorkCalendar, days: LocalDays, day: LocalDay): EpochMs {
  return wallInstantMs(days, day, calendar.endHour);
}

/**
 * The end of the crew's next working day: what falls before it has to be decided today, since whoever goes next goes
 * then. Null for a calendar without working days.
 */
export function decisionHorizonMs(calendar: WorkCalendar, days: LocalDays, nowMs: EpochMs): EpochMs | null {
  const next = nextWorkingDay(calendar, days.dayOf(nowMs));
  return next === null ? null : endOfWorkMs(calendar, days, next);
}

/** 1 Monday to 7 Sunday. */
export function isoWeekday(day: LocalDay): number {
  return (((daysBetween(A_MONDAY, day) % 7) + 7) % 7) + 1;
}

function wallInstantMs(days: LocalDays, day: LocalDay, hour: number): EpochMs {
  const wholeHour = Math.floor(hour);
  return days.atMs(day, wholeHour, Math.round((hour - wholeHour) * 60));
}
