import { BROKEN_LOCK_COST, gapTables } from './gap-tables.js';
import { toClock, toWork } from './model.js';
import type { Customer, Plan, PlannedTour, Problem } from './problem.js';

/** Slack for sums of floating minutes and units that are equal on paper. */
const ROUNDING = 1e-6;

/** One stop as it will run; minutes of the day by the clock. */
export interface ScheduledStop {
  readonly customer: number;
  readonly units: number;
  readonly arrivalMinute: number;
  readonly startMinute: number;
  readonly endMinute: number;
  readonly driveMinutes: number;
  readonly distance: number;
  /** Left in the tank after the stop; below zero where it runs dry. */
  readonly tankUnits: number;
  /** Index of the refill place right after the stop; null for none. */
  readonly refillAfter: number | null;
  /** Begins past the window's end, or on a closed day. */
  readonly missesWindow: boolean;
}

export interface ScheduledTour {
  readonly tour: number;
  readonly stops: readonly ScheduledStop[];
  readonly refillAtStart: number | null;
  readonly finishMinute: number;
  readonly driveMinutes: number;
  readonly distance: number;
  readonly overtimeMinutes: number;
  /** Past the last minute of overtime. */
  readonly exceedsShift: boolean;
  readonly runsDry: boolean;
}

/** The objective by its parts; they sum to `total`. */
export interface CostParts {
  readonly travel: number;
  readonly fixed: number;
  readonly overtime: number;
  /** Holding, lateness and what is left out, less the credit for cover past the horizon. */
  readonly stock: number;
  readonly deviation: number;
  readonly total: number;
}

export interface Evaluation {
  readonly cost: CostParts;
  readonly tours: readonly ScheduledTour[];
  /** Customers whose visits keep a lock no longer. */
  readonly brokenLocks: readonly number[];
  /** True where no window, shift, tank or lock is broken. */
  readonly feasible: boolean;
}

/** Runs one tour by the clock, also one that breaks its windows, so that a change by hand shows what it does. */
export function scheduleTour(problem: Problem, planned: PlannedTour): ScheduledTour {
  const spec = problem.tours[planned.tour]!;
  const { placeCount, distance, minutes } = problem;
  let place = spec.startPlace;
  let work = toWork(spec.pause, spec.openMinute);
  let tank = spec.tankUnitsAtStart;
  let refill = planned.refillAtStart;
  let drivenMinutes = 0;
  let driven = 0;
  let runsDry = false;
  const drive = (to: number) => {
    let legMinutes = 0;
    let legDistance = 0;
    let from = place;
    if (refill !== null) {
      const fill = problem.refillPlaces[refill]!;
      legMinutes += minutes?.[from * placeCount + fill.place] ?? 0;
      legDistance += distance[from * placeCount + fill.place]!;
      work += fill.minutes;
      tank = spec.tankUnits;
      from = fill.place;
    }
    legMinutes += minutes?.[from * placeCount + to] ?? 0;
    legDistance += distance[from * placeCount + to]!;
    work += legMinutes;
    drivenMinutes += legMinutes;
    driven += legDistance;
    place = to;
    return { legMinutes, legDistance };
  };
  const stops = planned.stops.map((stop): ScheduledStop => {
    const customer = problem.customers[stop.customer]!;
    const leg = drive(customer.place);
    const arrivalMinute = toClock(spec.pause, work);
    const window = customer.windows[spec.day]!.find((one) => arrivalMinute <= one.toMinute + ROUNDING);
    if (window !== undefined) work = Math.max(work, toWork(spec.pause, window.fromMinute));
    const startMinute = toClock(spec.pause, work);
    work += stop.minutes;
    if (customer.usesTank) tank -= stop.units;
    if (tank < -ROUNDING) runsDry = true;
    refill = stop.refillAfter;
    return {
      customer: stop.customer,
      units: stop.units,
      arrivalMinute,
      startMinute,
      endMinute: toClock(spec.pause, work),
      driveMinutes: leg.legMinutes,
      distance: leg.legDistance,
      tankUnits: tank,
      refillAfter: stop.refillAfter,
      missesWindow: window === undefined,
    };
  });
  if (stops.length > 0) drive(spec.endPlace);
  const closing = toWork(spec.pause, spec.closeMinute);
  const overtimeMinutes = Math.max(0, work - closing);
  return {
    tour: planned.tour,
    stops,
    refillAtStart: planned.refillAtStart,
    finishMinute: toClock(spec.pause, work),
    driveMinutes: drivenMinutes,
    distance: driven,
    overtimeMinutes,
    exceedsShift: work > toWork(spec.pause, spec.closeMinute + spec.overtimeMinutes) + ROUNDING,
    runsDry,
  };
}

