import { describe, expect, it } from 'vitest';
import type { Problem } from '../../../src/dispatch/problem.js';
import { solve } from '../../../src/dispatch/solve.js';
import { customerAt, once, planeProblem, randomPoints, seeded, tourOn } from '../../support/dispatch-problems.js';

function permutations(items: readonly number[]): number[][] {
  if (items.length <= 1) return [[...items]];
  return items.flatMap((item) => permutations(items.filter((one) => one !== item)).map((rest) => [item, ...rest]));
}

/** Length of a tour from place 0; Infinity where it comes too late somewhere. */
function tourLength(problem: Problem, places: readonly number[]): number {
  const { distance, placeCount } = problem;
  let length = 0;
  let time = 0;
  let at = 0;
  for (const place of places) {
    const leg = distance[at * placeCount + place]!;
    const window = problem.customers[place - 1]!.windows[0]![0]!;
    length += leg;
    time = Math.max(time + leg, window.fromMinute);
    if (time > window.toMinute) return Number.POSITIVE_INFINITY;
    time += problem.customers[place - 1]!.serviceMinutes;
    at = place;
  }
  return length + distance[at * placeCount]!;
}

/** Least total length over all partitions into tours, by dynamic programming over subsets, each tour by all its orders. */
function bestPartition(problem: Problem, demands: readonly number[], capacity: number): number {
  const count = demands.length;
  const tour = new Float64Array(1 << count).fill(Number.POSITIVE_INFINITY);
  for (let set = 1; set < 1 << count; set++) {
    const members = demands.flatMap((_, k) => ((set >> k) & 1 ? [k + 1] : []));
    if (members.reduce((sum, place) => sum + demands[place - 1]!, 0) > capacity) continue;
    tour[set] = Math.min(...permutations(members).map((order) => tourLength(problem, order)));
  }
  const best = new Float64Array(1 << count).fill(Number.POSITIVE_INFINITY);
  best[0] = 0;
  for (let set = 1; set < 1 << count; set++) {
    for (let part = set; part > 0; part = (part - 1) & set)
      best[set] = Math.min(best[set]!, tour[part]! + best[set ^ part]!);
  }
  return best[(1 << count) - 1]!;
}

describe('the planner on small problems whose optimum is proved by trying everything', () => {
  it('finds the shortest round trip', () => {
    for (const seed of [1, 2, 3]) {
      const rng = seeded(seed);
      const customers = Array.from({ length: 7 }, (_, k) => customerAt(k + 1, 1, once(0)));
      const problem = planeProblem(randomPoints(8, rng), { dayCount: 1, tours: [tourOn(0)], customers });
      expect(solve(problem, rng, { iterations: 300 }).plan.cost).toBe(bestPartition(problem, new Array(7).fill(0), 0));
    }
  });

  it('splits loads over trucks at the least distance', () => {
    for (const seed of [4, 5, 6]) {
      const rng = seeded(seed);
      const demands = Array.from({ length: 7 }, () => 1 + Math.floor(rng() * 9));
      const customers = demands.map((units, k) => customerAt(k + 1, 1, once(units)));
      const truck = tourOn(0, { tankUnits: 15, tankUnitsAtStart: 15 });
      const problem = planeProblem(randomPoints(8, rng), { dayCount: 1, tours: new Array(7).fill(truck), customers });
      expect(solve(problem, rng, { iterations: 500 }).plan.cost).toBe(bestPartition(problem, demands, 15));
    }
  });

  it('keeps time windows at the least distance', () => {
    for (const seed of [7, 8, 9]) {
      const rng = seeded(seed);
      const points = randomPoints(8, rng);
      const customers = Array.from({ length: 7 }, (_, k) => {
        const fromMinute = 60 + Math.floor(rng() * 300);
        const windows = [[{ fromMinute, toMinute: fromMinute + 60 }]];
        return customerAt(k + 1, 1, once(0), { windows, serviceMinutes: 10 });
      });
      const problem = planeProblem(points, { dayCount: 1, tours: new Array(7).fill(tourOn(0)), customers });
      expect(solve(problem, rng, { iterations: 500 }).plan.cost).toBe(bestPartition(problem, new Array(7).fill(0), 0));
    }
  });

  it('finds the days and amounts of the least cost for two stocks', () => {
    for (const seed of [10, 11, 12]) {
      const rng = seeded(seed);
      const points = randomPoints(3, rng);
      const holding = [0.5 + Math.round(rng() * 8), 0.5 + Math.round(rng() * 8)];
      const used = [1 + Math.floor(rng() * 2), 1 + Math.floor(rng() * 2)];
      const customers = [0, 1].map((k) =>
        customerAt(k + 1, 3, {
          kind: 'stock',
          initialUnits: 1 + Math.floor(rng() * 2),
          capacityUnits: 4,
          usedUnits: new Array(3).fill(used[k]),
          holdingCost: holding[k]!,
          policy: 'free',
          costPerUnitShort: 1e5,
        }),
      );
      const tours = [0, 1, 2].map((day) => tourOn(day, { tankUnits: 5, tankUnitsAtStart: 5 }));
      const problem = planeProblem(points, { dayCount: 3, tours, customers });
      expect(solve(problem, rng, { iterations: 1500 }).plan.cost).toBeCloseTo(everyDelivery(problem), 6);
    }
  });
});

/** Least cost over all amounts of two customers on three days with one truck. */
function everyDelivery(problem: Problem): number {
  const amounts = [0, 1, 2, 3, 4];
  const plans = amounts.flatMap((a) => amounts.flatMap((b) => amounts.map((c) => [a, b, c])));
  const holding = (k: number, given: readonly number[]) => {
    const { demand } = problem.customers[k]!;
    if (demand.kind !== 'stock') throw new Error('a stock was expected');
    let stock = demand.initialUnits;
    let cost = 0;
    for (let day = 0; day < 3; day++) {
      stock += given[day]!;
      if (stock > demand.capacityUnits) return Number.POSITIVE_INFINITY;
      stock -= demand.usedUnits[day]!;
      if (stock < 0) return Number.POSITIVE_INFINITY;
      cost += stock * demand.holdingCost;
    }
    return cost;
  };
  let best = Number.POSITIVE_INFINITY;
  for (const first of plans) {
    for (const second of plans) {
      let cost = holding(0, first) + holding(1, second);
      for (let day = 0; day < 3; day++) {
        if (first[day]! + second[day]! > 5) cost = Number.POSITIVE_INFINITY;
        const places = [first[day]! > 0 ? [1] : [], second[day]! > 0 ? [2] : []].flat();
        if (places.length > 0) cost += tourLength(problem, places);
      }
      best = Math.min(best, cost);
    }
  }
  return best;
}
