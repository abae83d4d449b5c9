import type { Plan, PlannedStop, PlannedTour } from './problem.js';
import type { Routes } from './routes.js';

/** Keeps the best tours found so far, cheaply, and turns them into a plan and back. */
export class RouteStore {
  readonly #routes: Routes;
  #length = 0;
  #nodes = new Int32Array(64);
  #refills = new Int32Array(64);
  #units = new Float64Array(64);
  #minutes = new Float64Array(64);

  constructor(routes: Routes) {
    this.#routes = routes;
  }

  save(): void {
    const { next, tourCount, units, service, refillAfter, model } = this.#routes;
    let total = 0;
    for (let t = 0; t < model.tours; t++) if (tourCount[t]! > 0) total += tourCount[t]! + 1;
    if (total > this.#nodes.length) {
      this.#nodes = new Int32Array(2 * total);
      this.#refills = new Int32Array(2 * total);
      this.#units = new Float64Array(2 * total);
      this.#minutes = new Float64Array(2 * total);
    }
    let at = 0;
    for (let t = 0; t < model.tours; t++) {
      if (tourCount[t] === 0) continue;
      const end = this.#routes.endOf(t);
      for (let node = this.#routes.startOf(t); node !== end; node = next[node]!, at++) {
        this.#nodes[at] = node;
        this.#refills[at] = refillAfter[node]!;
        this.#units[at] = units[node]!;
        this.#minutes[at] = service[node]!;
      }
    }
    this.#length = at;
  }

  plan(cost: number): Plan {
    const { model } = this.#routes;
    const tours: PlannedTour[] = [];
    let stops: PlannedStop[] = [];
    for (let at = 0; at < this.#length; at++) {
      const node = this.#nodes[at]!;
      const refill = this.#refills[at]! < 0 ? null : this.#refills[at]!;
      if (node >= model.nodes) {
        stops = [];
        tours.push({ tour: node - model.nodes, refillAtStart: refill, stops });
      } else {
        stops.push({
          customer: node % model.customers,
          units: this.#units[at]!,
          minutes: this.#minutes[at]!,
          refillAfter: refill,
        });
      }
    }
    return { tours, cost };
  }

  /**
   * Lays a plan into the tours. A tour that breaks a window, its shift or its tank is left empty.
   * @returns the customers all of whose visits are in place
   */
  load(plan: Plan): Set<number> {
    const routes = this.#routes;
    const { model } = routes;
    const placed = new Set<number>();
    const dropped = new Set<number>();
    for (const { tour, refillAtStart, stops } of plan.tours) {
      const day = model.problem.tours[tour]!.day;
      let last = routes.startOf(tour);
      routes.touch(tour);
      for (const stop of stops) {
        const node = day * model.customers + stop.customer;
        const barred = model.barred !== null && model.barred[stop.customer * model.tours + tour] === 1;
        if (routes.routeOf[node]! >= 0 || barred) {
          dropped.add(stop.customer);
          continue;
        }
        routes.enter(node, last, stop.units, stop.minutes);
        routes.refillAfter[node] = stop.refillAfter ?? -1;
        placed.add(stop.customer);
        last = node;
      }
      routes.refillAfter[routes.startOf(tour)] = refillAtStart ?? -1;
      if (!routes.refresh(tour)) {
        for (const stop of stops) dropped.add(stop.customer);
        routes.clear(tour);
        routes.refresh(tour);
      }
    }
    for (const customer of dropped) placed.delete(customer);
    return placed;
  }
}
