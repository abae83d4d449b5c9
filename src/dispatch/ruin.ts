import type { Rng } from '../domain/ports/clock.js';
import type { Model } from './model.js';
import type { Routes } from './routes.js';

/** Mean number of customers taken out at a time, and the longest string (Christiaens and Vanden Berghe 2020, table 1). */
const MEAN_REMOVED = 10;
/** The same where a customer is taken out on all days at once. */
const MEAN_REMOVED_MULTIDAY = 4;
const LONGEST_STRING = 10;
/** Chance of keeping customers inside a string, and of stopping to widen it (the same table: 0.5 and 0.01). */
const SPLIT_CHANCE = 0.5;
const SPLIT_STOP = 0.01;
/** Of all ruins: whole tours (saves tours), neighbourhoods on all days, customers from anywhere. */
const TOUR_CHANCE = 0.05;
const AREA_CHANCE = 0.1;
const SCATTER_CHANCE = 0.03;

/** Chooses which customers are taken out: strings of neighbours from neighbouring tours of one day, mostly. */
export class Ruin {
  readonly #model: Model;
  readonly #routes: Routes;
  readonly #rng: Rng;
  readonly #chosen: Uint8Array;
  readonly #tourUsed: Uint8Array;
  /** The customers chosen last. */
  readonly picked: Int32Array;
  count = 0;
  readonly #mean: number;

  constructor(routes: Routes, rng: Rng) {
    this.#routes = routes;
    this.#model = routes.model;
    this.#rng = rng;
    this.#mean = routes.model.days > 1 ? MEAN_REMOVED_MULTIDAY : MEAN_REMOVED;
    this.#chosen = new Uint8Array(routes.model.customers);
    this.#tourUsed = new Uint8Array(routes.model.tours);
    this.picked = new Int32Array(routes.model.customers);
  }

  #pick(customer: number): void {
    if (this.#chosen[customer] === 1) return;
    this.#chosen[customer] = 1;
    this.picked[this.count++] = customer;
  }

  #below(limit: number): number {
    return Math.floor(this.#rng() * limit);
  }

  /** Chooses customers into `picked`, `always` among them. */
  choose(always: readonly number[]): void {
    this.count = 0;
    for (const customer of always) this.#pick(customer);
    const kind = this.#rng();
    if (kind < TOUR_CHANCE) this.#wholeTour();
    else if (kind < TOUR_CHANCE + AREA_CHANCE) this.#area();
    else if (kind < TOUR_CHANCE + AREA_CHANCE + SCATTER_CHANCE) this.#scatter();
    else this.#strings();
    for (let k = 0; k < this.count; k++) this.#chosen[this.picked[k]!] = 0;
  }

  #wholeTour(): void {
    const { tours, customers } = this.#model;
    const { tourCount, next } = this.#routes;
    let tour = -1;
    // The emptier of a few tours: it is the one that others can take over.
    for (let k = 0; k < 4; k++) {
      const other = this.#below(tours);
      if (tourCount[other]! > 0 && (tour < 0 || tourCount[other]! < tourCount[tour]!)) tour = other;
    }
    if (tour < 0) {
      this.#strings();
      return;
    }
    const end = this.#routes.endOf(tour);
    for (let node = next[this.#routes.startOf(tour)]!; node !== end; node = next[node]!) this.#pick(node % customers);
  }

  #area(): void {
    const { customers, near, nearCount } = this.#model;
    const seed = this.#below(customers);
    this.#pick(seed);
    const many = 1 + this.#below(Math.min(this.#mean, nearCount + 1));
    for (let k = 0; k < nearCount && this.count < many; k++) {
      if (this.#rng() < 0.7) this.#pick(near[seed * nearCount + k]!);
    }
  }

  #scatter(): void {
    const { customers } = this.#model;
    const many = 1 + this.#below(Math.min(this.#mean, customers));
    for (let k = 0; k < many; k++) this.#pick(this.#below(customers));
  }

  #strings(): void {
    const { customers, near, nearCount, days, toursOfDay } = this.#model;
    const { routeOf, tourCount, visitsOfDay } = this.#routes;
    const seed = this.#below(customers);
    let day = this.#below(days);
    // A day on which the seed is visited, where there is one.
    for (let k = 0; k < days; k++) {
      const other = (day + k) % days;
      if (routeOf[other * customers + seed]! >= 0) {
        day = other;
        break;
      }
    }
    let open = 0;
    for (const tour of toursOfDay[day]!) if (tourCount[tour]! > 0) open++;
    this.#pick(seed);
    if (open === 0) return;
    const longest = Math.min(LONGEST_STRING, visitsOfDay[day]! / open);
    const most = (4 * this.#mean) / (1 + longest) - 1;
    const strings = Math.max(1, Math.floor(1 + this.#rng() * most));
    const again = open < strings;
    const used: number[] = [];
    let taken = 0;
    for (let k = -1; k < nearCount && taken < strings; k++) {
      const customer = k < 0 ? seed : near[seed * nearCount + k]!;
      const node = day * customers + customer;
      const tour = routeOf[node]!;
      if (tour < 0 || (k >= 0 && this.#chosen[customer] === 1)) continue;
      if (this.#tourUsed[tour] === 1 && !again) continue;
      const limit = Math.min(longest, tourCount[tour]!);
      this.#string(node, tour, Math.max(1, Math.floor(1 + this.#rng() * limit)));
      if (this.#tourUsed[tour] === 0) {
        this.#tourUsed[tour] = 1;
        used.push(tour);
      }
      taken++;
    }
    for (const tour of used) this.#tourUsed[tour] = 0;
  }

  /** Picks `length` customers in a row that hold `node`, or, split, with some in the middle left where they are. */
  #string(node: number, tour: number, length: number): void {
    const { next, prev, tourCount } = this.#routes;
    const { customers, nodes } = this.#model;
    let kept = 0;
    if (length > 1 && this.#rng() < SPLIT_CHANCE) {
      kept = 1;
      while (length + kept < tourCount[tour]! && this.#rng() > SPLIT_STOP) {
        kept++;
        if (kept >= length) break;
      }
      if (length + kept > tourCount[tour]!) kept = 0;
    }
    const span = length + kept;
    // A first node such that the span holds `node` and lies within the tour.
    let back = this.#below(span);
    let first = node;
    while (back > 0 && prev[first]! < nodes) {
      first = prev[first]!;
      back--;
    }
    const keptFrom = kept === 0 ? span : 1 + this.#below(length - 1);
    let at = first;
    for (let k = 0; k < span && at < nodes; k++) {
      if (k < keptFrom || k >= keptFrom + kept || at === node) this.#pick(at % customers);
      at = next[at]!;
    }
  }
}
