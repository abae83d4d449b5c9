import { BROKEN_LOCK_COST } from './gap-tables.js';
import type { Candidates } from './insertion.js';
import type { Model } from './model.js';
import type { StockDemand } from './problem.js';
import type { Routes } from './routes.js';

export interface FreeVisit {
  readonly day: number;
  readonly slot: number;
  readonly units: number;
}

/** The dynamic programme over days and whole units of stock. Costs days x tours x capacity steps. */
export class FreeAmounts {
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

  /** What the customer's stock costs with its visits as they are. */
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

  /** The visits of the least cost; none where that is leaving the customer alone. */
  choose(customer: number, demand: StockDemand, byDay: readonly Candidates[], routes: Routes): FreeVisit[] {
    const { days } = this.#model;
    const capacity = demand.capacityUnits;
    const spare = spareSupply(this.#model, routes);
    this.#value[days]!.fill(0);
    for (let day = days - 1; day >= 0; day--) {
      // Stocks that can stand there before the visit: what was left after the day before.
      const least = day === 0 ? demand.initialUnits : 0;
      const most = day === 0 ? demand.initialUnits : Math.max(0, capacity - demand.usedUnits[day - 1]!);
      const gain = (this.#model.problem.supply?.holdingCost ?? 0) * (days - day);
      this.#withoutVisit(customer, demand, day, least, most, gain);
      const limit = Math.min(capacity, Math.floor(spare[day]!));
      if (limit < 1) continue;
      const candidates = byDay[day]!;
      for (const c of this.#undominated(candidates, routes.overloadCost)) {
        const room = Math.max(0, Math.min(limit, Math.floor(candidates.room[c]!)));
        const visit = { day, slot: c, cost: candidates.cost[c]!, gain, least, most, capacity };
        if (room > 0) this.#slide(visit, 0, room, 0);
        if (room < limit && routes.overloadCost < Number.POSITIVE_INFINITY) {
          this.#slide(visit, room, limit, routes.overloadCost);
        }
      }
    }
    return this.#trace(demand);
  }

  /** Values of leaving the customer alone on a day, and in `after` those of each stock after a visit, less the supplier's gain. */
  #withoutVisit(customer: number, demand: StockDemand, day: number, least: number, most: number, gain: number): void {
    const used = demand.usedUnits[day]!;
    const later = this.#value[day + 1]!;
    const value = this.#value[day]!;
    const after = this.#after;
    const lock = this.#model.lockOf[customer]?.[day] == null ? 0 : BROKEN_LOCK_COST;
    for (let t = least; t <= demand.capacityUnits; t++) {
      const left = t - used;
      const cost = left < 0 ? -left * demand.costPerUnitShort + later[0]! : left * demand.holdingCost + later[left]!;
      after[t] = cost - gain * t;
      if (t <= most) value[t] = cost + lock;
    }
    this.#slot[day]!.fill(-1, least, most + 1);
  }

  #trace(demand: StockDemand): FreeVisit[] {
    const out: FreeVisit[] = [];
    let stock = demand.initialUnits;
    for (let day = 0; day < this.#model.days; day++) {
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

  /** Candidates that no other undercuts, even where the other has to be overloaded for the difference in room. */
  #undominated(candidates: Candidates, overloadCost: number): readonly number[] {
    const order = this.#order;
    const { count, cost, room } = candidates;
    order.length = 0;
    for (let c = 0; c < count; c++) {
      const own = Math.max(0, room[c]!);
      let beaten = false;
      for (let o = 0; o < count && !beaten; o++) {
        if (o === c) continue;
        const lacks = own - Math.max(0, room[o]!);
        const instead = cost[o]! + (lacks > 0 ? lacks * overloadCost : 0);
        beaten = instead < cost[c]! || (instead === cost[c]! && (lacks < 0 || o < c));
      }
      if (!beaten) order.push(c);
    }
    return order;
  }

  /**
   * Offers, for every stock s, the best goal in (s + from, s + upTo] where each unit past `from` costs `slope`: by a
   * monotone queue, or a running minimum where the window is open above.
   */
  #slide(visit: VisitTerms, from: number, upTo: number, slope: number): void {
    const { capacity, least, most, slot, day } = visit;
    const after = this.#after;
    const queue = this.#queue;
    const value = this.#value[day]!;
    const target = this.#target[day]!;
    const slotOf = this.#slot[day]!;
    const open = upTo >= capacity;
    let head = 0;
    let tail = 0;
    let goal = -1;
    let best = Number.POSITIVE_INFINITY;
    const first = open ? capacity - 1 - from : Math.min(capacity - 1 - from, most + upTo - from - 1);
    for (let s = first; s >= least; s--) {
      const entering = s + from + 1;
      const priced = after[entering]! + slope * entering;
      if (open) {
        if (priced < best) {
          best = priced;
          goal = entering;
        }
      } else {
        while (tail > head && after[queue[tail - 1]!]! + slope * queue[tail - 1]! >= priced) tail--;
        queue[tail++] = entering;
        if (s > most) continue;
        while (queue[head]! > s + upTo) head++;
        goal = queue[head]!;
        best = after[goal]! + slope * goal;
      }
      if (s > most) continue;
      const cost = visit.cost + visit.gain * s + best - slope * (s + from);
      if (cost < value[s]!) {
        value[s] = cost;
        target[s] = goal;
        slotOf[s] = slot;
      }
    }
  }
}

interface VisitTerms {
  readonly day: number;
  readonly slot: number;
  readonly cost: number;
  /** Saved by the supplier for each unit that leaves it. */
  readonly gain: number;
  /** Stocks before the visit that count. */
  readonly least: number;
  readonly most: number;
  readonly capacity: number;
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
