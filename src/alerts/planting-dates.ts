import type { LocalDay } from '../domain/ids.js';
import { addDays } from '../domain/local-day.js';

/** Plants are ordered and the work is put on rounds this long ahead; common practice, no source. */
const AHEAD_DAYS = 7;
/** A replanting is asked for until so long after its date; who enters a date late means the next one. */
export const PLANTING_WINDOW_DAYS = 14;
/** What was asked for stays open so much longer, before the season is given up. */
const GIVEN_UP_DAYS = 60;
/** Planted so shortly before its date, a pot has had its replanting; common practice, no source. */
const EARLY_DAYS = 28;

/**
 * The seasonal replanting that a pot waits for.
 * @param replantOn days of the year, `MM-DD`; 29 February is the 28th in a common year
 * @param plantedDay when it was planted last, as far as anybody knows
 * @param isAsked a task asks for it already
 * @returns the date that was agreed, which may lie ahead or be past; null: none is due
 */
export function plantingDue(
  replantOn: readonly string[],
  today: LocalDay,
  plantedDay: LocalDay,
  isAsked: boolean,
): LocalDay | null {
  const lastDays = isAsked ? GIVEN_UP_DAYS : PLANTING_WINDOW_DAYS;
  const year = Number(today.slice(0, 4));
  const due = [year - 1, year, year + 1]
    .flatMap((one) => replantOn.map((monthDay) => dayOfYear(one, monthDay)))
    .filter((day) => today >= addDays(day, -AHEAD_DAYS) && today <= addDays(day, lastDays))
    .sort()
    .at(-1);
  return due === undefined || plantedDay >= addDays(due, -EARLY_DAYS) ? null : due;
}

function dayOfYear(year: number, monthDay: string): LocalDay {
  const isLeap = (year % 4 === 0 && year % 100 !== 0) || year % 400 === 0;
  return `${year}-${monthDay === '02-29' && !isLeap ? '02-28' : monthDay}`;
}
