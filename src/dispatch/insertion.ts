import type { Rng } from '../domain/ports/clock.js';
import type { Model } from './model.js';
import { cheapestRefill } from './refill-placement.js';
import type { Routes } from './routes.js';

/** Slack for sums of floating minutes and units that are equal on paper. */
const ROUNDING = 1e-6;
/** What a detour may save at most, where legs do not keep the triangle inequality: rounded ones, or a routing engine's. */
const SHORTCUT_MINUTES = 1;
/** On a day with more visits than this, only the legs beside near customers are tried at first. */
const FULL_SCAN_VISITS = 160;
/** Near customers whose legs are tried on such a day. */
const NEAR_LEGS = 60;

/** The best place on each tour of one day for one customer. */
export class Candidates {
  count = 0;
  readonly tour: Int32Array;
  readonly cost: Float64Array;
  /** Units that the tour can still take there. */
  readonly room: Float64Array;
  /** Minutes that the stop may last beyond those that it was priced at, all in all and before they are overtime. */
  readonly spareMinutes: Float64Array;
  readonly paidMinutes: Float64Array;
  readonly after: Int32Array;
  readonly refillBefore: Int32Array;
  readonly refillBehind: Int32Array;

  constructor(size: number) {
    this.tour = new Int32Array(size);
    this.cost = new Float64Array(size);
    this.room = new Float64Array(size);
    this.spareMinutes = new Float64Array(size);
    this.paidMinutes = new Float64Array(size);
    this.after = new Int32Array(size);
    this.refillBefore = new Int32Array(size);
    this.refillBehind = new Int32Array(size);
  }
}

/** What a stop may ask for on a day, by the visits before it. */
export interface StopSize {
  /** Tours with less room or time are passed over. */
  leastUnits: number;
  leastMinutes: number;
  /** What refills on the way have to provide for. */
  mostUnits: number;
  /** What the stop is priced at; how much longer it may last is told with the price. */
  minutes: number;
}

/** Prices insertions against the present tours; the buffers are reused from call to call. */
export class Insertion {
  readonly #model: Model;
  readonly #routes: Routes;
  readonly #rng: Rng;
  readonly #slotOf: Int32Array;
  /** Chance that a leg is overlooked (the "blinks" of Christiaens and Vanden Berghe 2020). */
  blinkRate = 0;
  /** Share of its true price at which an empty tour is offered: below 1 now and then, since one customer alone seldom pays for it. */
  openingShare = 1;
  readonly #pinsPositions: boolean;

