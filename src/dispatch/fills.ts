import { scheduleTour } from './evaluate.js';
import type { PlannedTour, Problem } from './problem.js';

/** More fills than this within one day mean that no number of them would do. */
const MOST_FILLS = 12;

/**
 * A round with a fill at the nearest place before each stop that would find the tank empty. Fills that are there stay.
 * Where no fill helps (a single stop takes more than a tank, or nowhere to fill) it comes back dry.
 * @param from index of the first stop before which a fill may still be put in
 */
export function withFills(problem: Problem, tour: PlannedTour, from = 0): PlannedTour {
  const spec = problem.tours[tour.tour]!;
  let mended = tour;
  if (!spec.mayRefill || problem.refillPlaces.length === 0) return mended;
  for (let count = 0; count < MOST_FILLS; count++) {
    const run = scheduleTour(problem, mended);
    if (!run.runsDry) return mended;
    const before = Math.max(
      from,
      run.stops.findIndex((one) => one.tankUnits < 0),
    );
    const there = before === 0 ? mended.refillAtStart : mended.stops[before - 1]!.refillAfter;
    if (there !== null) return mended;
    const refill = nearestFill(problem, mended, before);
    mended =
      before === 0
        ? { ...mended, refillAtStart: refill }
        : {
            ...mended,
            stops: mended.stops.map((one, k) => (k === before - 1 ? { ...one, refillAfter: refill } : one)),
          };
  }
  return mended;
}

function nearestFill(problem: Problem, { tour, stops }: PlannedTour, before: number): number {
  const { placeCount, distance, refillPlaces } = problem;
  const placeAt = (k: number) => problem.customers[stops[k]!.customer]!.place;
  const from = before === 0 ? problem.tours[tour]!.startPlace : placeAt(before - 1);
  const to = placeAt(before);
  const detour = (r: number) => {
    const { place } = refillPlaces[r]!;
    return distance[from * placeCount + place]! + distance[place * placeCount + to]!;
  };
  let nearest = 0;
  for (let r = 1; r < refillPlaces.length; r++) if (detour(r) < detour(nearest)) nearest = r;
  return nearest;
}
