import type { Rng } from '../domain/ports/clock.js';
import { Insertion } from './insertion.js';
import { compileModel, type Model } from './model.js';
import type { Plan, Problem } from './problem.js';
import { Reinsertion } from './reinsert.js';
import { RouteStore } from './route-store.js';
import { Routes } from './routes.js';
import { Ruin } from './ruin.js';

/**
 * Temperature at the beginning and at the end, as a share of the typical leg. Tried on four Solomon files, three seconds and
 * one seed each: mean gap 1.5 % at 0.5, 1.0 % at 1.5; another seed moves such a mean by half a per cent or more, so that this
 * is a hint and no proof. Large problems have no time to cool down (untested): the first one falls with the root of the size.
 */
const FIRST_TEMPERATURE = 1.5;
const LAST_TEMPERATURE = 0.02;
const HOT_SIZE = 100;
const BLINK_RATE = 0.01;
/** Rounds in which empty tours are offered below their price, so that work moves to another day together. */
const CHEAP_OPENING_CHANCE = 0.2;
/** Slack for sums of costs and units that are equal on paper. */
const ROUNDING = 1e-7;
/** Cost of a unit of overload while a first plan is built: above any other cost of a unit. */
const PROHIBITIVE = 1e6;
/** Least price of overload: this share of a leg for the mean amount. */
const LEAST_PRICE = 0.05;
/** Change of the price of overload with each accepted plan; balanced where one in six is overloaded. */
const DEARER = 1.05;
const CHEAPER = 0.99;
/** Rounds of the search between two looks at the budget. */
const LOOK_EVERY = 16;
/** Shares of the budget between two exchanges with another search. */
const EXCHANGES = 24;
/** Orders in which customers come back in, with their weights (Christiaens and Vanden Berghe 2020, section 5.2). */
const ORDER_WEIGHTS = { random: 4, demand: 4, far: 2, close: 1, narrow: 2, opening: 2, closing: 2 } as const;

export interface SolveOptions {
  /** Rounds of ruin and recreate: the same problem, seed and number give the same plan. */
  readonly iterations?: number;
  /** Instead of a number: share of the time that is gone, 0-1; the search ends at 1. Asked often. */
  readonly progress?: () => number;
  /** A plan to begin with; what does not fit any more is put elsewhere. */
  readonly start?: Plan;
  /** Share of the usual temperature to begin at: little for a plan that is good already. */
  readonly heat?: number;
  /** Told at intervals of the best plan so far, when it is better than the one told before. */
  readonly onBetter?: (plan: Plan) => void;
  /** Asked at intervals for a plan that another search has found; null for none. */
  readonly adopt?: () => Plan | null;
}

export interface Solved {
  readonly plan: Plan;
  readonly iterations: number;
}

/**
 * Plans the tours: ruin and recreate under simulated annealing (Schrimpf et al. 2000; slack induction by string removals,
 * Christiaens and Vanden Berghe 2020), where each customer comes back on its best set of days.
 * @throws RangeError where neither `iterations` nor `progress` bounds the search
 */
export function solve(problem: Problem, rng: Rng, options: SolveOptions): Solved {
  const { iterations } = options;
  if (iterations === undefined && options.progress === undefined) {
    throw new RangeError('A search needs a bound: give iterations or progress.');
  }
  const search = new Search(compileModel(problem), rng);
  search.begin(options.start ?? null);
  // Whatever the budget: who waits for a plan has one now.
  options.onBetter?.(search.best());
  let done = 0;
  const shareDone = () => (iterations !== undefined ? done / iterations : options.progress!());
  let nextExchange = 0;
  let share = shareDone();
  while (share < 1) {
    search.heat(share, options.heat ?? 1);
    const rounds = iterations === undefined ? LOOK_EVERY : Math.min(LOOK_EVERY, iterations - done);
    for (let k = 0; k < rounds; k++) search.round();
    done += rounds;
    share = shareDone();
    if (share >= nextExchange) {
      nextExchange = share + 1 / EXCHANGES;
      if (search.improvedSinceTold() && options.onBetter !== undefined) options.onBetter(search.best());
      const other = options.adopt?.() ?? null;
      if (other !== null && other.cost < search.bestCost) search.begin(other);
    }
  }
  return { plan: search.best(), iterations: done };
}

class Search {
  readonly #model: Model;
  readonly #rng: Rng;
  readonly #routes: Routes;
  readonly #insertion: Insertion;
  readonly #reinsertion: Reinsertion;
  readonly #ruin: Ruin;
  readonly #store: RouteStore;
  readonly #keys: Float64Array;
  readonly #before: Float64Array;
  readonly #order: { readonly weight: number; readonly key: (customer: number) => number }[];
  readonly #orderWeight: number;
  readonly #sizeFactor: number;
  readonly #leastPrice: number;
  #overloadPrice: number;
  #customerCost = 0;
  #current = Number.POSITIVE_INFINITY;
  bestCost = Number.POSITIVE_INFINITY;
  #told = Number.POSITIVE_INFINITY;
  #temperature = 0;
  /** Customers that wait for a visit that fits nowhere. */
  #waiting: number[] = [];

