import { FreeAmounts } from './free-amounts.js';
import { stopMinutes } from './gap-tables.js';
import { Candidates, type Insertion, publishedCost, type StopSize } from './insertion.js';
import type { Model } from './model.js';
import type { StockDemand } from './problem.js';
import type { Routes } from './routes.js';

/** Slack for sums of units and minutes that are equal on paper. */
const ROUNDING = 1e-6;

/**
 * Puts all visits of one customer back in, on the best set of days, with every other customer as it is: a shortest path
 * over days where the amounts follow from the days, a dynamic programme over days and stock where they are free
 * (Zhao, Archetti, Pham and Vidal 2025, arXiv 2506.03172). Exact for what the insertion prices say, since the visits of one
 * customer lie on different days and so on different tours.
 */
export class Reinsertion {
  readonly #model: Model;
  readonly #routes: Routes;
  readonly #insertion: Insertion;
  readonly #byDay: Candidates[];
  /** Gap costs and publication costs of each customer's visits as they are now. */
  readonly customerCost: Float64Array;
  readonly #free: FreeAmounts;
  readonly #size: StopSize = { leastUnits: 0, leastMinutes: 0, mostUnits: 0, minutes: 0 };

  constructor(routes: Routes, insertion: Insertion) {
    const { model } = routes;
    this.#model = model;
    this.#routes = routes;
    this.#insertion = insertion;
    const width = Math.max(1, ...model.toursOfDay.map((one) => one.length));
    this.#byDay = Array.from({ length: model.days }, () => new Candidates(width));
    this.customerCost = new Float64Array(model.customers);
    this.#free = new FreeAmounts(model);
  }

  /** Takes out all visits of a customer; the caller refreshes the tours. */
  removeAll(customer: number): void {
    const { days, customers } = this.#model;
    for (let day = 0; day < days; day++) {
      const node = day * customers + customer;
      if (this.#routes.routeOf[node]! >= 0) this.#routes.remove(node);
    }
  }

  /** What the visits of a customer cost beside their tours: holding, lateness, leaving the published plan, credit. */
  priceCustomer(customer: number): number {
    const { days, customers, gapCost } = this.#model;
    const { routeOf } = this.#routes;
    const table = gapCost[customer];
    let cost = 0;
    let previous = -1;
    for (let day = 0; day < days; day++) {
      const tour = routeOf[day * customers + customer]!;
      if (tour < 0) continue;
      cost += publishedCost(this.#model, customer, day, tour);
      if (table != null) cost += table[(previous + 1) * (days + 1) + day]!;
      previous = day;
    }
    if (table != null) return cost + table[(previous + 1) * (days + 1) + days]!;
    return cost + this.#free.price(customer, this.#routes);
  }

  /** Inserts the customer's visits; leaves it unvisited where that is cheapest or nothing fits. */
  reinsert(customer: number): void {
    if (this.#model.free[customer] === null) this.#alongGaps(customer);
    else this.#withFreeAmounts(customer, this.#model.free[customer]!);
    this.customerCost[customer] = this.priceCustomer(customer);
  }

  #alongGaps(customer: number): void {
    const { days } = this.#model;
    const width = days + 1;
    const costs = this.#model.gapCost[customer]!;
    const units = this.#model.gapUnits[customer]!;
    const minutes = this.#model.gapMinutes[customer]!;
    const size = this.#size;
    const best = new Float64Array(days + 2).fill(Number.POSITIVE_INFINITY);
    const from = new Int32Array(days + 2).fill(-1);
    const slot = new Int32Array(days + 2).fill(-1);
    // best[k] is the least cost of a plan whose last visit is on day k - 1; k = 0 is before any visit.
    best[0] = 0;
    for (let day = 0; day < days; day++) {
      size.leastUnits = Number.POSITIVE_INFINITY;
      size.leastMinutes = Number.POSITIVE_INFINITY;
      size.mostUnits = 0;
      let cheapest = Number.POSITIVE_INFINITY;
      for (let k = 0; k <= day; k++) {
        const gap = best[k]! + costs[k * width + day]!;
        if (gap === Number.POSITIVE_INFINITY) continue;
        size.leastUnits = Math.min(size.leastUnits, units[k * width + day]!);
        size.mostUnits = Math.max(size.mostUnits, units[k * width + day]!);
        size.leastMinutes = Math.min(size.leastMinutes, minutes[k * width + day]!);
        if (gap < cheapest) {
          cheapest = gap;
          size.minutes = minutes[k * width + day]!;
        }
      }
      const candidates = this.#byDay[day]!;
      candidates.count = 0;
      if (cheapest === Number.POSITIVE_INFINITY) continue;
      this.#insertion.gather(customer, day, size, candidates);
      if (candidates.count === 0) continue;
      for (let k = 0; k <= day; k++) {
        const gap = best[k]! + costs[k * width + day]!;
        if (gap >= best[day + 1]!) continue;
        const amount = units[k * width + day]!;
        const longer = minutes[k * width + day]! - size.minutes;
        for (let c = 0; c < candidates.count; c++) {
          if (longer > candidates.spareMinutes[c]! + ROUNDING) continue;
          const cost =
            gap +
            candidates.cost[c]! +
            this.#overloadCost(amount, candidates.room[c]!) +
            this.#overtimeCost(longer, candidates.paidMinutes[c]!, candidates.tour[c]!);
          if (cost < best[day + 1]!) {
            best[day + 1] = cost;
            from[day + 1] = k;
            slot[day + 1] = c;
          }
        }
      }
    }
    let end = 0;
    let least = Number.POSITIVE_INFINITY;
    for (let k = 0; k <= days; k++) {
      const cost = best[k]! + costs[k * width + days]!;
      if (cost < least) {
        least = cost;
        end = k;
      }
    }
    for (let k = end; k > 0; k = from[k]!) {
      const at = from[k]! * width + k - 1;
      this.#commit(customer, k - 1, slot[k]!, units[at]!, minutes[at]!);
    }
  }

  #overloadCost(amount: number, room: number): number {
    const over = amount - Math.max(0, room);
    return over > ROUNDING ? over * this.#routes.overloadCost : 0;
  }

  /** Of a stop that lasts longer (or less long) than it was priced at. */
  #overtimeCost(longer: number, paidMinutes: number, tour: number): number {
    if (longer === 0 || paidMinutes === Number.POSITIVE_INFINITY) return 0;
    const more = Math.max(0, longer - paidMinutes) - Math.max(0, -paidMinutes);
    return more * this.#model.problem.tours[tour]!.costPerOvertimeMinute;
  }

  #commit(customer: number, day: number, slot: number, units: number, minutes: number): void {
    const one = this.#byDay[day]!;
    const node = day * this.#model.customers + customer;
    this.#routes.insert(node, one.after[slot]!, units, minutes, one.refillBefore[slot]!, one.refillBehind[slot]!);
  }

  #withFreeAmounts(customer: number, demand: StockDemand): void {
    const one = this.#model.problem.customers[customer]!;
    const size = this.#size;
    size.leastUnits = 1;
    size.mostUnits = demand.capacityUnits;
    size.leastMinutes = stopMinutes(one, 1);
    // The amount is chosen afterwards: there has to be time for the largest.
    size.minutes = stopMinutes(one, demand.capacityUnits);
    for (let day = 0; day < this.#model.days; day++) this.#insertion.gather(customer, day, size, this.#byDay[day]!);
    for (const { day, slot, units } of this.#free.choose(customer, demand, this.#byDay, this.#routes)) {
      this.#commit(customer, day, slot, units, stopMinutes(one, units));
    }
  }
}
