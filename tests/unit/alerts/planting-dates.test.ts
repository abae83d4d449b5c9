import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { plantingDue } from '../../../src/alerts/planting-dates.js';
import { addDays } from '../../../src/domain/local-day.js';

const LONG_AGO = '2020-01-01';

describe('a day of the year on which a pot is replanted', () => {
  const due = (today: string, more: { on?: string[]; planted?: string; asked?: boolean } = {}) =>
    plantingDue(more.on ?? ['04-15', '10-20'], today, more.planted ?? LONG_AGO, more.asked ?? false);

  it('is due from a week ahead until two weeks after', () => {
    expect(due('2026-04-07')).toBeNull();
    expect(due('2026-04-08')).toBe('2026-04-15');
    expect(due('2026-04-29')).toBe('2026-04-15');
    expect(due('2026-04-30')).toBeNull();
    expect(due('2026-10-13')).toBe('2026-10-20');
  });

  it('stays due for two months once somebody was asked, and is given up then', () => {
    expect(due('2026-06-14', { asked: true })).toBe('2026-04-15');
    expect(due('2026-06-15', { asked: true })).toBeNull();
  });

  it('is done with by a planting on it, after it or some weeks before', () => {
    expect(due('2026-04-20', { planted: '2026-04-16' })).toBeNull();
    expect(due('2026-04-20', { planted: '2026-03-18' })).toBeNull();
    expect(due('2026-04-20', { planted: '2026-03-17' })).toBe('2026-04-15');
  });

  it('is seen over the turn of the year', () => {
    expect(due('2026-12-28', { on: ['01-03'] })).toBe('2027-01-03');
    expect(due('2027-01-05', { on: ['12-27'] })).toBe('2026-12-27');
  });

  it('of 29 February is the 28th in a common year', () => {
    expect(due('2027-02-25', { on: ['02-29'] })).toBe('2027-02-28');
    expect(due('2028-02-25', { on: ['02-29'] })).toBe('2028-02-29');
  });

  it('asks once a season, however late the work was done', () => {
    const begin = '2026-01-01';
    fc.assert(
      fc.property(fc.integer({ min: 0, max: 700 }), fc.integer({ min: 0, max: 50 }), (start, delay) => {
        let planted = addDays(begin, start - 365);
        const asked: string[] = [];
        let askedSince: string | null = null;
        for (let day = addDays(begin, start), i = 0; i < 730; day = addDays(day, 1), i++) {
          const season = plantingDue(['04-15', '10-20'], day, planted, askedSince !== null);
          if (season === null) {
            askedSince = null;
            continue;
          }
          if (askedSince === null) asked.push(season);
          askedSince ??= day;
          if (day >= addDays(askedSince, delay)) {
            planted = day;
            askedSince = null;
          }
        }
        expect(new Set(asked).size).toBe(asked.length);
        expect(asked.length).toBeGreaterThanOrEqual(3);
      }),
    );
  });
});
