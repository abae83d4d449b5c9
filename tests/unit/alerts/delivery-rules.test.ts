import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  afterAttempt,
  BREAKER_CLOSED,
  backOffMs,
  decideDelivery,
  mayTry,
  nextDigestMs,
  type Occasion,
} from '../../../src/alerts/delivery-rules.js';
import type { ContactRules } from '../../../src/domain/notify.js';

const RULES: ContactRules = {
  personId: 'p1',
  timeZone: 'Europe/Madrid',
  siteIds: null,
  minimumPriority: 'low',
  kinds: null,
  working: null,
  quiet: { fromMinute: 20 * 60, toMinute: 6 * 60 },
  digestMinute: 6 * 60,
  away: [],
  standInId: null,
};
const PLAIN: Occasion = { siteId: 'S1', priority: 'medium', kinds: [], urgent: false };
const at = (iso: string): number => Date.parse(iso);

describe('what a person hears, and when', () => {
  it('holds what can wait until the morning’s digest, in the person’s own zone', () => {
    // 22:30 in Madrid, summer time
    expect(decideDelivery(RULES, PLAIN, at('2026-08-31T20:30:00Z'))).toEqual({
      kind: 'digest',
      atMs: at('2026-09-01T04:00:00Z'),
    });
  });

  it('breaks the quiet hours for what cannot wait', () => {
    expect(decideDelivery(RULES, { ...PLAIN, urgent: true }, at('2026-08-31T20:30:00Z'))).toEqual({ kind: 'now' });
  });

  it('holds outside working hours what can wait, until the digest of a day on which the person works', () => {
    const shifts = [1, 2, 3, 4, 5].map((weekday) => ({ weekday, fromMinute: 7 * 60, toMinute: 16 * 60 }));
    const rules: ContactRules = { ...RULES, working: shifts };
    expect(decideDelivery(rules, PLAIN, at('2026-08-31T08:00:00Z'))).toEqual({ kind: 'now' });
    // Five in the afternoon of a Friday; the week begins again on Monday, at six on the wall.
    const friday = at('2026-09-04T15:00:00Z');
    expect(decideDelivery(rules, PLAIN, friday)).toEqual({ kind: 'digest', atMs: at('2026-09-07T04:00:00Z') });
    expect(decideDelivery(rules, { ...PLAIN, urgent: true }, friday)).toEqual({ kind: 'now' });
    expect(nextDigestMs({ ...RULES, working: [] }, friday)).toBe(at('2026-09-05T04:00:00Z'));
  });

  it('leaves out kinds of alarm that the person does not want, and never a stop or a digest', () => {
    const rules: ContactRules = { ...RULES, kinds: ['leak'] };
    const noon = at('2026-08-31T10:00:00Z');
    expect(decideDelivery(rules, { ...PLAIN, kinds: ['node_silent'] }, noon)).toEqual({ kind: 'not_wanted' });
    expect(decideDelivery(rules, { ...PLAIN, kinds: ['node_silent', 'leak'] }, noon)).toEqual({ kind: 'now' });
    expect(decideDelivery(rules, PLAIN, noon)).toEqual({ kind: 'now' });
  });

  it('tells at once by day', () => {
    expect(decideDelivery(RULES, PLAIN, at('2026-08-31T08:00:00Z'))).toEqual({ kind: 'now' });
  });

  it('turns to the stand-in while the person is away', () => {
    const away = { ...RULES, away: [{ fromDay: '2026-08-31', toDay: '2026-09-06' }], standInId: 'p2' };
    expect(decideDelivery(away, PLAIN, at('2026-09-06T21:30:00Z'))).toEqual({ kind: 'stand_in', personId: 'p2' });
    expect(decideDelivery(away, PLAIN, at('2026-09-07T08:00:00Z'))).toEqual({ kind: 'now' });
  });

  it('leaves out other sites and lower priorities', () => {
    expect(decideDelivery({ ...RULES, siteIds: ['S2'] }, PLAIN, 0)).toEqual({ kind: 'not_wanted' });
    expect(decideDelivery({ ...RULES, minimumPriority: 'high' }, PLAIN, 0)).toEqual({ kind: 'not_wanted' });
  });

  it('keeps the digest at six by the clock on the wall when the clocks change', () => {
    // Summer time ends on 25 October 2026 in Madrid: 06:00 moves from 04:00Z to 05:00Z.
    expect(nextDigestMs(RULES, at('2026-10-24T20:00:00Z'))).toBe(at('2026-10-25T05:00:00Z'));
    expect(nextDigestMs(RULES, at('2026-10-23T20:00:00Z'))).toBe(at('2026-10-24T04:00:00Z'));
  });

  it('never puts the digest in the past or more than a day and an hour ahead', () => {
    fc.assert(
      fc.property(fc.integer({ min: at('2026-01-01T00:00:00Z'), max: at('2027-01-01T00:00:00Z') }), (nowMs) => {
        const digestMs = nextDigestMs(RULES, nowMs);
        expect(digestMs).toBeGreaterThan(nowMs);
        expect(digestMs - nowMs).toBeLessThanOrEqual(25 * 3_600_000);
      }),
    );
  });
});

describe('trying again', () => {
  it('waits longer each time, up to an hour and a quarter', () => {
    expect([1, 2, 3, 8, 20].map((attempts) => backOffMs(attempts, 0.5))).toEqual([
      30_000, 60_000, 120_000, 3_600_000, 3_600_000,
    ]);
    expect(backOffMs(20, 0.999_999)).toBeLessThanOrEqual(4_500_000);
  });

  it('leaves a channel alone after five failures in a row, and trusts it again after one success', () => {
    let breaker = BREAKER_CLOSED;
    for (let i = 0; i < 4; i += 1) breaker = afterAttempt(breaker, false, 1000);
    expect(mayTry(breaker, 1000)).toBe(true);
    breaker = afterAttempt(breaker, false, 1000);
    expect(mayTry(breaker, 1001)).toBe(false);
    expect(mayTry(breaker, 61_000)).toBe(true);
    expect(afterAttempt(breaker, true, 61_000)).toEqual(BREAKER_CLOSED);
  });
});
