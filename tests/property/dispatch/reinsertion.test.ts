import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { evaluatePlan } from '../../../src/dispatch/evaluate.js';
import type { Demand, PlannedTour, Problem } from '../../../src/dispatch/problem.js';
import { solve } from '../../../src/dispatch/solve.js';
import { customerAt, planeProblem, seeded, tourOn } from '../../support/dispatch-problems.js';

/** One customer, two trucks a day of different cost and tank: the reinsertion is all there is to decide. */
function oneCustomer(demand: Demand, days: number, rng: () => number): Problem {
  const tours = Array.from({ length: 2 * days }, (_, t) => {
    const tank = 10 + Math.floor(rng() * 20);
    return tourOn(Math.floor(t / 2), {
      id: `tour ${t}`,
      fixedCost: Math.floor(rng() * 60),
      tankUnits: tank,
      tankUnitsAtStart: tank,
    });
  });
  const windows = Array.from({ length: days }, () =>
    rng() < 0.2 ? [] : [{ fromMinute: 0, toMinute: Number.POSITIVE_INFINITY }],
  );
  return planeProblem(
    [
      [0, 0],
      [7, 0],
    ],
    { dayCount: days, tours, customers: [customerAt(1, days, demand, { windows })] },
  );
}

/** Least cost over all 2^days visiting patterns, each visit by its cheapest truck that holds enough. */
function bestPattern(problem: Problem, unitsOf: (previous: number, day: number) => number): number {
  const { dayCount: days, tours, customers } = problem;
  let best = Number.POSITIVE_INFINITY;
  for (let pattern = 0; pattern < 1 << days; pattern++) {
    const planned: PlannedTour[] = [];
    let previous = -1;
    let possible = true;
    for (let day = 0; day < days && possible; day++) {
      if (((pattern >> day) & 1) === 0) continue;
      const units = unitsOf(previous, day);
      const trucks = [2 * day, 2 * day + 1].filter((t) => tours[t]!.tankUnits >= units);
      trucks.sort((a, b) => tours[a]!.fixedCost - tours[b]!.fixedCost);
      possible = trucks.length > 0 && customers[0]!.windows[day]!.length > 0;
      if (possible) {
        planned.push({
          tour: trucks[0]!,
          refillAtStart: null,
          stops: [{ customer: 0, units, minutes: 0, refillAfter: null }],
        });
      }
      previous = day;
    }
    if (possible) best = Math.min(best, evaluatePlan(problem, { tours: planned }).cost.total);
  }
  return best;
}

const cases = fc.record({ seed: fc.integer({ min: 1, max: 1e9 }), days: fc.integer({ min: 1, max: 8 }) });

describe('putting all visits of one customer back in', () => {
  it('costs what the best of all day patterns costs, where forecasts set the deadlines', () => {
    fc.assert(
      fc.property(cases, ({ seed, days }) => {
        const rng = seeded(seed);
        const units = Array.from({ length: days + 1 }, () =>
          Array.from({ length: days }, () => 1 + Math.floor(rng() * 28)),
        );
        const demand: Demand = {
          kind: 'risk',
          latestDay: Array.from({ length: days + 1 }, (_, p) => p - 1 + Math.floor(rng() * 5)),
          units,
          extraMinutes: Array.from({ length: days + 1 }, () =>
            Array.from({ length: days }, () => Math.floor(rng() * 20)),
          ),
          visitCost: 4,
          costPerExtraMinute: 0.5,
          lateCostPerDay: 30,
          endCredit: Array.from({ length: days + 1 }, () => Math.floor(rng() * 12)),
        };
        const problem = oneCustomer(demand, days, rng);
        const { plan } = solve(problem, rng, { iterations: 0 });
        expect(plan.cost).toBeCloseTo(
          bestPattern(problem, (previous, day) => units[previous + 1]![day]!),
          6,
        );
      }),
      { numRuns: 150 },
    );
  });

  it('costs what the best of all amounts costs, where the amounts are free', () => {
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 1e9 }), fc.integer({ min: 1, max: 4 }), (seed, days) => {
        const rng = seeded(seed);
        const capacity = 4;
        const demand: Demand = {
          kind: 'stock',
          initialUnits: Math.floor(rng() * 4),
          capacityUnits: capacity,
          usedUnits: Array.from({ length: days }, () => Math.floor(rng() * 4)),
          holdingCost: Math.floor(rng() * 10),
          policy: 'free',
          costPerUnitShort: 50,
        };
        const problem = oneCustomer(demand, days, rng);
        const { plan } = solve(problem, rng, { iterations: 0 });
        let best = Number.POSITIVE_INFINITY;
        for (let code = 0; code < 5 ** days; code++) {
          const amounts = Array.from({ length: days }, (_, day) => Math.floor(code / 5 ** day) % 5);
          let stock = demand.initialUnits;
          let fits = true;
          amounts.forEach((amount, day) => {
            stock += amount;
            if (stock > capacity || (amount > 0 && problem.customers[0]!.windows[day]!.length === 0)) fits = false;
            stock = Math.max(0, stock - demand.usedUnits[day]!);
          });
          if (!fits) continue;
          const tours = amounts.flatMap((amount, day): PlannedTour[] => {
            if (amount === 0) return [];
            const tour =
              problem.tours[2 * day]!.fixedCost <= problem.tours[2 * day + 1]!.fixedCost ? 2 * day : 2 * day + 1;
            return [
              { tour, refillAtStart: null, stops: [{ customer: 0, units: amount, minutes: 0, refillAfter: null }] },
            ];
          });
          best = Math.min(best, evaluatePlan(problem, { tours }).cost.total);
        }
        expect(plan.cost).toBeCloseTo(best, 6);
      }),
      { numRuns: 100 },
    );
  });
});
