import type { Customer, Problem } from './problem.js';

/** Above any cost that a plan can save: a lock is left only where it cannot be kept. */
export const BROKEN_LOCK_COST = 1e8;

/** Cost, units and minutes at the stop by the day of the visit before (-1 for none) and the day of the next one (`dayCount` for none). */
export interface GapTables {
  /** [(p + 1) * (dayCount + 1) + d]; Infinity where that gap may not be. */
  readonly cost: Float64Array;
  readonly units: Float64Array;
  readonly minutes: Float64Array;
}

/**
 * Works out, once, what it costs one customer to go unvisited from each day to each other day, so that the choice of its
 * visiting days is a shortest path. Null for customers with a free choice of amounts, whose state is the stock itself.
 */
export function gapTables(customer: Customer, problem: Problem): GapTables | null {
  const { demand } = customer;
  const days = problem.dayCount;
  const width = days + 1;
  const cost = new Float64Array(width * width).fill(Number.POSITIVE_INFINITY);
  const units = new Float64Array(width * width);
  const minutes = new Float64Array(width * width);
  if (demand.kind === 'stock' && demand.policy === 'free') return null;
  for (let p = -1; p < days; p++) {
    for (let d = p + 1; d <= days; d++) {
      const at = (p + 1) * width + d;
      const gap = gapOf(customer, problem, p, d);
      cost[at] = gap.cost + locksSkipped(customer, p, d) * BROKEN_LOCK_COST;
      units[at] = gap.units;
      minutes[at] = stopMinutes(customer, gap.units) + gap.extraMinutes;
    }
  }
  return { cost, units, minutes };
}

/** Minutes of a stop that asks for nothing but its units. */
export function stopMinutes(customer: Customer, units: number): number {
  return customer.serviceMinutes + customer.serviceMinutesPerUnit * units;
}

function locksSkipped(customer: Customer, previous: number, next: number): number {
  return customer.locks.filter((lock) => lock.day > previous && lock.day < next).length;
}

interface Gap {
  readonly cost: number;
  readonly units: number;
  readonly extraMinutes: number;
}

function gapOf(customer: Customer, problem: Problem, p: number, d: number): Gap {
  const { demand } = customer;
  const days = problem.dayCount;
  switch (demand.kind) {
    case 'once':
      if (p >= 0) return { cost: d === days ? 0 : Number.POSITIVE_INFINITY, units: 0, extraMinutes: 0 };
      if (d === days) return { cost: demand.unservedCost, units: 0, extraMinutes: 0 };
      return { cost: demand.dayCost[d]!, units: demand.units, extraMinutes: 0 };
    case 'stock': {
      // A visit on day p leaves the pot full; before any visit it holds what it held.
      let stock = p < 0 ? demand.initialUnits : demand.capacityUnits;
      let cost = 0;
      for (let day = Math.max(0, p); day < d; day++) {
        stock -= demand.usedUnits[day]!;
        if (stock < 0) {
          cost -= stock * demand.costPerUnitShort;
          stock = 0;
        }
        cost += stock * demand.holdingCost;
      }
      if (d === days) return { cost, units: 0, extraMinutes: 0 };
      const units = demand.capacityUnits - stock;
      return { cost: cost - units * (problem.supply?.holdingCost ?? 0) * (days - d), units, extraMinutes: 0 };
    }
    case 'risk': {
      const latest = demand.latestDay[p + 1]!;
      if (d < days) {
        const late = Math.max(0, d - latest) * demand.lateCostPerDay;
        const extraMinutes = demand.extraMinutes[p + 1]![d]!;
        const cost = demand.visitCost + extraMinutes * demand.costPerExtraMinute + late;
        return { cost, units: demand.units[p + 1]![d]!, extraMinutes };
      }
      const late = Math.max(0, days - 1 - latest) * demand.lateCostPerDay;
      return { cost: late - demand.endCredit[p + 1]!, units: 0, extraMinutes: 0 };
    }
  }
}
