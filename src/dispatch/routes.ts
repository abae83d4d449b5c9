import type { Model } from './model.js';
import { placeRefills } from './refill-placement.js';

/** Slack for sums of floating minutes and units that are equal on paper. */
const ROUNDING = 1e-6;

/**
 * The tours of a plan under search: linked lists over the nodes of a model, with what is needed to price an insertion in
 * constant time: earliest and latest start of service, the load on either side, and the finish as a function of the start
 * (max of a floor and start + remaining work; Vidal et al. 2013 concatenate segments in the same way). Times are working
 * minutes. Every change is logged until `keep()`, and `undo()` takes it back.
 */
export class Routes {
  readonly model: Model;
  readonly next: Int32Array;
  readonly prev: Int32Array;
  /** Tour of each (day, customer) node, -1 where there is no visit. */
  readonly routeOf: Int32Array;
  readonly units: Float64Array;
  /** What each node takes from the tank. */
  readonly load: Float64Array;
  readonly service: Float64Array;
  /** Refill place on the leg after each node, -1 for none. */
  readonly refillAfter: Int32Array;
  readonly early: Float64Array;
  readonly late: Float64Array;
  readonly restWork: Float64Array;
  readonly restFloor: Float64Array;
  readonly loadTo: Float64Array;
  readonly loadFrom: Float64Array;
  readonly segmentCap: Float64Array;
  readonly tourLoad: Float64Array;
  readonly tourCost: Float64Array;
  readonly tourCount: Int32Array;
  readonly tourRefills: Int32Array;
  readonly tourFinish: Float64Array;
  readonly visitsOfDay: Int32Array;
  /** Delivered by day, where a supply is counted. */
  readonly deliveredOfDay: Float64Array;
  /** 1: this node must stay first on its tour; 2: last. */
  readonly pinned: Uint8Array;
  /** Sum of all tours' costs. */
  cost = 0;
  /** Units by which tanks are overloaded, over all tours. */
  overload = 0;
  /** What the search pays for a unit of overload while it goes through plans that overload; Infinity: it never does. */
  overloadCost = Number.POSITIVE_INFINITY;
  readonly #tourOverload: Float64Array;
  readonly #touched: Int32Array;
  #touchedCount = 0;
  readonly #isTouched: Uint8Array;
  readonly #log: number[] = [];

  constructor(model: Model) {
    const { nodes, tours, days } = model;
    const size = nodes + 2 * tours;
    this.model = model;
    this.next = new Int32Array(size).fill(-1);
    this.prev = new Int32Array(size).fill(-1);
    this.routeOf = new Int32Array(size).fill(-1);
    this.units = new Float64Array(size);
    this.load = new Float64Array(size);
    this.service = new Float64Array(size);
    this.refillAfter = new Int32Array(size).fill(-1);
    this.early = new Float64Array(size);
    this.late = new Float64Array(size);
    this.restWork = new Float64Array(size);
    this.restFloor = new Float64Array(size);
    this.loadTo = new Float64Array(size);
    this.loadFrom = new Float64Array(size);
    this.segmentCap = new Float64Array(size);
    this.tourLoad = new Float64Array(tours);
    this.tourCost = new Float64Array(tours);
    this.tourCount = new Int32Array(tours);
    this.tourRefills = new Int32Array(tours);
    this.tourFinish = new Float64Array(tours);
    this.#tourOverload = new Float64Array(tours);
    this.visitsOfDay = new Int32Array(days);
    this.deliveredOfDay = new Float64Array(days);
    this.pinned = new Uint8Array(size);
    this.#touched = new Int32Array(tours);
    this.#isTouched = new Uint8Array(tours);
    for (let t = 0; t < tours; t++) {
      this.routeOf[nodes + t] = t;
      this.routeOf[nodes + tours + t] = t;
      this.link(nodes + t, nodes + tours + t);
      this.refresh(t);
    }
  }

  startOf(tour: number): number {
    return this.model.nodes + tour;
  }

  endOf(tour: number): number {
    return this.model.nodes + this.model.tours + tour;
  }