  constructor(routes: Routes, rng: Rng) {
    this.#routes = routes;
    this.#model = routes.model;
    this.#rng = rng;
    this.#slotOf = new Int32Array(routes.model.tours).fill(-1);
    this.#pinsPositions = routes.model.problem.customers.some((one) =>
      one.locks.some((lock) => lock.position !== null),
    );
  }

  /**
   * Fills `out` with the cheapest place on each tour of `day` that can take the customer.
   */
  gather(customer: number, day: number, size: StopSize, out: Candidates): void {
    const model = this.#model;
    out.count = 0;
    const windows = model.problem.customers[customer]!.windows[day]!;
    if (windows.length === 0) return;
    const lock = model.lockOf[customer]?.[day] ?? null;
    if (lock !== null && lock.tour !== null) {
      this.#tryTour(customer, day, lock.tour, size, out);
      this.#release(out);
      return;
    }
    if (this.#routes.visitsOfDay[day]! > FULL_SCAN_VISITS) {
      this.#tryNear(customer, day, size, out);
      if (out.count === 0) this.#tryAll(customer, day, size, out);
    } else {
      this.#tryAll(customer, day, size, out);
    }
    this.#tryEmpty(customer, day, size, out);
    this.#release(out);
  }

  #release(out: Candidates): void {
    for (let k = 0; k < out.count; k++) this.#slotOf[out.tour[k]!] = -1;
  }

  #tryAll(customer: number, day: number, size: StopSize, out: Candidates): void {
    for (const tour of this.#model.toursOfDay[day]!) {
      if (this.#routes.tourCount[tour]! > 0) this.#tryTour(customer, day, tour, size, out);
    }
  }

  #tryNear(customer: number, day: number, size: StopSize, out: Candidates): void {
    const { near, nearCount, customers } = this.#model;
    const { routeOf, prev } = this.#routes;
    const last = Math.min(NEAR_LEGS, nearCount);
    for (let k = 0; k < last; k++) {
      const node = day * customers + near[customer * nearCount + k]!;
      const tour = routeOf[node]!;
      if (tour >= 0) this.#scan(customer, day, tour, prev[node]!, 2, size, out);
    }
  }

  /** One empty tour of each class of like tours. */
  #tryEmpty(customer: number, day: number, size: StopSize, out: Candidates): void {
    const { tourCount } = this.#routes;
    for (const alike of this.#model.classesOfDay[day]!) {
      for (const tour of alike) {
        if (tourCount[tour] === 0) {
          this.#tryTour(customer, day, tour, size, out);
          break;
        }
      }
    }
  }

  #tryTour(customer: number, day: number, tour: number, size: StopSize, out: Candidates): void {
    if (this.#isFull(tour, size.leastMinutes)) return;
    this.#scan(customer, day, tour, this.#routes.startOf(tour), Number.POSITIVE_INFINITY, size, out);
  }

  /** True where the work of the tour, without any waiting, leaves no room in its longest day for the minutes at the site. */
  #isFull(tour: number, leastMinutes: number): boolean {
    const { timed, openWork, lastWork } = this.#model;
    if (!timed || this.#routes.tourCount[tour] === 0) return false;
    const work = this.#routes.restWork[this.#routes.startOf(tour)]!;
    const left = lastWork[tour]! - openWork[tour]! - work;
    return leastMinutes > left + SHORTCUT_MINUTES;
  }

  /** Tries `legs` legs of a tour from the one behind `first` on. */
  #scan(
    customer: number,
    day: number,
    tour: number,
    first: number,
    legs: number,
    size: StopSize,
    out: Candidates,
  ): void {
    const model = this.#model;
    if (model.barred !== null && model.barred[customer * model.tours + tour] === 1) return;
    const routes = this.#routes;
    const spec = model.problem.tours[tour]!;
    const usesTank = model.problem.customers[customer]!.usesTank;
    const room = usesTank ? spec.tankUnitsAtStart - routes.tourLoad[tour]! : Number.POSITIVE_INFINITY;
    if (spec.mayRefill && model.refills && usesTank && (routes.tourRefills[tour]! > 0 || room < size.mostUnits)) {
      this.#scanWithRefills(customer, day, tour, first, legs, size, out);
      return;
    }
    if (room < size.leastUnits - ROUNDING && routes.overloadCost === Number.POSITIVE_INFINITY) return;
    const { next, early, late, service, restWork, restFloor, refillAfter, pinned } = routes;
    const { placeOf, places, timed, minutesInto, minutes } = model;
    const class_ = model.costClassOf[tour]!;
    const costs = model.arcCosts[class_]!;
    const costsInto = model.arcCostsInto[class_]!;
    const node = day * model.customers + customer;
    const place = placeOf[node]!;
    const row = place * places;
    const end = routes.endOf(tour);
    const extra = this.#extraCost(customer, day, tour);
    const at = model.pauseClassOf[tour]! * model.nodes + node;
    const open = model.firstOpen[at]!;
    const close = model.lastClose[at]!;
    const several = model.severalWindows.has(at);
    const spent = size.minutes;
    const overtimeCost = spec.costPerOvertimeMinute;
    const closing = model.closeWork[tour]!;
    const paidOvertime = timed && overtimeCost > 0 ? Math.max(0, routes.tourFinish[tour]! - closing) : 0;
    const position = model.lockOf[customer]?.[day]?.position ?? null;
    const blink = this.blinkRate;
    const rng = this.#rng;
    const slot = this.#slotOf[tour]!;
    let best = slot >= 0 ? out.cost[slot]! - extra : Number.POSITIVE_INFINITY;
    let bestAfter = -1;
    let spare = Number.POSITIVE_INFINITY;
    let paid = Number.POSITIVE_INFINITY;
    let i = first;
    for (let k = 0; k < legs && i !== end; k++) {
      const before = i;
      const j = next[i]!;
      i = j;
      if (this.#pinsPositions) {
        if (pinned[before] === 2 || pinned[j] === 1) continue;
        if ((position === 'first' && before < model.nodes) || (position === 'last' && j !== end)) continue;
      }
      if (blink > 0 && rng() < blink) continue;
      const from = placeOf[before]!;
      const to = placeOf[j]!;
      let cost = costsInto[row + from]! + costs[row + to]! - costs[from * places + to]!;
      const refill = refillAfter[before]!;
      if (refill >= 0) {
        // The customer that uses no tank water goes before the fill.
        const fill = model.problem.refillPlaces[refill]!;
        const via = fill.place;
        cost = costsInto[row + from]! + costs[row + via]! - costs[from * places + via]!;
      }
      if (cost >= best) continue;
      let finish = Number.NEGATIVE_INFINITY;
      let reaches = Number.NEGATIVE_INFINITY;
      if (timed) {
        let start = early[before]! + service[before]! + minutesInto[row + from]!;
        if (start > close + ROUNDING) continue;
        if (start < open) start = open;
        else if (several) {
          start = routes.nextOpen(tour, node, start);
          if (start === Number.POSITIVE_INFINITY) continue;
        }
        let onward = minutes[row + to]!;
        if (refill >= 0) {
          const fill = model.problem.refillPlaces[refill]!;
          onward = minutes[row + fill.place]! + fill.minutes + minutes[fill.place * places + to]!;
        }
        reaches = start + spent + onward;
        if (reaches > late[j]! + ROUNDING) continue;
        if (overtimeCost > 0) {
          finish = Math.max(restFloor[j]!, reaches + restWork[j]!);
          cost += (Math.max(0, finish - closing) - paidOvertime) * overtimeCost;
          if (cost >= best) continue;
        }
      }
      best = cost;
      bestAfter = before;
      spare = late[j]! - reaches;
      paid = closing - finish;
    }
    if (bestAfter < 0) return;
    const share = routes.tourCount[tour] === 0 ? this.openingShare : 1;
    this.#offer(out, tour, (best + extra) * share, room, spare, paid, bestAfter, -1, refillAfter[bestAfter]!);
  }

  /** As `#scan`, for tours that have to fill up on the way: the customer before or behind a fill, or with a new one. */
  #scanWithRefills(
    customer: number,
    day: number,
    tour: number,
    first: number,
    legs: number,
    size: StopSize,
    out: Candidates,
  ): void {
    const units = size.mostUnits;
    const model = this.#model;
    const routes = this.#routes;
    const { next, loadTo, loadFrom, segmentCap, refillAfter, pinned } = routes;
    const spec = model.problem.tours[tour]!;
    const node = day * model.customers + customer;
    const place = model.placeOf[node]!;
    const end = routes.endOf(tour);
    const extra = this.#extraCost(customer, day, tour);
    const position = model.lockOf[customer]?.[day]?.position ?? null;
    if (units > spec.tankUnits + ROUNDING) return;
    let i = first;
    for (let k = 0; k < legs && i !== end; k++) {
      const before = i;
      const j = next[i]!;
      i = j;
      if (pinned[before] === 2 || pinned[j] === 1) continue;
      if ((position === 'first' && before < model.nodes) || (position === 'last' && j !== end)) continue;
      if (this.blinkRate > 0 && this.#rng() < this.blinkRate) continue;
      const from = model.placeOf[before]!;
      const to = model.placeOf[j]!;
      const refill = refillAfter[before]!;
      const fitsHere = loadTo[before]! + units <= segmentCap[before]! + ROUNDING;
      if (refill >= 0) {
        if (fitsHere) this.#offerVia(out, tour, node, before, j, extra, size, -1, refill);
        if (units + loadFrom[j]! <= spec.tankUnits + ROUNDING) {
          this.#offerVia(out, tour, node, before, j, extra, size, refill, -1);
        }
        continue;
      }
      if (loadTo[before]! + units + loadFrom[j]! <= segmentCap[before]! + ROUNDING) {
        this.#offerVia(out, tour, node, before, j, extra, size, -1, -1);
        continue;
      }
      if (units + loadFrom[j]! <= spec.tankUnits + ROUNDING) {
        this.#offerVia(out, tour, node, before, j, extra, size, cheapestRefill(model, tour, from, place).refill, -1);
      }
      if (fitsHere) {
        this.#offerVia(out, tour, node, before, j, extra, size, -1, cheapestRefill(model, tour, place, to).refill);
      }
    }
  }

  #offerVia(
    out: Candidates,
    tour: number,
    node: number,
    before: number,
    j: number,
    extra: number,
    size: StopSize,
    refillBefore: number,
    refillBehind: number,
  ): void {
    const model = this.#model;
    const routes = this.#routes;
    const { placeOf, problem } = model;
    const spec = problem.tours[tour]!;
    const place = placeOf[node]!;
    const old = this.#leg(tour, placeOf[before]!, placeOf[j]!, routes.refillAfter[before]!);
    const there = this.#leg(tour, placeOf[before]!, place, refillBefore);
    const onward = this.#leg(tour, place, placeOf[j]!, refillBehind);
    let cost = there.cost + onward.cost - old.cost;
    let spare = Number.POSITIVE_INFINITY;
    let paid = Number.POSITIVE_INFINITY;
    if (model.timed) {
      const arrival = routes.early[before]! + routes.service[before]! + there.minutes;
      const start = routes.nextOpen(tour, node, arrival);
      const reaches = start + size.minutes + onward.minutes;
      if (!(reaches <= routes.late[j]! + ROUNDING)) return;
      const closing = model.closeWork[tour]!;
      const finish = Math.max(routes.restFloor[j]!, reaches + routes.restWork[j]!);
      spare = routes.late[j]! - reaches;
      paid = closing - finish;
      const more = Math.max(0, finish - closing) - Math.max(0, routes.tourFinish[tour]! - closing);
      if (spec.costPerOvertimeMinute > 0) cost += more * spec.costPerOvertimeMinute;
    }
    this.#offer(out, tour, cost + extra, size.mostUnits, spare, paid, before, refillBefore, refillBehind);
  }

  #leg(tour: number, from: number, to: number, refill: number): { cost: number; minutes: number } {
    const model = this.#model;
    const { places, minutes } = model;
    const costs = model.arcCosts[model.costClassOf[tour]!]!;
    if (refill < 0) return { cost: costs[from * places + to]!, minutes: minutes[from * places + to]! };
    const fill = model.problem.refillPlaces[refill]!;
    return {
      cost: costs[from * places + fill.place]! + costs[fill.place * places + to]!,
      minutes: minutes[from * places + fill.place]! + fill.minutes + minutes[fill.place * places + to]!,
    };
  }

  /** What a visit by this tour costs beside its place in the sequence: opening the tour, leaving the published plan. */
  #extraCost(customer: number, day: number, tour: number): number {
    const opening = this.#routes.tourCount[tour] === 0 ? this.#model.problem.tours[tour]!.fixedCost : 0;
    return opening + publishedCost(this.#model, customer, day, tour);
  }

  #offer(
    out: Candidates,
    tour: number,
    cost: number,
    room: number,
    spareMinutes: number,
    paidMinutes: number,
    after: number,
    refillBefore: number,
    refillBehind: number,
  ): void {
    let slot = this.#slotOf[tour]!;
    if (slot < 0) {
      slot = out.count++;
      this.#slotOf[tour] = slot;
      out.tour[slot] = tour;
    } else if (cost >= out.cost[slot]!) return;
    out.cost[slot] = cost;
    out.room[slot] = room;
    out.spareMinutes[slot] = spareMinutes;
    out.paidMinutes[slot] = paidMinutes;
    out.after[slot] = after;
    out.refillBefore[slot] = refillBefore;
    out.refillBehind[slot] = refillBehind;
  }
}

/** Cost of a visit away from what was published: another day, or the same day by another tour. */
export function publishedCost(model: Model, customer: number, day: number, tour: number): number {
  const published = model.published[customer];
  if (published === null || published === undefined) return 0;
  const said = published.tourByDay[day]!;
  if (said === tour) return 0;
  return said < 0 ? published.otherDayCost[day]! : published.otherTourCost[day]!;
}
