import type { Customer, Demand, Problem, TimeWindow, Tour } from '../../src/dispatch/problem.js';

export const ALL_DAY: TimeWindow = { fromMinute: 0, toMinute: Number.POSITIVE_INFINITY };

/** mulberry32, so that a test's draws are the same everywhere. */
export function seeded(seed: number): () => number {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let mixed = Math.imul(state ^ (state >>> 15), 1 | state);
    mixed = (mixed + Math.imul(mixed ^ (mixed >>> 7), 61 | mixed)) ^ mixed;
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 4_294_967_296;
  };
}

export function tourOn(day: number, change: Partial<Tour> = {}): Tour {
  return {
    id: `tour on day ${day}`,
    day,
    startPlace: 0,
    endPlace: 0,
    openMinute: 0,
    closeMinute: Number.POSITIVE_INFINITY,
    overtimeMinutes: 0,
    costPerOvertimeMinute: 0,
    tankUnits: Number.POSITIVE_INFINITY,
    tankUnitsAtStart: Number.POSITIVE_INFINITY,
    mayRefill: false,
    fixedCost: 0,
    costPerDistance: 1,
    costPerMinute: 0,
    pause: null,
    skills: [],
    ...change,
  };
}

export function customerAt(place: number, days: number, demand: Demand, change: Partial<Customer> = {}): Customer {
  return {
    id: `customer ${place}`,
    place,
    windows: Array.from({ length: days }, () => [ALL_DAY]),
    serviceMinutes: 0,
    serviceMinutesPerUnit: 0,
    usesTank: true,
    skills: [],
    forbiddenTours: [],
    locks: [],
    published: null,
    demand,
    ...change,
  };
}

export function once(units: number): Demand {
  return { kind: 'once', units, dayCost: [0], unservedCost: 1e6 };
}

/** Straight lines between points, rounded to whole units; minutes equal distance. */
export function planeProblem(
  points: readonly (readonly [number, number])[],
  rest: Pick<Problem, 'dayCount' | 'tours' | 'customers'> & Partial<Problem>,
): Problem {
  const size = points.length;
  const distance = new Float64Array(size * size);
  for (let i = 0; i < size; i++) {
    for (let j = 0; j < size; j++) {
      distance[i * size + j] = Math.round(Math.hypot(points[i]![0] - points[j]![0], points[i]![1] - points[j]![1]));
    }
  }
  return { placeCount: size, distance, minutes: distance, refillPlaces: [], supply: null, ...rest };
}

export function randomPoints(count: number, rng: () => number): [number, number][] {
  return Array.from({ length: count }, () => [Math.round(rng() * 100), Math.round(rng() * 100)]);
}
