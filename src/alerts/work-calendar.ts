import { type Absence, type CrewTerms, usualCrewTerms, type WeekdayHours } from '../domain/crew.js';
import type { EpochMs, LocalDay } from '../domain/ids.js';
import { addDays, daysBetween, type LocalDays } from '../domain/local-day.js';

/** When the crew as a whole works, by the clock on the site's wall. */
export interface WorkCalendar {
  /** At most one stretch a weekday: from the first who begins to the last who ends. */
  readonly shifts: readonly WeekdayHours[];
  /** Days on which nobody works, although the weekday is one of the shifts'. */
  readonly holidays: readonly LocalDay[];
}

/** What holds where nobody said how the crew works. */
export const USUAL_CALENDAR: WorkCalendar = { shifts: usualCrewTerms('').shifts, holidays: [] };

/** A round can be turned around this long after the crew set out; our judgement, no source. */
const CUT_OFF_AFTER_START_MS = 2 * 3_600_000;

const A_MONDAY: LocalDay = '2024-01-01';

/** Longest run of days off that is looked across; a calendar without a working day in it has no next one. */
const SEARCH_DAYS = 60;

/**
 * The crew's calendar from how each of its people works and who is away: a day is a working day as long as somebody of
 * the crew works on it.
 * @param people those who go on rounds; with none the usual week holds
 * @param from the first of the days whose absences are looked at
 * @param days how many
 */
export function workCalendarOf(
  people: readonly CrewTerms[],
  absences: readonly Absence[],
  from: LocalDay,
  days: number,
): WorkCalendar {
  const crew = people.length === 0 ? [usualCrewTerms('')] : people;
  const shifts = mergedShifts(crew);
  const standing = absences.filter((absence) => absence.endedMs === null && absence.truckId === null);
  const holidays: LocalDay[] = [];
  for (let ahead = 0; ahead < days && standing.length > 0; ahead += 1) {
    const day = addDays(from, ahead);
    const weekday = isoWeekday(day);
    const off = standing.filter(({ fromDay, toDay }) => fromDay <= day && day <= toDay);
    if (off.length === 0 || !shifts.some((shift) => shift.weekday === weekday)) continue;
    const somebody = crew.some(
      (terms) =>
        terms.shifts.some((shift) => shift.weekday === weekday) &&
        !off.some(({ personId }) => personId === null || personId === terms.personId),
    );
    if (!somebody) holidays.push(day);
  }
  return { shifts, holidays };
}

function mergedShifts(crew: readonly CrewTerms[]): readonly WeekdayHours[] {
  const byWeekday = new Map<number, WeekdayHours>();
  for (const shift of crew.flatMap((terms) => terms.shifts)) {
    const known = byWeekday.get(shift.weekday) ?? shift;
    byWeekday.set(shift.weekday, {
      weekday: shift.weekday,
      fromMinute: Math.min(known.fromMinute, shift.fromMinute),
      toMinute: Math.max(known.toMinute, shift.toMinute),
    });
  }
  return [...byWeekday.values()].sort((a, b) => a.weekday - b.weekday);
}

export function isWorkingDay(calendar: WorkCalendar, day: LocalDay): boolean {
  return shiftOf(calendar, day) !== null && !calendar.holidays.includes(day);
}

function shiftOf(calendar: WorkCalendar, day: LocalDay): WeekdayHours | null {
  const weekday = isoWeekday(day);
  return calendar.shifts.find((shift) => shift.weekday === weekday) ?? null;
}

/** The first working day after `day`; null where none is within sixty days. */
export function nextWorkingDay(calendar: WorkCalendar, day: LocalDay): LocalDay | null {
  for (let ahead = 1; ahead <= SEARCH_DAYS; ahead += 1) {
    const candidate = addDays(day, ahead);
    if (isWorkingDay(calendar, candidate)) return candidate;
  }
  return null;
}

/** When the crew begins on a day; on a free day its start, midnight. */
export function startOfWorkMs(calendar: WorkCalendar, days: LocalDays, day: LocalDay): EpochMs {
  return wallInstantMs(days, day, shiftOf(calendar, day)?.fromMinute ?? 0);
}

/** When the crew ends on a day; on a free day the next midnight. */
export function endOfWorkMs(calendar: WorkCalendar, days: LocalDays, day: LocalDay): EpochMs {
  const shift = shiftOf(calendar, day);
  return shift === null ? days.startMs(addDays(day, 1)) : wallInstantMs(days, day, shift.toMinute);
}

/** When the crew went home last before `day`; without working days, the midnight at which `day` began. */
export function lastEndOfWorkMs(calendar: WorkCalendar, days: LocalDays, day: LocalDay): EpochMs {
  for (let back = 1; back <= SEARCH_DAYS; back += 1) {
    const candidate = addDays(day, -back);
    if (isWorkingDay(calendar, candidate)) return endOfWorkMs(calendar, days, candidate);
  }
  return days.startMs(day);
}

/**
 * The end of the crew's next working day: what falls before it has to be decided today, since whoever goes next goes
 * then. Null for a calendar without working days.
 */
export function decisionHorizonMs(calendar: WorkCalendar, days: LocalDays, nowMs: EpochMs): EpochMs | null {
  const next = nextWorkingDay(calendar, days.dayOf(nowMs));
  return next === null ? null : endOfWorkMs(calendar, days, next);
}

/**
 * What falls before this instant should have been decided by now. Until the cut-off of a working day, two hours into it,
 * the list of what is due today says so and nobody is alarmed; after it, what the next working day is too late for, and
 * nobody goes to, is an alarm. What is dry later on that day can still be the first on its round, and is on the list of
 * what is due well before. Null without working days.
 */
export function decidedHorizonMs(calendar: WorkCalendar, days: LocalDays, nowMs: EpochMs): EpochMs | null {
  const today = days.dayOf(nowMs);
  const isOpen = isWorkingDay(calendar, today) && nowMs < startOfWorkMs(calendar, days, today) + CUT_OFF_AFTER_START_MS;
  const day = isOpen ? today : nextWorkingDay(calendar, today);
  return day === null ? null : startOfWorkMs(calendar, days, day) + CUT_OFF_AFTER_START_MS;
}

/** 1 Monday to 7 Sunday. */
export function isoWeekday(day: LocalDay): number {
  return (((daysBetween(A_MONDAY, day) % 7) + 7) % 7) + 1;
}

function wallInstantMs(days: LocalDays, day: LocalDay, minute: number): EpochMs {
  // Midnight at the end of a shift is the next day's.
  if (minute >= 1440) return wallInstantMs(days, addDays(day, 1), minute - 1440);
  return days.atMs(day, Math.floor(minute / 60), minute % 60);
}
