import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { dueJobs, type Job } from '../../../../src/app/jobs/jobs.js';
import { DAY, HOUR, MADRID } from '../../../support/situations.js';

const MINUTE = 60_000;
const FIVE: Job = { name: 'five', when: { kind: 'every', everyMs: 5 * MINUTE }, staleAfterMs: HOUR };
const SIX: Job = { name: 'six', when: { kind: 'daily', hour: 6, minute: 0 }, staleAfterMs: 12 * HOUR };
const NIGHT: Job = { name: 'night', when: { kind: 'daily', hour: 2, minute: 30 }, staleAfterMs: DAY };

const at = (text: string): number => Date.parse(text);
const last = (name: string, ms: number): ReadonlyMap<string, number> => new Map([[name, ms]]);

describe('what is due by the business clock', () => {
  it('is each job’s latest instant, once', () => {
    const nowMs = at('2026-08-31T08:07:00Z');
    expect(dueJobs(new Map(), nowMs, MADRID, [FIVE])).toEqual([
      { name: 'five', scheduledMs: at('2026-08-31T08:05:00Z'), missed: 0 },
    ]);
    expect(dueJobs(last('five', at('2026-08-31T08:05:00Z')), nowMs, MADRID, [FIVE])).toEqual([]);
  });

  it('is at six on the wall, in summer as in winter', () => {
    const due = (iso: string) => dueJobs(last('six', 0), at(iso), MADRID, [SIX])[0]?.scheduledMs;
    expect(due('2026-08-31T04:30:00Z')).toBe(at('2026-08-31T04:00:00Z'));
    expect(due('2026-12-01T05:30:00Z')).toBe(at('2026-12-01T05:00:00Z'));
  });

  it('is once for a server that was off for three days, and says how many it missed', () => {
    const nowMs = at('2026-09-03T06:00:00Z');
    const ranMs = at('2026-08-31T04:00:00Z');
    expect(dueJobs(last('six', ranMs), nowMs, MADRID, [SIX])).toEqual([
      { name: 'six', scheduledMs: at('2026-09-03T04:00:00Z'), missed: 2 },
    ]);
    expect(dueJobs(last('five', ranMs), nowMs, MADRID, [FIVE])[0]).toMatchObject({ missed: 3 * 288 + 23 });
  });

  it('is nothing whose word would be stale', () => {
    expect(dueJobs(last('six', 0), at('2026-08-31T18:00:00Z'), MADRID, [SIX])).toEqual([]);
  });

  it('is nothing while the clock has stepped back a little, and all again after one that ran far ahead', () => {
    const nowMs = at('2026-08-31T08:07:00Z');
    expect(dueJobs(last('five', nowMs + HOUR), nowMs, MADRID, [FIVE])).toEqual([]);
    expect(dueJobs(last('five', nowMs + 400 * DAY), nowMs, MADRID, [FIVE])).toHaveLength(1);
  });

  it('is each night exactly once when ticked through both changes of the clocks, at any pace', () => {
    fc.assert(
      fc.property(
        fc.constantFrom('2026-03-26', '2026-10-22'),
        fc.array(fc.integer({ min: 1, max: 300 }), { minLength: 40, maxLength: 200 }),
        (from, paces) => {
          let nowMs = at(`${from}T12:00:00Z`);
          let ranMs = nowMs;
          const nights = new Set<string>();
          for (const minutes of paces) {
            nowMs += minutes * MINUTE;
            for (const job of dueJobs(last('night', ranMs), nowMs, MADRID, [NIGHT])) {
              const night = MADRID.dayOf(job.scheduledMs);
              expect(nights.has(night)).toBe(false);
              expect(job.missed).toBe(0);
              nights.add(night);
              ranMs = job.scheduledMs;
            }
          }
          const expected = Math.round(
            (Date.parse(`${MADRID.dayOf(nowMs - 2.5 * HOUR)}T00:00Z`) - at(`${from}T00:00:00Z`)) / DAY,
          );
          expect(nights.size).toBe(expected);
        },
      ),
    );
  });
});
