import { gapTables } from './gap-tables.js';
import type { Customer, Lock, Problem, StockDemand, Tour } from './problem.js';
import { nearestCustomers } from './proximity.js';

/** Customers near each customer that the search looks at. */
const NEAR_COUNT = 100;
/** Refill places near each end of a leg that are tried on it. */
const REFILL_NEAR_COUNT = 3;

/** A problem laid out in typed arrays for the search. Nodes: one for each (day, customer), then a start and an end for each tour. */
export interface Model {
  readonly problem: Problem;
  readonly days: number;
  readonly customers: number;
  readonly tours: number;
  readonly places: number;
  /** Number of (day, customer) nodes; the start of tour t is nodes + t, its end nodes + tours + t. */
  readonly nodes: number;
  readonly placeOf: Int32Array;
  /** True where windows, shifts or overtime can bind. */
  readonly timed: boolean;
  readonly minutes: Float64Array;
  /** Row = destination, so that one row answers for every origin; the same array where symmetric. */
  readonly minutesInto: Float64Array;
  readonly costClassOf: Int32Array;
  readonly arcCosts: readonly Float64Array[];
  readonly arcCostsInto: readonly Float64Array[];
  readonly pauseClassOf: Int32Array;
  readonly pauses: readonly Tour['pause'][];
  /** Working-time windows at [pauseClass * nodes + node]: first opening, last closing (-Infinity where closed). */
  readonly firstOpen: Float64Array;
  readonly lastClose: Float64Array;
  /** [open, close, open, close, ...] of nodes with several windows, by the same index. */
  readonly severalWindows: ReadonlyMap<number, Float64Array>;
  readonly openWork: Float64Array;
  readonly closeWork: Float64Array;
  readonly lastWork: Float64Array;
  readonly tourClassOf: Int32Array;
  readonly classesOfDay: readonly (readonly (readonly number[])[])[];
  readonly toursOfDay: readonly (readonly number[])[];
  /** Null where every tour may serve every customer. */
  readonly barred: Uint8Array | null;
  readonly lockOf: readonly (readonly (Lock | null)[] | null)[];
  /** Cost of a visit by customer and tour through what was published; null for nothing published. */
  readonly published: readonly Customer['published'][];
  readonly near: Int32Array;
  readonly nearCount: number;
  /** [customer][(p + 1) * (days + 1) + d]: cost of having no visit between day p and day d (d = days: to the end); null for free amounts. */
  readonly gapCost: readonly (Float64Array | null)[];
  /** Laid out as `gapCost`: units given on day d after a visit on day p. */
  readonly gapUnits: readonly (Float64Array | null)[];
  /** Laid out as `gapCost`: minutes at the stop on day d after a visit on day p. */
  readonly gapMinutes: readonly (Float64Array | null)[];
  readonly free: readonly (StockDemand | null)[];
  /** True where the search may go through overloaded tanks: amounts and days hang together through the tanks. */
  readonly softTanks: boolean;
  readonly refills: boolean;
  /** Indices of the refill places near each place, `refillNearCount` for each. */
  readonly refillNear: Int32Array;
  readonly refillNearCount: number;
  /** Typical cost of one leg, for the temperature of the search. */
  readonly typicalLeg: number;
}

/** Clock minutes to working minutes: the pause takes no working time. */
export function toWork(pause: Tour['pause'], clockMinute: number): number {
  if (pause === null || clockMinute <= pause.fromMinute) return clockMinute;
  return Math.max(pause.fromMinute, clockMinute - pause.minutes);
}

/** Working minutes to clock minutes; the instant at which the pause begins counts as before it. */
export function toClock(pause: Tour['pause'], workMinute: number): number {
  if (pause === null || workMinute <= pause.fromMinute) return workMinute;
  return workMinute + pause.minutes;
}

/** Cells looked at together, so that rows and columns both come out of the cache. */
const TILE = 64;

function isSymmetric(matrix: Float64Array, size: number): boolean {
  for (let top = 0; top < size; top += TILE) {
    for (let left = 0; left <= top; left += TILE) {
      for (let i = top; i < Math.min(size, top + TILE); i++) {
        for (let j = left; j < Math.min(i, left + TILE); j++) {
          if (matrix[i * size + j] !== matrix[j * size + i]) return false;
        }
      }
    }
  }
  return true;
}

function transposed(matrix: Float64Array, size: number): Float64Array {
  if (isSymmetric(matrix, size)) return matrix;
  const out = new Float64Array(size * size);
  for (let i = 0; i < size; i++) for (let j = 0; j < size; j++) out[j * size + i] = matrix[i * size + j]!;
  return out;
}

