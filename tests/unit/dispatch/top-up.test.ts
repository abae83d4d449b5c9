import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { PLAN_SETTINGS, type PlannedSite } from '../../../src/dispatch/crew.js';
import { scheduleTour } from '../../../src/dispatch/evaluate.js';
import { readRounds } from '../../../src/dispatch/rounds.js';
import { solve } from '../../../src/dispatch/solve.js';
import { isFilled, lastsUntil } from '../../../src/dispatch/top-up.js';
import { built, planInput, siteDryIn, taskAt } from '../../support/dispatch-crew.js';
import { seeded } from '../../support/dispatch-problems.js';

/** One site with two pots: one dry in `dryInDays[0]`, the other in `dryInDays[1]` at a tenth of the thirst. */
function twoPots(dryInDays: readonly [number, number], change: Partial<PlannedSite> = {}): PlannedSite {
  const site = siteDryIn('S1', dryInDays[0]);
  const other = siteDryIn('S1', dryInDays[1]).pots[0]!;
  const status = other.status!;
  const slow = {
    container: { ...other.container, id: 'S1-slow' },
    status: {
      ...status,
      containerId: 'S1-slow',
      litres: 4 + 0.4 * dryInDays[1],
      forecast: { ...status.forecast, rateLitresPerDay: 0.4, rateSdLitresPerDay: 0.02 },
    },
    targetFraction: 1,
  };
  return { ...site, pots: [site.pots[0]!, slow], ...change };
}

function firstVisit(site: PlannedSite) {
  const problem = built(planInput([site]));
  const { plan } = solve(problem.problem, seeded(1), { iterations: 100 });
  const [visit] = readRounds(problem, plan).visits;
  const tour = plan.tours[0]!;
  const [stop] = scheduleTour(problem.problem, { ...tour, stops: tour.stops.slice(0, 1) }).stops;
  return { fills: visit!.fills.map((one) => one.containerId), litres: visit!.litres, visit, stop: stop! };
}

describe('a pot beside the one that the technician came for', () => {
  it('is left where it lasts past the visit after this one, and takes no minutes then', () => {
    const { fills, litres, visit, stop } = firstVisit(twoPots([1.8, 40]));
    expect(fills).toEqual(['S1-pot']);
    expect(litres).toBeCloseTo(visit!.fills[0]!.litres, 9);
    const { minutesPerStop, minutesPerPot, pumpLitresPerMinute } = PLAN_SETTINGS;
    expect(stop.endMinute - stop.startMinute).toBeCloseTo(
      minutesPerStop + minutesPerPot + litres / pumpLitresPerMinute,
      6,
    );
  });

  it('is filled where it would be dry before the visit after this one', () => {
    expect(firstVisit(twoPots([1.8, 5])).fills).toEqual(['S1-pot', 'S1-slow']);
  });

  it('is filled where somebody asked for it', () => {
    const tasks = [taskAt('S1', { kind: 'refill', containerId: 'S1-slow' })];
    expect(firstVisit(twoPots([1.8, 40], { tasks })).fills).toContain('S1-slow');
  });
});

describe('the choice of what a visit fills', () => {
  it('leaves no pot that does not last until the last safe day of the visit after it', () => {
    const days = 6;
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 1e9 }), (seed) => {
        const rng = seeded(seed);
        const until = (from: number) => from + 1 + Math.floor(rng() * 9);
        const holdsUntil = Array.from({ length: 3 }, () => [
          until(-1),
          ...Array.from({ length: days }, (_, p) => until(p)),
        ]);
        const nextVisit = Array.from({ length: days + 1 }, (_, k) => Math.min(...holdsUntil.map((pot) => pot[k]!)));
        const choice = { holdsUntil, asked: [false, false, rng() < 0.5], nextVisit };
        for (let first = 0; first < days; first++) {
          for (let second = first + 1; second < days; second++) {
            for (let pot = 0; pot < 3; pot++) {
              if (!isFilled(choice, pot, -1, first)) {
                expect(lastsUntil(choice, pot, first)).toBeGreaterThanOrEqual(nextVisit[first + 1]!);
              }
              if (!isFilled(choice, pot, first, second)) {
                expect(lastsUntil(choice, pot, first)).toBeGreaterThanOrEqual(nextVisit[second + 1]!);
              }
            }
          }
        }
      }),
    );
  });
});
