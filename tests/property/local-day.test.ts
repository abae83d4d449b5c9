import fc from 'fast-check';
import { Temporal } from 'temporal-polyfill';
import { describe, expect, it } from 'vitest';
import { addDays, DAY_MS, dayOfYear, daysBetween, HOUR_MS, LocalDays } from '../../src/domain/local-day.js';

const ZONES = [
  'Europe/Madrid',
  'America/New_York',
  'Australia/Lord_Howe',
  'America/Sao_Paulo',
  'Asia/Kathmandu',
  'UTC',
];
const instant = fc.integer({ min: Date.UTC(1990, 0, 1), max: Date.UTC(2060, 0, 1) });
const zone = fc.constantFrom(...ZONES);

describe('days of a zone', () => {
  it('agree with Temporal on the day, its ends and the hour on the wall, across daylight saving', () => {
    fc.assert(
      fc.property(zone, fc.array(instant, { minLength: 1, maxLength: 12 }), (timeZone, instants) => {
        const days = new LocalDays(timeZone);
        for (const ms of instants) {
          const zoned = Temporal.Instant.fromEpochMilliseconds(ms).toZonedDateTimeISO(timeZone);
          const date = zoned.toPlainDate();
          expect(days.dayOf(ms)).toBe(date.toString());
          expect(days.startOfDayMs(ms)).toBe(date.toZonedDateTime(timeZone).epochMilliseconds);
          expect(days.endOfDayMs(ms)).toBe(date.add({ days: 1 }).toZonedDateTime(timeZone).epochMilliseconds);
          expect(days.wallHour(ms)).toBeCloseTo(zoned.hour + zoned.minute / 60 + zoned.second / 3600, 9);
          expect(days.atMs(date.toString(), 7, 30)).toBe(
            date.toZonedDateTime({ timeZone, plainTime: { hour: 7, minute: 30 } }).epochMilliseconds,
          );
        }
      }),
    );
  });

  it('follow one another without a gap through a year with both changes', () => {
    const days = new LocalDays('Europe/Madrid');
    let ms = Date.UTC(2026, 0, 1, 12);
    const lengths = new Set<number>();
    for (let count = 0; count < 365; count += 1) {
      const endMs = days.endOfDayMs(ms);
      lengths.add((endMs - days.startOfDayMs(ms)) / HOUR_MS);
      expect(days.startOfDayMs(endMs)).toBe(endMs);
      ms = endMs + 12 * HOUR_MS;
    }
    expect([...lengths].sort()).toEqual([23, 24, 25]);
  });
});

describe('arithmetic of days', () => {
  const day = fc
    .integer({ min: -200_000, max: 2_900_000 })
    .map((number) => Temporal.PlainDate.from('1970-01-01').add({ days: number }))
    .filter((date) => date.year >= 0 && date.year <= 9999)
    .map((date) => date.toString());

  it('agrees with Temporal', () => {
    fc.assert(
      fc.property(day, fc.integer({ min: -5000, max: 5000 }), (from, count) => {
        const date = Temporal.PlainDate.from(from);
        const to = date.add({ days: count });
        fc.pre(to.year >= 0 && to.year <= 9999);
        expect(addDays(from, count)).toBe(to.toString());
        expect(daysBetween(from, to.toString())).toBe(count);
        expect(dayOfYear(from)).toBe(date.dayOfYear);
      }),
    );
  });

  it('refuses what is no day', () => {
    for (const text of ['2026-02-29', '2026-13-01', '2026-00-10', '2026-1-1', 'today', '', '2026-01-01T00:00']) {
      expect(() => addDays(text, 1)).toThrow(RangeError);
    }
    expect(DAY_MS).toBe(24 * HOUR_MS);
  });
});
