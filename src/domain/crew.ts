import type { EpochMs, LocalDay, PersonId, SiteId } from './ids.js';

/** A stretch of one weekday on the wall clock. */
export interface WeekdayHours {
  /** As ISO 8601 counts: 1 is Monday, 7 is Sunday. */
  readonly weekday: number;
  readonly fromMinute: number;
  readonly toMinute: number;
}

/** Days, both included. */
export interface DaySpan {
  readonly fromDay: LocalDay;
  readonly toDay: LocalDay;
}

/** How one person works on rounds. */
export interface CrewTerms {
  readonly personId: PersonId;
  /** At most one a weekday; a weekday without one is free. */
  readonly shifts: readonly WeekdayHours[];
  readonly pause: { readonly fromMinute: number; readonly minutes: number } | null;
  /** How long a shift may run over. */
  readonly overtimeMinutes: number;
  /** The truck that the person drives; null: any that is free. */
  readonly truckId: string | null;
  /** Where the day starts and ends; null: at the truck's depot. */
  readonly home: { readonly latitude: number; readonly longitude: number } | null;
  /** Skills, tickets and keys, in the firm's own words. */
  readonly skills: readonly string[];
}

/**
 * Days on which a person does not work or a truck does not drive. With neither named nobody works: a holiday of the firm.
 */
export interface Absence extends DaySpan {
  readonly id: string;
  readonly personId: PersonId | null;
  readonly truckId: string | null;
  readonly reason: string | null;
  /** Set when it was taken back. */
  readonly endedMs: EpochMs | null;
}

/** When and by whom a site may be worked at, and what was agreed with its client. */
export interface SiteTerms {
  readonly siteId: SiteId;
  /** When the crew may come, several a weekday; empty: at any time. With some, a weekday without one is closed. */
  readonly hours: readonly WeekdayHours[];
  readonly closed: readonly DaySpan[];
  /** Weekdays on which watering is allowed, where a restriction names them; null: on all. */
  readonly wateringWeekdays: readonly number[] | null;
  /** What a person must hold to go there. */
  readonly skills: readonly string[];
  readonly forbiddenPeople: readonly PersonId[];
  /** A visit at least every so many days was agreed; null: as the water asks. */
  readonly visitEveryDays: number | null;
  /** Days of the year, `MM-DD`, around which the pots are replanted for the season. */
  readonly replantOn: readonly string[];
}

const WORKING_WEEKDAYS = [1, 2, 3, 4, 5] as const;

/** What holds for a person of whom nothing else was said. A week as crews commonly work it; no source. */
export function usualCrewTerms(personId: PersonId): CrewTerms {
  return {
    personId,
    shifts: WORKING_WEEKDAYS.map((weekday) => ({ weekday, fromMinute: 7 * 60, toMinute: 16 * 60 })),
    pause: { fromMinute: 12 * 60, minutes: 30 },
    overtimeMinutes: 60,
    truckId: null,
    home: null,
    skills: [],
  };
}

/** What holds for a site of which nothing else was said. */
export function usualSiteTerms(siteId: SiteId): SiteTerms {
  return {
    siteId,
    hours: [],
    closed: [],
    wateringWeekdays: null,
    skills: [],
    forbiddenPeople: [],
    visitEveryDays: null,
    replantOn: [],
  };
}