  /** Logs a tour before its first change since `keep()`. */
  touch(tour: number): void {
    if (this.#isTouched[tour] === 1) return;
    this.#isTouched[tour] = 1;
    this.#touched[this.#touchedCount++] = tour;
    const start = this.startOf(tour);
    const end = this.endOf(tour);
    this.#log.push(tour, this.refillAfter[start]!, this.tourCount[tour]!);
    for (let node = this.next[start]!; node !== end; node = this.next[node]!) {
      this.#log.push(node, this.units[node]!, this.service[node]!, this.load[node]!, this.refillAfter[node]!);
    }
  }

  keep(): void {
    for (let k = 0; k < this.#touchedCount; k++) this.#isTouched[this.#touched[k]!] = 0;
    this.#touchedCount = 0;
    this.#log.length = 0;
  }

  undo(): void {
    for (let k = 0; k < this.#touchedCount; k++) this.clear(this.#touched[k]!);
    let at = 0;
    const log = this.#log;
    while (at < log.length) {
      const tour = log[at]!;
      this.refillAfter[this.startOf(tour)] = log[at + 1]!;
      const count = log[at + 2]!;
      at += 3;
      let last = this.startOf(tour);
      for (let k = 0; k < count; k++, at += 5) {
        const node = log[at]!;
        this.#enter(node, tour, log[at + 1]!, log[at + 2]!, log[at + 3]!);
        this.refillAfter[node] = log[at + 4]!;
        this.link(last, node);
        last = node;
      }
      this.link(last, this.endOf(tour));
      this.refresh(tour);
    }
    this.keep();
  }

  /** Empties a tour without logging it and without refreshing its figures. */
  clear(tour: number): void {
    const end = this.endOf(tour);
    for (let node = this.next[this.startOf(tour)]!; node !== end; ) {
      const after = this.next[node]!;
      this.#leave(node);
      node = after;
    }
    this.refillAfter[this.startOf(tour)] = -1;
    this.link(this.startOf(tour), end);
  }

  link(before: number, after: number): void {
    this.next[before] = after;
    this.prev[after] = before;
  }

  #enter(node: number, tour: number, units: number, service: number, load: number): void {
    const { customers, lockOf } = this.model;
    this.routeOf[node] = tour;
    this.units[node] = units;
    this.service[node] = service;
    this.load[node] = load;
    const day = (node / customers) | 0;
    this.visitsOfDay[day] = this.visitsOfDay[day]! + 1;
    this.deliveredOfDay[day] = this.deliveredOfDay[day]! + units;
    const position = lockOf[node % customers]?.[day]?.position;
    this.pinned[node] = position === 'first' ? 1 : position === 'last' ? 2 : 0;
  }

  #leave(node: number): void {
    const day = (node / this.model.customers) | 0;
    this.routeOf[node] = -1;
    this.visitsOfDay[day] = this.visitsOfDay[day]! - 1;
    this.deliveredOfDay[day] = this.deliveredOfDay[day]! - this.units[node]!;
    this.refillAfter[node] = -1;
  }

  /** Puts a visit right after a node, with refills on the legs before and after it (-1 for none), and refreshes the tour. */
  insert(
    node: number,
    after: number,
    units: number,
    minutes: number,
    refillBefore: number,
    refillBehind: number,
  ): void {
    const tour = this.routeOf[after]!;
    this.touch(tour);
    this.enter(node, after, units, minutes);
    this.refillAfter[after] = refillBefore;
    this.refillAfter[node] = refillBehind;
    this.refresh(tour);
    this.improveRefills(tour);
  }

  /** Links a visit in right after a node; the caller sees to the refills and refreshes the tour. */
  enter(node: number, after: number, units: number, minutes: number): void {
    const { usesTank } = this.model.problem.customers[node % this.model.customers]!;
    const following = this.next[after]!;
    this.#enter(node, this.routeOf[after]!, units, minutes, usesTank ? units : 0);
    this.link(after, node);
    this.link(node, following);
  }

  /** Takes a visit out; the caller refreshes its tour, or has it done by `refreshTouched`. */
  remove(node: number): void {
    const tour = this.routeOf[node]!;
    this.touch(tour);
    const before = this.prev[node]!;
    // A fill on either leg stays, on the joined one.
    if (this.refillAfter[before] === -1) this.refillAfter[before] = this.refillAfter[node]!;
    this.link(before, this.next[node]!);
    this.#leave(node);
  }

  refreshTouched(): void {
    for (let k = 0; k < this.#touchedCount; k++) {
      const tour = this.#touched[k]!;
      this.refresh(tour);
      this.improveRefills(tour);
    }
  }

  /** Looks for the cheapest refill stops of a tour that has any, and keeps the old ones where the new ones come too late. */
  improveRefills(tour: number): void {
    if (this.tourRefills[tour] === 0) return;
    const old: number[] = [];
    const end = this.endOf(tour);
    for (let node = this.startOf(tour); node !== end; node = this.next[node]!) old.push(this.refillAfter[node]!);
    const before = this.tourCost[tour]!;
    if (placeRefills(this, tour) && this.refresh(tour) && this.tourCost[tour]! <= before + ROUNDING) return;
    let k = 0;
    for (let node = this.startOf(tour); node !== end; node = this.next[node]!) this.refillAfter[node] = old[k++]!;
    this.refresh(tour);
  }

  /**
   * Recomputes a tour's figures from its sequence.
   * @returns false where a window, the shift or the tank is broken
   */
  refresh(tour: number): boolean {
    const { model, next, prev, early, late, service, load, loadTo, loadFrom, segmentCap, refillAfter } = this;
    const { placeOf, places, timed, problem } = model;
    const spec = problem.tours[tour]!;
    const costs = model.arcCosts[model.costClassOf[tour]!]!;
    const { minutes } = model;
    const start = this.startOf(tour);
    const end = this.endOf(tour);
    let cost = 0;
    let total = 0;
    let count = 0;
    let refills = 0;
    let feasible = true;
    let cap = spec.tankUnitsAtStart;
    early[start] = model.openWork[tour]!;
    loadTo[start] = 0;
    segmentCap[start] = cap;
    let node = start;
    while (node !== end) {
      const after = next[node]!;
      const from = placeOf[node]! * places;
      const to = placeOf[after]!;
      const refill = refillAfter[node]!;
      let leg: number;
      if (refill < 0) {
        cost += costs[from + to]!;
        leg = timed ? minutes[from + to]! : 0;
        loadTo[after] = loadTo[node]! + load[after]!;
      } else {
        const place = problem.refillPlaces[refill]!;
        cost += costs[from + place.place]! + costs[place.place * places + to]!;
        leg = timed ? minutes[from + place.place]! + place.minutes + minutes[place.place * places + to]! : 0;
        loadTo[after] = load[after]!;
        cap = spec.tankUnits;
        refills++;
      }
      segmentCap[after] = cap;
      if (loadTo[after]! > cap + ROUNDING) feasible = false;
      if (timed) {
        const arrival = early[node]! + service[node]! + leg;
        if (after === end) {
          early[end] = arrival;
          if (arrival > model.lastWork[tour]! + ROUNDING) feasible = false;
        } else {
          const opening = this.nextOpen(tour, after, arrival);
          early[after] = opening;
          if (opening === Number.POSITIVE_INFINITY) feasible = false;
        }
      }
      if (after !== end) {
        total += load[after]!;
        count++;
      }
      node = after;
    }
    loadFrom[end] = 0;
    if (timed) {
      late[end] = model.lastWork[tour]!;
      this.restWork[end] = 0;
      this.restFloor[end] = 0;
    }
    while (node !== start) {
      const before = prev[node]!;
      const refill = refillAfter[before]!;
      loadFrom[before] = load[before]! + (refill < 0 ? loadFrom[node]! : 0);
      if (timed) {
        const from = placeOf[before]! * places;
        const to = placeOf[node]!;
        let leg = minutes[from + to]!;
        if (refill >= 0) {
          const place = problem.refillPlaces[refill]!;
          leg = minutes[from + place.place]! + place.minutes + minutes[place.place * places + to]!;
        }
        const work = service[before]! + leg;
        this.restWork[before] = work + this.restWork[node]!;
        const latest = late[node]! - work;
        if (before === start) {
          late[start] = latest;
          this.restFloor[start] = Math.max(this.restFloor[node]!, model.openWork[tour]! + this.restWork[start]!);
        } else {
          late[before] = this.lastStart(tour, before, latest);
          const open = model.firstOpen[model.pauseClassOf[tour]! * model.nodes + before]!;
          this.restFloor[before] = Math.max(this.restFloor[node]!, open + this.restWork[before]!);
        }
      }
      node = before;
    }
    const finish = timed ? early[end]! : 0;
    if (count > 0) {
      cost += spec.fixedCost;
      // A tour that comes too late for a window never ends: its cost stays a number, since all costs are one running sum.
      if (timed && finish < Number.POSITIVE_INFINITY && finish > model.closeWork[tour]!) {
        cost += (finish - model.closeWork[tour]!) * spec.costPerOvertimeMinute;
      }
    } else {
      cost = 0;
    }
    this.tourLoad[tour] = total;
    this.tourCount[tour] = count;
    this.tourRefills[tour] = refills;
    this.tourFinish[tour] = finish;
    const overload = refills === 0 ? Math.max(0, total - spec.tankUnitsAtStart) : 0;
    this.overload += overload - this.#tourOverload[tour]!;
    this.#tourOverload[tour] = overload;
    this.cost += cost - this.tourCost[tour]!;
    this.tourCost[tour] = cost;
    return feasible;
  }

  /** Earliest start of service at or after `minute`; Infinity where the place stays closed. */
  nextOpen(tour: number, node: number, minute: number): number {
    const { model } = this;
    const at = model.pauseClassOf[tour]! * model.nodes + node;
    if (minute > model.lastClose[at]! + ROUNDING) return Number.POSITIVE_INFINITY;
    if (minute <= model.firstOpen[at]!) return model.firstOpen[at]!;
    const several = model.severalWindows.get(at);
    if (several === undefined) return minute;
    for (let k = 0; k < several.length; k += 2) {
      if (minute <= several[k + 1]! + ROUNDING) return Math.max(minute, several[k]!);
    }
    return Number.POSITIVE_INFINITY;
  }

  /** Latest start of service at or before `minute`; -Infinity where the place is not open by then. */
  lastStart(tour: number, node: number, minute: number): number {
    const { model } = this;
    const at = model.pauseClassOf[tour]! * model.nodes + node;
    if (minute >= model.lastClose[at]!) return model.lastClose[at]!;
    if (minute < model.firstOpen[at]! - ROUNDING) return Number.NEGATIVE_INFINITY;
    const several = model.severalWindows.get(at);
    if (several === undefined) return minute;
    for (let k = several.length - 2; k >= 0; k -= 2) {
      if (minute >= several[k]! - ROUNDING) return Math.min(minute, several[k + 1]!);
    }
    return Number.NEGATIVE_INFINITY;
  }
}
