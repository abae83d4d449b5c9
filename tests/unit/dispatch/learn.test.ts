import { describe, expect, it } from 'vitest';
import { LEAST_SAMPLES, learnPace, learnTravelFactor } from '../../../src/dispatch/learn.js';
import { seeded } from '../../support/dispatch-problems.js';

const ASSUMED = { minutesPerStop: 10, minutesPerPot: 4, pumpLitresPerMinute: 12 };
const TRUE = { minutesPerStop: 6, minutesPerPot: 5, pumpLitresPerMinute: 20 };

/** Visits at the true pace, give or take a minute; every tenth was interrupted for an hour. */
function visits(count: number) {
  const rng = seeded(5);
  return Array.from({ length: count }, (_, k) => {
    const pots = 1 + Math.floor(rng() * 6);
    const litres = pots * (5 + 30 * rng());
    const { minutesPerStop, minutesPerPot, pumpLitresPerMinute } = TRUE;
    const minutes = minutesPerStop + minutesPerPot * pots + litres / pumpLitresPerMinute + 2 * (rng() - 0.5);
    return { pots, litres, minutes: k % 10 === 3 ? minutes + 60 : minutes };
  });
}

describe('the pace of the crew', () => {
  it('is learnt from visits, whatever a few of them say', () => {
    const pace = learnPace(visits(400), ASSUMED)!;
    // One visit in ten was an hour longer: the mean would be six minutes off.
    expect(Math.abs(pace.minutesPerStop - TRUE.minutesPerStop)).toBeLessThan(1);
    const minutes = ({ minutesPerStop, minutesPerPot, pumpLitresPerMinute }: typeof TRUE) =>
      minutesPerStop + 4 * minutesPerPot + 80 / pumpLitresPerMinute;
    expect(Math.abs(minutes(pace) - minutes(TRUE))).toBeLessThan(1);
    expect(Math.abs(minutes(ASSUMED) - minutes(TRUE))).toBeGreaterThan(2);
  });

  it('stays near what was assumed while there are few visits, and is not told at all from fewer', () => {
    const few = learnPace(visits(LEAST_SAMPLES), ASSUMED)!;
    const many = learnPace(visits(400), ASSUMED)!;
    expect(few.minutesPerStop).toBeGreaterThan(many.minutesPerStop);
    expect(learnPace(visits(LEAST_SAMPLES - 1), ASSUMED)).toBeNull();
  });

  it('keeps to what is possible where records make no sense', () => {
    const absurd = Array.from({ length: 50 }, () => ({ minutes: 5_000, pots: 1, litres: 0 }));
    expect(learnPace(absurd, ASSUMED)!.minutesPerStop).toBeLessThanOrEqual(45);
  });

  it('takes the median of drives, so that errands on the way do not count', () => {
    const legs = Array.from({ length: 60 }, (_, k) => ({
      estimatedMinutes: 10,
      actualMinutes: k % 3 === 0 ? 55 : 13,
    }));
    expect(learnTravelFactor(legs)).toBeCloseTo(1.3, 9);
    expect(learnTravelFactor(legs.slice(0, LEAST_SAMPLES - 1))).toBeNull();
    expect(learnTravelFactor(legs.map((leg) => ({ ...leg, estimatedMinutes: 1 })))).toBeNull();
  });
});