function classify<T>(items: readonly T[], keyOf: (item: T) => string): { of: Int32Array; firsts: T[] } {
  const seen = new Map<string, number>();
  const firsts: T[] = [];
  const of = new Int32Array(items.length);
  items.forEach((item, index) => {
    const key = keyOf(item);
    let found = seen.get(key);
    if (found === undefined) {
      found = firsts.length;
      seen.set(key, found);
      firsts.push(item);
    }
    of[index] = found;
  });
  return { of, firsts };
}

function barredTours(problem: Problem): Uint8Array | null {
  const { tours, customers } = problem;
  const some = customers.some((one) => one.forbiddenTours.length > 0 || one.skills.length > 0);
  if (!some) return null;
  const out = new Uint8Array(customers.length * tours.length);
  customers.forEach((customer, c) => {
    tours.forEach((tour, t) => {
      if (!customer.skills.every((skill) => tour.skills.includes(skill))) out[c * tours.length + t] = 1;
    });
    for (const t of customer.forbiddenTours) out[c * tours.length + t] = 1;
  });
  return out;
}

function arcCost(problem: Problem, tour: Tour): Float64Array {
  const { distance, minutes } = problem;
  if (tour.costPerDistance === 1 && (tour.costPerMinute === 0 || minutes === null)) return distance;
  const out = new Float64Array(distance.length);
  const { costPerDistance, costPerMinute } = tour;
  for (let k = 0; k < out.length; k++) out[k] = distance[k]! * costPerDistance;
  if (minutes !== null) for (let k = 0; k < out.length; k++) out[k] = out[k]! + minutes[k]! * costPerMinute;
  return out;
}

/** Lays a problem out for the search. Costs a few matrix passes and one selection per customer. */
export function compileModel(problem: Problem): Model {
  const { dayCount: days, placeCount: places, tours, customers } = problem;
  const nodes = days * customers.length;
  const placeOf = new Int32Array(nodes + 2 * tours.length);
  for (let node = 0; node < nodes; node++) placeOf[node] = customers[node % customers.length]!.place;
  tours.forEach((tour, t) => {
    placeOf[nodes + t] = tour.startPlace;
    placeOf[nodes + tours.length + t] = tour.endPlace;
  });
  const costClasses = classify(tours, (tour) => `${tour.costPerDistance} ${tour.costPerMinute}`);
  const arcCosts = costClasses.firsts.map((tour) => arcCost(problem, tour));
  const pauseClasses = classify(tours, (tour) => JSON.stringify(tour.pause));
  const pauses = pauseClasses.firsts.map((tour) => tour.pause);
  const firstOpen = new Float64Array(pauses.length * nodes);
  const lastClose = new Float64Array(pauses.length * nodes);
  const severalWindows = new Map<number, Float64Array>();
  let bounded = tours.some((tour) => tour.closeMinute < Number.POSITIVE_INFINITY);
  pauses.forEach((pause, k) => {
    for (let node = 0; node < nodes; node++) {
      const windows = customers[node % customers.length]!.windows[Math.floor(node / customers.length)]!;
      const at = k * nodes + node;
      firstOpen[at] = windows.length === 0 ? Number.POSITIVE_INFINITY : toWork(pause, windows[0]!.fromMinute);
      lastClose[at] = windows.length === 0 ? Number.NEGATIVE_INFINITY : toWork(pause, windows.at(-1)!.toMinute);
      if (windows.length > 1) {
        severalWindows.set(
          at,
          Float64Array.from(windows.flatMap((one) => [toWork(pause, one.fromMinute), toWork(pause, one.toMinute)])),
        );
      }
      if (lastClose[at]! < Number.POSITIVE_INFINITY) bounded = true;
    }
  });
  const minutes = problem.minutes ?? new Float64Array(places * places);
  const classes = classify(tours, (tour) => JSON.stringify({ ...tour, id: '' }));
  const named = new Set<number>();
  for (const customer of customers) {
    for (const t of customer.forbiddenTours) named.add(t);
    for (const lock of customer.locks) if (lock.tour !== null) named.add(lock.tour);
    for (const t of customer.published?.tourByDay ?? []) if (t >= 0) named.add(t);
  }
  const toursOfDay: number[][] = Array.from({ length: days }, () => []);
  const classesOfDay: number[][][] = Array.from({ length: days }, () => []);
  const members = new Map<string, number[]>();
  tours.forEach((tour, t) => {
    toursOfDay[tour.day]!.push(t);
    // A tour that somebody names is no longer like the others.
    const key = named.has(t) ? `tour ${t}` : `class ${classes.of[t]}`;
    const known = members.get(key);
    if (known !== undefined) known.push(t);
    else {
      const fresh = [t];
      members.set(key, fresh);
      classesOfDay[tour.day]!.push(fresh);
    }
  });
  const tables = customers.map((customer) => gapTables(customer, problem));
  const nearCount = Math.min(NEAR_COUNT, customers.length - 1);
  const arcCostsInto = arcCosts.map((one) => transposed(one, places));
  const near = nearestCustomers(
    problem,
    arcCosts[0] ?? problem.distance,
    arcCostsInto[0] ?? transposed(problem.distance, places),
    nearCount,
  );
  const lockOf = customers.map((customer) => {
    if (customer.locks.length === 0) return null;
    const byDay: (Lock | null)[] = new Array<Lock | null>(days).fill(null);
    for (const lock of customer.locks) byDay[lock.day] = lock;
    return byDay;
  });
  const lastMinute = (tour: Tour) => tour.closeMinute + tour.overtimeMinutes;
  return {
    problem,
    days,
    customers: customers.length,
    tours: tours.length,
    places,
    nodes,
    placeOf,
    timed: problem.minutes !== null && bounded,
    minutes,
    minutesInto: transposed(minutes, places),
    costClassOf: costClasses.of,
    arcCosts,
    arcCostsInto,
    pauseClassOf: pauseClasses.of,
    pauses,
    firstOpen,
    lastClose,
    severalWindows,
    openWork: Float64Array.from(tours, (tour) => toWork(tour.pause, tour.openMinute)),
    closeWork: Float64Array.from(tours, (tour) => toWork(tour.pause, tour.closeMinute)),
    lastWork: Float64Array.from(tours, (tour) => toWork(tour.pause, lastMinute(tour))),
    tourClassOf: classes.of,
    classesOfDay,
    toursOfDay,
    barred: barredTours(problem),
    lockOf,
    published: customers.map((one) => one.published),
    near,
    nearCount,
    gapCost: tables.map((one) => one?.cost ?? null),
    gapUnits: tables.map((one) => one?.units ?? null),
    gapMinutes: tables.map((one) => one?.minutes ?? null),
    free: customers.map(({ demand }) => (demand.kind === 'stock' && demand.policy === 'free' ? demand : null)),
    softTanks: customers.some((one) => one.demand.kind === 'stock'),
    ...nearRefills(problem, arcCosts[0] ?? problem.distance),
    refills: problem.refillPlaces.length > 0 && tours.some((tour) => tour.mayRefill),
    typicalLeg: typicalLeg(problem, arcCosts[0] ?? problem.distance, near, nearCount),
  };
}

