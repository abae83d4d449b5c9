import { BROKEN_LOCK_COST } from './gap-tables.js';
import { Candidates, type Insertion, publishedCost } from './insertion.js';
import type { Model } from './model.js';
import type { StockDemand } from './problem.js';
import type { Routes } from './routes.js';

/** Slack for sums of units that are equal on paper. */
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
    const best = new Float64Array(days + 2).fill(Number.POSITIVE_INFINITY);
    const from = new Int32Array(days + 2).fill(-1);
    const slot = new Int32Array(days + 2).fill(-1);
    // best[k] is the least cost of a plan whose last visit is on day k - 1; k = 0 is before any visit.
    best[0] = 0;
    for (let day = 0; day < days; day++) {
      let least = Number.POSITIVE_INFINITY;
      let most = 0;
      for (let k = 0; k <= day; k++) {
        if (best[k]! + costs[k * width + day]! === Number.POSITIVE_INFINITY) continue;
        least = Math.min(least, units[k * width + day]!);
        most = Math.max(most, units[k * width + day]!);
      }
      const candidates = this.#byDay[day]!;
      candidates.count = 0;
      if (least === Number.POSITIVE_INFINITY) continue;
      this.#insertion.gather(customer, day, least, most, candidates);
      if (candidates.count === 0) continue;
      for (let k = 0; k <= day; k++) {
        const gap = best[k]! + costs[k * width + day]!;
        if (gap >= best[day + 1]!) continue;
        const amount = units[k * width + day]!;
        for (let c = 0; c < candidates.count; c++) {
          const cost = gap + candidates.cost[c]! + this.#overloadCost(amount, candidates.room[c]!);
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
      this.#commit(customer, k - 1, slot[k]!, units[from[k]! * width + k - 1]!);
    }
  }

  #overloadCost(amount: number, room: number): number {
    const over = amount - Math.max(0, room);
    return over > ROUNDING ? over * this.#routes.overloadCost : 0;
  }

  #commit(customer: number, day: number, slot: number, units: number): void {
    const one = this.#byDay[day]!;
    const node = day * this.#model.customers + customer;
    this.#routes.insert(node, one.after[slot]!, units, one.refillBefore[slot]!, one.refillBehind[slot]!);
  }

  #withFreeAmounts(customer: number, demand: StockDemand): void {
    for (let day = 0; day < this.#model.days; day++) {
      this.#insertion.gather(customer, day, 1, demand.capacityUnits, this.#byDay[day]!);
    }
    for (const visit of this.#free.choose(customer, demand, this.#byDay, this.#routes)) {
      this.#commit(customer, visit.day, visit.slot, visit.units);
    }
  }
}

interface FreeVisit {
  readonly day: number;
  readonly slot: number;
  readonly units: number;
}

/** The dynamic programme over days and whole units of stock. Costs days x tours x capacity steps. */
class FreeAmounts {
  readonly #model: Model;
  readonly #value: Float64Array[];
  readonly #target: Int32Array[];
  readonly #slot: Int32Array[];
  readonly #after: Float64Array;
  readonly #queue: Int32Array;
  readonly #order: number[] = [];

  constructor(model: Model) {
    this.#model = model;
    const most = Math.max(0, ...model.free.map((one) => one?.capacityUnits ?? 0));
    const layer = () => new Float64Array(most + 1);
    this.#value = Array.from({ length: model.days + 1 }, layer);
    this.#target = Array.from({ length: model.days }, () => new Int32Array(most + 1));
    this.#slot = Array.from({ length: model.days }, () => new Int32Array(most + 1));
    this.#after = layer();
    this.#queue = new Int32Array(most + 1);
  }

