import { describe, expect, it } from 'vitest';
import {
  decidedHorizonMs,
  decisionHorizonMs,
  endOfWorkMs,
  isoWeekday,
  isWorkingDay,
  lastEndOfWorkMs,
  nextWorkingDay,
  startOfWorkMs,
  USUAL_CALENDAR,
  workCalendarOf,
} from '../../../src/alerts/work-calendar.js';
import { type Absence, type CrewTerms, usualCrewTerms } from '../../../src/domain/crew.js';
import { DAY, HOUR, MADRID, MONDAY } from '../../support/situations.js';

describe('the crew’s working days', () => {
  it('know the day of the week', () => {
    expect(['2026-08-31', '2026-09-05', '2026-09-06', '2024-02-29', '1999-12-31'].map(isoWeekday)).toEqual([
      1, 6, 7, 4, 5,
    ]);
  });

  it('skip weekends and holidays', () => {
    const calendar = { ...USUAL_CALENDAR, holidays: ['2026-09-07'] };
    expect(isWorkingDay(calendar, '2026-09-07')).toBe(false);
    expect(nextWorkingDay(calendar, '2026-09-04')).toBe('2026-09-08');
    expect(nextWorkingDay({ ...USUAL_CALENDAR, shifts: [] }, '2026-09-04')).toBeNull();
  });

  it('make what falls before the end of the next working day a matter of today', () => {
    expect(decisionHorizonMs(USUAL_CALENDAR, MADRID, MONDAY)).toBe(Date.UTC(2026, 8, 1, 14));
    const friday = MONDAY + 4 * DAY;
    expect(decisionHorizonMs(USUAL_CALENDAR, MADRID, friday)).toBe(Date.UTC(2026, 8, 7, 14));
    expect(decisionHorizonMs({ ...USUAL_CALENDAR, shifts: [] }, MADRID, friday)).toBeNull();
  });

  it('end at four on the wall on both sides of a change of the clocks', () => {
    const beforeChange = Date.UTC(2026, 9, 23, 8);
    expect(decisionHorizonMs(USUAL_CALENDAR, MADRID, beforeChange)).toBe(Date.UTC(2026, 9, 26, 15));
    expect(decisionHorizonMs(USUAL_CALENDAR, MADRID, beforeChange - DAY)).toBe(Date.UTC(2026, 9, 23, 14));
    expect(HOUR).toBe(3_600_000);
  });
});

describe('the crew’s calendar', () => {
  const own = (personId: string, weekdays: readonly number[], fromMinute = 420, toMinute = 960): CrewTerms => ({
    ...usualCrewTerms(personId),
    shifts: weekdays.map((weekday) => ({ weekday, fromMinute, toMinute })),
  });
  const away = (personId: string | null, fromDay: string, toDay: string, more: Partial<Absence> = {}): Absence => ({
    id: `${personId}:${fromDay}`,
    personId,
    truckId: null,
    fromDay,
    toDay,
    reason: null,
    endedMs: null,
    ...more,
  });
  const calendarOf = (people: readonly CrewTerms[], absences: readonly Absence[]) =>
    workCalendarOf(people, absences, '2026-08-31', 60);

  it('is the usual week where there is no crew yet', () => {
    expect(calendarOf([], [])).toEqual(USUAL_CALENDAR);
  });

  it('has a working day wherever somebody works, from the first to begin to the last to end', () => {
    const calendar = calendarOf([own('ana', [1, 2, 3]), own('ben', [3, 4, 6], 360, 720)], []);
    const working = ['2026-08-31', '2026-09-02', '2026-09-03', '2026-09-04', '2026-09-05', '2026-09-06'];
    expect(working.map((day) => isWorkingDay(calendar, day))).toEqual([true, true, true, false, true, false]);
    expect(startOfWorkMs(calendar, MADRID, '2026-09-02')).toBe(Date.UTC(2026, 8, 2, 4));
    expect(endOfWorkMs(calendar, MADRID, '2026-09-02')).toBe(Date.UTC(2026, 8, 2, 14));
  });

  it('has none on the firm’s holidays, nor where everybody who would work is away', () => {
    const people = [own('ana', [1, 2]), own('ben', [2, 3])];
    const off = [away(null, '2026-09-08', '2026-09-08'), away('ana', '2026-09-07', '2026-09-08')];
    const calendar = calendarOf(people, off);
    expect(calendar.holidays).toEqual(['2026-09-07', '2026-09-08']);
    expect(isWorkingDay(calendar, '2026-09-09')).toBe(true);
    const takenBack = calendarOf(people, [away(null, '2026-09-08', '2026-09-08', { endedMs: MONDAY })]);
    expect(takenBack.holidays).toEqual([]);
    expect(calendarOf(people, [away(null, '2026-09-08', '2026-09-08', { truckId: 'T1' })]).holidays).toEqual([]);
  });

  it('moves the cut-off of a decision across holidays and changes of the clocks', () => {
    const calendar = { ...USUAL_CALENDAR, holidays: ['2026-10-26'] };
    const friday = Date.UTC(2026, 9, 23, 6, 59);
    expect(decidedHorizonMs(calendar, MADRID, friday)).toBe(Date.UTC(2026, 9, 23, 7));
    // Winter time since the Sunday between: nine on the wall is eight in UTC.
    expect(decidedHorizonMs(calendar, MADRID, friday + HOUR)).toBe(Date.UTC(2026, 9, 27, 8));
    expect(lastEndOfWorkMs(calendar, MADRID, '2026-10-27')).toBe(Date.UTC(2026, 9, 23, 14));
  });
});