function nearRefills(problem: Problem, costs: Float64Array): { refillNear: Int32Array; refillNearCount: number } {
  const { placeCount, refillPlaces } = problem;
  const refillNearCount = Math.min(REFILL_NEAR_COUNT, refillPlaces.length);
  const refillNear = new Int32Array(placeCount * refillNearCount);
  if (refillNearCount === 0) return { refillNear, refillNearCount };
  const refillPlaceOf = Int32Array.from(refillPlaces, (one) => one.place);
  const nearest = new Int32Array(refillNearCount);
  const least = new Float64Array(refillNearCount);
  for (let place = 0; place < placeCount; place++) {
    least.fill(Number.POSITIVE_INFINITY);
    const row = place * placeCount;
    for (let r = 0; r < refillPlaceOf.length; r++) {
      const cost = costs[row + refillPlaceOf[r]!]!;
      if (cost >= least[refillNearCount - 1]!) continue;
      // A few places only: each finds its rank from the end.
      let at = refillNearCount - 1;
      while (at > 0 && least[at - 1]! > cost) {
        least[at] = least[at - 1]!;
        nearest[at] = nearest[at - 1]!;
        at--;
      }
      least[at] = cost;
      nearest[at] = r;
    }
    refillNear.set(nearest, place * refillNearCount);
  }
  return { refillNear, refillNearCount };
}

/** Mean cost from a customer to its fifth nearest: about one leg of a good tour. */
function typicalLeg(problem: Problem, costs: Float64Array, near: Int32Array, nearCount: number): number {
  const { customers, placeCount, tours } = problem;
  if (customers.length === 0) return 1;
  let sum = 0;
  customers.forEach((customer, c) => {
    const other =
      nearCount === 0 ? tours[0]!.startPlace : customers[near[c * nearCount + Math.min(4, nearCount - 1)]!]!.place;
    sum += costs[customer.place * placeCount + other]!;
  });
  return Math.max(1e-9, sum / customers.length);
}