  constructor(model: Model, rng: Rng) {
    this.#model = model;
    this.#rng = rng;
    this.#routes = new Routes(model);
    this.#insertion = new Insertion(this.#routes, rng);
    this.#reinsertion = new Reinsertion(this.#routes, this.#insertion);
    this.#ruin = new Ruin(this.#routes, rng);
    this.#store = new RouteStore(this.#routes);
    this.#keys = new Float64Array(model.customers);
    this.#before = new Float64Array(model.customers);
    this.#order = orders(model, rng);
    this.#sizeFactor = Math.min(1, Math.sqrt(HOT_SIZE / Math.max(1, model.customers)));
    this.#leastPrice = (LEAST_PRICE * model.typicalLeg) / meanUnits(model);
    this.#overloadPrice = 10 * this.#leastPrice;
    this.#orderWeight = this.#order.reduce((sum, one) => sum + one.weight, 0);
  }

  heat(share: number, factor: number): void {
    const first = Math.max(LAST_TEMPERATURE, FIRST_TEMPERATURE * this.#sizeFactor * factor);
    this.#temperature = this.#model.typicalLeg * first * (LAST_TEMPERATURE / first) ** share;
  }

  improvedSinceTold(): boolean {
    return this.bestCost < this.#told;
  }

  best(): Plan {
    this.#told = this.bestCost;
    return this.#store.plan(this.bestCost);
  }

  /** Takes a plan over, or builds one by best insertion. */
  begin(start: Plan | null): void {
    const routes = this.#routes;
    const open = new Set<number>(this.#model.problem.customers.keys());
    for (let tour = 0; tour < this.#model.tours; tour++) {
      routes.touch(tour);
      routes.clear(tour);
      routes.refresh(tour);
    }
    if (start !== null) for (const customer of this.#store.load(start)) open.delete(customer);
    const order = [...open];
    for (let k = order.length - 1; k > 0; k--) {
      const other = Math.floor(this.#rng() * (k + 1));
      [order[k], order[other]] = [order[other]!, order[k]!];
    }
    this.#insertion.blinkRate = 0;
    this.#insertion.openingShare = 1;
    if (this.#model.softTanks) routes.overloadCost = PROHIBITIVE;
    for (const customer of order) this.#reinsertion.removeAll(customer);
    routes.refreshTouched();
    for (const customer of order) this.#reinsertion.reinsert(customer);
    this.#customerCost = 0;
    for (let customer = 0; customer < this.#model.customers; customer++) {
      const cost = this.#reinsertion.priceCustomer(customer);
      this.#reinsertion.customerCost[customer] = cost;
      this.#customerCost += cost;
    }
    routes.keep();
    this.#current = routes.cost + this.#customerCost + this.#supplyShort() + this.#overloadCost();
    this.#listWaiting(this.#model.problem.customers.keys());
    if (this.#current < this.bestCost) {
      this.bestCost = this.#current;
      this.#store.save();
    }
    if (this.#model.softTanks) {
      routes.overloadCost = this.#overloadPrice;
      this.#current = routes.cost + this.#customerCost + this.#supplyShort() + this.#overloadCost();
    }
  }

  #overloadCost(): number {
    return this.#routes.overload > ROUNDING ? this.#routes.overload * this.#routes.overloadCost : 0;
  }

  /** Makes overload dearer or cheaper, so that a set share of the accepted plans has none (Gendreau, Hertz and Laporte 1994). */
  #steer(overloaded: boolean): void {
    if (!this.#model.softTanks) return;
    this.#overloadPrice *= overloaded ? DEARER : CHEAPER;
    this.#overloadPrice = Math.min(Math.max(this.#overloadPrice, this.#leastPrice), 1e4 * this.#leastPrice);
    this.#current += this.#routes.overload * (this.#overloadPrice - this.#routes.overloadCost);
    this.#routes.overloadCost = this.#overloadPrice;
  }

  /** One ruin and recreate, kept or undone. */
  round(): void {
    const { picked } = this.#ruin;
    const { customerCost } = this.#reinsertion;
    this.#ruin.choose(this.#waiting);
    const { count } = this.#ruin;
    let cost = this.#customerCost;
    for (let k = 0; k < count; k++) {
      const customer = picked[k]!;
      this.#before[customer] = customerCost[customer]!;
      cost -= customerCost[customer]!;
      this.#reinsertion.removeAll(customer);
    }
    this.#routes.refreshTouched();
    this.#sort(picked.subarray(0, count));
    this.#insertion.blinkRate = BLINK_RATE;
    const cheap = this.#model.days > 1 && this.#rng() < CHEAP_OPENING_CHANCE;
    this.#insertion.openingShare = cheap ? this.#rng() : 1;
    for (let k = 0; k < count; k++) {
      this.#reinsertion.reinsert(picked[k]!);
      cost += customerCost[picked[k]!]!;
    }
    const overloaded = this.#routes.overload > ROUNDING;
    const total = this.#routes.cost + cost + this.#supplyShort() + this.#overloadCost();
    if (total < this.#current - this.#temperature * Math.log(this.#rng())) {
      this.#routes.keep();
      this.#customerCost = cost;
      this.#current = total;
      this.#listWaiting(picked.subarray(0, count));
      if (!overloaded && total < this.bestCost - ROUNDING) {
        this.bestCost = total;
        this.#store.save();
      }
      this.#steer(overloaded);
      return;
    }
    this.#routes.undo();
    for (let k = 0; k < count; k++) customerCost[picked[k]!] = this.#before[picked[k]!]!;
  }

  #listWaiting(candidates: Iterable<number>): void {
    const { problem, customers, days } = this.#model;
    const waiting: number[] = [];
    for (const customer of candidates) {
      if (problem.customers[customer]!.demand.kind !== 'once') continue;
      let visited = false;
      for (let day = 0; day < days && !visited; day++) visited = this.#routes.routeOf[day * customers + customer]! >= 0;
      if (!visited) waiting.push(customer);
    }
    this.#waiting = waiting;
  }

  #supplyShort(): number {
    const { supply } = this.#model.problem;
    if (supply === null) return 0;
    let level = supply.initialUnits;
    let short = 0;
    for (let day = 0; day < this.#model.days; day++) {
      level += supply.producedUnits[day]! - this.#routes.deliveredOfDay[day]!;
      if (level < 0) short -= level;
    }
    return short * supply.costPerUnitShort;
  }

  #sort(customers: Int32Array): void {
    let draw = this.#rng() * this.#orderWeight;
    let chosen = this.#order[0]!;
    for (const one of this.#order) {
      chosen = one;
      draw -= one.weight;
      if (draw < 0) break;
    }
    const keys = this.#keys;
    for (const customer of customers) keys[customer] = chosen.key(customer);
    // Insertion sort: a few customers, most often ten.
    for (let k = 1; k < customers.length; k++) {
      const moving = customers[k]!;
      let at = k - 1;
      while (at >= 0 && keys[customers[at]!]! > keys[moving]!) {
        customers[at + 1] = customers[at]!;
        at--;
      }
      customers[at + 1] = moving;
    }
  }
}

function meanUnits({ problem }: Model): number {
  const units = problem.customers.map(({ demand }) => (demand.kind === 'stock' ? demand.capacityUnits : 1));
  return Math.max(1e-9, units.reduce((sum, one) => sum + one, 0) / Math.max(1, units.length));
}

function orders(model: Model, rng: Rng): { weight: number; key: (customer: number) => number }[] {
  const { customers, placeCount, tours, distance } = model.problem;
  const from = tours[0]?.startPlace ?? 0;
  const away = customers.map((one) => distance[from * placeCount + one.place]!);
  const amount = customers.map(({ demand }) => {
    if (demand.kind === 'once') return demand.units;
    if (demand.kind === 'stock') return demand.usedUnits.reduce((sum, one) => sum + one, 0);
    return demand.units[0]?.at(-1) ?? 0;
  });
  const spans = customers.map((one) => {
    const windows = one.windows.flat();
    const width = windows.reduce((sum, window) => sum + window.toMinute - window.fromMinute, 0);
    return { width, opening: windows[0]?.fromMinute ?? 0, closing: windows.at(-1)?.toMinute ?? 0 };
  });
  const out = [
    { weight: ORDER_WEIGHTS.random, key: () => rng() },
    { weight: ORDER_WEIGHTS.demand, key: (c: number) => -amount[c]! },
    { weight: ORDER_WEIGHTS.far, key: (c: number) => -away[c]! },
    { weight: ORDER_WEIGHTS.close, key: (c: number) => away[c]! },
  ];
  if (model.timed) {
    out.push(
      { weight: ORDER_WEIGHTS.narrow, key: (c) => spans[c]!.width },
      { weight: ORDER_WEIGHTS.opening, key: (c) => spans[c]!.opening },
      { weight: ORDER_WEIGHTS.closing, key: (c) => -spans[c]!.closing },
    );
  }
  return out;
}
