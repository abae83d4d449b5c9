import { USUAL_CALENDAR, type WorkCalendar, workCalendarOf } from '../../alerts/work-calendar.js';
import { usualCrewTerms } from '../../domain/crew.js';
import type { EpochMs } from '../../domain/ids.js';
import { addDays, LocalDays } from '../../domain/local-day.js';
import type { Store } from '../../domain/ports/store.js';
import type { Person } from '../../domain/registry.js';

/** Rounds are looked at so far back and ahead; absences beyond it decide nothing. */
const DAYS_BACK = 14;
const DAYS_AHEAD = 75;

const goesOnRounds = (person: Person): boolean => person.role === 'technician' && person.disabledAtMs === null;

/**
 * When the crew works, out of its people's terms, their absences and the firm's holidays.
 * @param people as the caller has them already
 * @param timeZone in which `nowMs` is a day
 */
export async function crewCalendar(
  store: Store,
  people: readonly Person[],
  timeZone: string,
  nowMs: EpochMs,
): Promise<WorkCalendar> {
  const crew = people.filter(goesOnRounds);
  const from = addDays(new LocalDays(timeZone).dayOf(nowMs), -DAYS_BACK);
  const [terms, absences] = await Promise.all([store.crew.crewTerms(), store.crew.absences({ fromDay: from })]);
  if (terms.length === 0 && absences.length === 0) return USUAL_CALENDAR;
  const known = new Map(terms.map((row) => [row.personId, row]));
  return workCalendarOf(
    crew.map(({ id }) => known.get(id) ?? usualCrewTerms(id)),
    absences,
    from,
    DAYS_BACK + DAYS_AHEAD,
  );
}
