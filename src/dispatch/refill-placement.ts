import type { Model } from './model.js';
import type { Routes } from './routes.js';

/** The refill place with the least detour between two places, and that detour. */
export interface RefillDetour {
  readonly refill: number;
  readonly cost: number;
}

/** Cheapest fill between two places, among the refill places near either. */
export function cheapestRefill(model: Model, tour: number, fromPlace: number, toPlace: number): RefillDetour {
  const { places, refillNear, refillNearCount, problem } = model;
  const costs = model.arcCosts[model.costClassOf[tour]!]!;
  const direct = costs[fromPlace * places + toPlace]!;
  let refill = -1;
  let cost = Number.POSITIVE_INFINITY;
  for (let side = 0; side < 2; side++) {
    const base = (side === 0 ? fromPlace : toPlace) * refillNearCount;
    for (let k = 0; k < refillNearCount; k++) {
      const candidate = refillNear[base + k]!;
      const place = problem.refillPlaces[candidate]!.place;
      const detour = costs[fromPlace * places + place]! + costs[place * places + toPlace]! - direct;
      if (detour < cost) {
        cost = detour;
        refill = candidate;
      }
    }
  }
  return { refill, cost };
}

/**
 * Sets the refill stops of a fixed sequence of visits at the least total detour, such that the tank never runs dry: a
 * shortest path over the legs on which a fill may lie (Schneider, Stenger and Hof 2015 place intermediate stops alike).
 * @returns false where no placing keeps the tank from running dry; the tour is then as it was
 */
export function placeRefills(routes: Routes, tour: number): boolean {
  const { model, next, load, refillAfter } = routes;
  const spec = model.problem.tours[tour]!;
  const end = routes.endOf(tour);
  const sequence: number[] = [];
  for (let node = routes.startOf(tour); node !== end; node = next[node]!) sequence.push(node);
  const legs = sequence.length;
  const before = new Float64Array(legs + 1);
  for (let k = 1; k < legs; k++) before[k] = before[k - 1]! + load[sequence[k]!]!;
  before[legs] = before[legs - 1]!;
  const best = new Float64Array(legs + 1).fill(Number.POSITIVE_INFINITY);
  const from = new Int32Array(legs + 1).fill(-1);
  const detours: RefillDetour[] = sequence.map((node, k) =>
    cheapestRefill(model, tour, model.placeOf[node]!, model.placeOf[k + 1 < legs ? sequence[k + 1]! : end]!),
  );
  // Leg k lies behind sequence[k]; leg `legs` stands for the end of the tour.
  for (let k = 0; k <= legs; k++) {
    const own = k === legs ? 0 : detours[k]!.cost;
    if (before[k]! <= spec.tankUnitsAtStart) best[k] = own;
    for (let p = 0; p < k; p++) {
      if (before[k]! - before[p]! <= spec.tankUnits && best[p]! + own < best[k]!) {
        best[k] = best[p]! + own;
        from[k] = p;
      }
    }
  }
  if (best[legs] === Number.POSITIVE_INFINITY) return false;
  for (const node of sequence) refillAfter[node] = -1;
  for (let k = from[legs]!; k >= 0; k = from[k]!) refillAfter[sequence[k]!] = detours[k]!.refill;
  return true;
}
