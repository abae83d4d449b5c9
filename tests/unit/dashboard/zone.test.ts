import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { addDays, dayOf, midnights, startOfDayMs, wallHour } from '../../../dashboard/src/state/zone.js';
import { LocalDays } from '../../../src/domain/local-day.js';

const ZONES = ['Europe/Madrid', 'America/New_York', 'Australia/Lord_Howe', 'America/Santiago', 'Asia/Kathmandu', 'UTC'];

describe('site-local days in the page', () => {
  it('agree with the server’s days, also across changes of the clock', () => {
    fc.assert(
      fc.property(
        fc.constantFrom(...ZONES),
        fc.integer({ min: Date.UTC(2015, 0, 1), max: Date.UTC(2035, 0, 1) }),
        (zone, ms) => {
          const server = new LocalDays(zone);
          expect(dayOf(ms, zone)).toBe(server.dayOf(ms));
          expect(startOfDayMs(dayOf(ms, zone), zone)).toBe(server.startOfDayMs(ms));
        },
      ),
      { numRuns: 300 },
    );
  });

  it('begin a day whose midnight is skipped at the jump', () => {
    // Chile 2023: at 24:00 on 2 September the clock went to 01:00 on the 3rd (IANA time zone database, America/Santiago).
    expect(startOfDayMs('2023-09-03', 'America/Santiago')).toBe(Date.parse('2023-09-03T04:00:00Z'));
    expect(wallHour(Date.parse('2023-09-03T04:00:00Z'), 'America/Santiago')).toBe(1);
  });

  it('count 23 hours from midnight to midnight where the clock goes forward', () => {
    const [first, second] = midnights(
      Date.parse('2026-03-28T12:00:00Z'),
      Date.parse('2026-03-30T12:00:00Z'),
      'Europe/Madrid',
    );
    expect(second! - first!).toBe(23 * 3_600_000);
  });

  it('go on over the end of a month', () => {
    expect(addDays('2026-08-31', 1)).toBe('2026-09-01');
    expect(addDays('2028-02-28', 1)).toBe('2028-02-29');
  });
});
