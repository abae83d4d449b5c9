import { describe, expect, it } from 'vitest';
import {
  decisionHorizonMs,
  isoWeekday,
  isWorkingDay,
  nextWorkingDay,
  USUAL_CALENDAR,
} from '../../../src/alerts/work-calendar.js';
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