  price(customer: number, routes: Routes): number {
    const { days, customers, problem } = this.#model;
    const demand = this.#model.free[customer]!;
    const supplyHolding = problem.supply?.holdingCost ?? 0;
    let stock = demand.initialUnits;
    let cost = 0;
    for (let day = 0; day < days; day++) {
      const node = day * customers + customer;
      if (routes.routeOf[node]! >= 0) {
        stock += routes.units[node]!;
        cost -= routes.units[node]! * supplyHolding * (days - day);
      } else if (this.#model.lockOf[customer]?.[day] != null) cost += BROKEN_LOCK_COST;
      stock -= demand.usedUnits[day]!;
      if (stock < 0) {
        cost -= stock * demand.costPerUnitShort;
        stock = 0;
      }
      cost += stock * demand.holdingCost;
    }
    return cost;
  }

  choose(customer: number, demand: StockDemand, byDay: readonly Candidates[], routes: Routes): FreeVisit[] {
    const { days, problem } = this.#model;
    const capacity = demand.capacityUnits;
    const supplyHolding = problem.supply?.holdingCost ?? 0;
    const spare = spareSupply(this.#model, routes);
    this.#value[days]!.fill(0);
    for (let day = days - 1; day >= 0; day--) {
      const used = demand.usedUnits[day]!;
      const later = this.#value[day + 1]!;
      const value = this.#value[day]!;
      const slotOf = this.#slot[day]!;
      const after = this.#after;
      const gain = supplyHolding * (days - day);
      const locked = this.#model.lockOf[customer]?.[day] != null;
      for (let t = 0; t <= capacity; t++) {
        const left = t - used;
        after[t] = left < 0 ? -left * demand.costPerUnitShort + later[0]! : left * demand.holdingCost + later[left]!;
        value[t] = locked ? after[t]! + BROKEN_LOCK_COST : after[t]!;
        slotOf[t] = -1;
      }
      for (let t = 0; t <= capacity; t++) after[t] = after[t]! - gain * t;
      const candidates = byDay[day]!;
      for (const c of this.#undominated(candidates)) {
        const most = Math.min(capacity, Math.floor(spare[day]!));
        const room = Math.max(0, Math.min(most, Math.floor(candidates.room[c]!)));
        const costs = { visit: candidates.cost[c]!, gain, overload: routes.overloadCost };
        if (room > 0) this.#within(capacity, room, costs, c, day);
        if (room < most && routes.overloadCost < Number.POSITIVE_INFINITY) {
          this.#beyond(capacity, room, most, costs, c, day);
        }
      }
    }
    const out: FreeVisit[] = [];
    let stock = demand.initialUnits;
    for (let day = 0; day < days; day++) {
      const slot = this.#slot[day]![stock]!;
      if (slot >= 0) {
        const goal = this.#target[day]![stock]!;
        out.push({ day, slot, units: goal - stock });
        stock = goal;
      }
      stock = Math.max(0, stock - demand.usedUnits[day]!);
    }
    return out;
  }

  /** Candidates that no other beats in both cost and room. */
  #undominated(candidates: Candidates): readonly number[] {
    const order = this.#order;
    order.length = 0;
    for (let c = 0; c < candidates.count; c++) {
      let beaten = false;
      for (let o = 0; o < candidates.count && !beaten; o++) {
        if (o === c || candidates.cost[o]! > candidates.cost[c]! || candidates.room[o]! < candidates.room[c]!) continue;
        beaten = candidates.cost[o]! < candidates.cost[c]! || candidates.room[o]! > candidates.room[c]! || o < c;
      }
      if (!beaten) order.push(c);
    }
    return order;
  }

  /** Least of `after` over (s, s + room] for every s, by a monotone queue; at least one unit is given. */
  #within(capacity: number, room: number, costs: VisitCosts, slot: number, day: number): void {
    const after = this.#after;
    const queue = this.#queue;
    let head = 0;
    let tail = 0;
    for (let s = capacity - 1; s >= 0; s--) {
      const entering = s + 1;
      while (tail > head && after[queue[tail - 1]!]! >= after[entering]!) tail--;
      queue[tail++] = entering;
      while (queue[head]! > s + room) head++;
      const goal = queue[head]!;
      this.#offer(s, goal, costs.visit + costs.gain * s + after[goal]!, slot, day);
    }
  }

  /** The same over (s + room, s + most], where each unit past the room costs. */
  #beyond(capacity: number, room: number, most: number, costs: VisitCosts, slot: number, day: number): void {
    const after = this.#after;
    const queue = this.#queue;
    const priced = (t: number) => after[t]! + costs.overload * t;
    let head = 0;
    let tail = 0;
    for (let s = capacity - 1 - room; s >= 0; s--) {
      const entering = s + room + 1;
      const value = priced(entering);
      while (tail > head && priced(queue[tail - 1]!) >= value) tail--;
      queue[tail++] = entering;
      while (queue[head]! > s + most) head++;
      const goal = queue[head]!;
      this.#offer(s, goal, costs.visit + costs.gain * s + priced(goal) - costs.overload * (s + room), slot, day);
    }
  }

  #offer(stock: number, goal: number, cost: number, slot: number, day: number): void {
    if (cost >= this.#value[day]![stock]!) return;
    this.#value[day]![stock] = cost;
    this.#target[day]![stock] = goal;
    this.#slot[day]![stock] = slot;
  }
}

interface VisitCosts {
  readonly visit: number;
  /** Saved by the supplier for each unit that leaves it. */
  readonly gain: number;
  readonly overload: number;
}

/** Units that may be taken from the supply on each day without leaving it short later. */
function spareSupply(model: Model, routes: Routes): Float64Array {
  const { days, problem } = model;
  const out = new Float64Array(days).fill(Number.POSITIVE_INFINITY);
  if (problem.supply === null) return out;
  let level = problem.supply.initialUnits;
  for (let day = 0; day < days; day++) {
    level += problem.supply.producedUnits[day]! - routes.deliveredOfDay[day]!;
    out[day] = level;
  }
  for (let day = days - 2; day >= 0; day--) out[day] = Math.min(out[day]!, out[day + 1]!);
  return out;
}