/** Works a plan out by the clock and splits its cost. Independent of how the search keeps its books. */
export function evaluatePlan(problem: Problem, plan: Pick<Plan, 'tours'>): Evaluation {
  const tours = plan.tours.filter((one) => one.stops.length > 0).map((one) => scheduleTour(problem, one));
  let travel = 0;
  let fixed = 0;
  let overtime = 0;
  for (const one of tours) {
    const spec = problem.tours[one.tour]!;
    travel += one.distance * spec.costPerDistance + one.driveMinutes * spec.costPerMinute;
    fixed += spec.fixedCost;
    overtime += one.overtimeMinutes * spec.costPerOvertimeMinute;
  }
  const visits = visitsByCustomer(problem, plan);
  let stock = 0;
  let deviation = 0;
  const brokenLocks: number[] = [];
  problem.customers.forEach((customer, c) => {
    const own = visits[c]!;
    stock += stockCost(problem, customer, own);
    for (const visit of own) deviation += deviationOf(customer, visit);
    if (customer.locks.some((lock) => !own.some((visit) => visit.day === lock.day && keeps(lock.tour, visit.tour)))) {
      brokenLocks.push(c);
    }
  });
  stock += supplyShort(problem, visits);
  const feasible =
    brokenLocks.length === 0 &&
    tours.every((one) => !one.exceedsShift && !one.runsDry && one.stops.every((stop) => !stop.missesWindow));
  const total = travel + fixed + overtime + stock + deviation;
  return { cost: { travel, fixed, overtime, stock, deviation, total }, tours, brokenLocks, feasible };
}

/** One visit of one customer. */
export interface Visit {
  readonly day: number;
  readonly tour: number;
  readonly units: number;
}

/** Each customer's visits in order of days. */
export function visitsByCustomer(problem: Problem, plan: Pick<Plan, 'tours'>): readonly Visit[][] {
  const out: Visit[][] = problem.customers.map(() => []);
  for (const { tour, stops } of plan.tours) {
    for (const { customer, units } of stops) out[customer]!.push({ day: problem.tours[tour]!.day, tour, units });
  }
  for (const one of out) one.sort((a, b) => a.day - b.day);
  return out;
}

function keeps(locked: number | null, tour: number): boolean {
  return locked === null || locked === tour;
}

function deviationOf(customer: Customer, visit: Visit): number {
  if (customer.published === null) return 0;
  const said = customer.published.tourByDay[visit.day]!;
  if (said === visit.tour) return 0;
  return said < 0 ? customer.published.otherDayCost[visit.day]! : customer.published.otherTourCost[visit.day]!;
}

function stockCost(problem: Problem, customer: Customer, visits: readonly Visit[]): number {
  const { demand } = customer;
  const days = problem.dayCount;
  if (demand.kind === 'stock' && demand.policy === 'free') {
    let level = demand.initialUnits;
    let cost = 0;
    for (let day = 0; day < days; day++) {
      const visit = visits.find((one) => one.day === day);
      if (visit !== undefined) {
        level += visit.units;
        cost -= visit.units * (problem.supply?.holdingCost ?? 0) * (days - day);
      } else if (customer.locks.some((lock) => lock.day === day)) cost += BROKEN_LOCK_COST;
      level -= demand.usedUnits[day]!;
      if (level < 0) {
        cost -= level * demand.costPerUnitShort;
        level = 0;
      }
      cost += level * demand.holdingCost;
    }
    return cost;
  }
  const table = gapTables(customer, problem)!;
  const width = days + 1;
  let previous = -1;
  let cost = 0;
  for (const { day } of visits) {
    cost += table.cost[(previous + 1) * width + day]!;
    previous = day;
  }
  return cost + table.cost[(previous + 1) * width + days]!;
}

function supplyShort(problem: Problem, visits: readonly (readonly Visit[])[]): number {
  const { supply } = problem;
  if (supply === null) return 0;
  const given = new Float64Array(problem.dayCount);
  for (const visit of visits.flat()) given[visit.day] = given[visit.day]! + visit.units;
  let level = supply.initialUnits;
  let short = 0;
  for (let day = 0; day < problem.dayCount; day++) {
    level += supply.producedUnits[day]! - given[day]!;
    if (level < 0) short -= level;
  }
  return short * supply.costPerUnitShort;
}
