import type { LocalDay, PersonId, SiteId } from '../domain/ids.js';
import { daysBetween } from '../domain/local-day.js';
import type { Rng } from '../domain/ports/clock.js';
import type { RoundStop } from '../domain/work.js';
import type { BuiltProblem, PlanInput } from './build-problem.js';
import type { PublishedStop } from './crew.js';
import { evaluatePlan, type ScheduledTour, scheduleTour } from './evaluate.js';
import type { Plan, PlannedStop, PlannedTour, Problem } from './problem.js';
import { publishedPlan } from './rounds.js';
import { type SolveOptions, solve } from './solve.js';

/** How free a published stop still is. */
export type Firmness = 'frozen' | 'firm' | 'flexible';

/**
 * Done, on the way and the next stop of each technician stay; the rest of today and tomorrow move at a price; later days
 * are free. (Rescheduling literature calls these the frozen, slushy and liquid parts of a schedule.)
 * @param isNext true for the first stop of its technician that is neither done nor under way
 */
export function firmnessOf(stop: RoundStop, today: LocalDay, isNext: boolean): Firmness {
  const ahead = daysBetween(today, stop.day);
  if (stop.state === 'done' || stop.state === 'on_the_way' || (ahead === 0 && isNext)) return 'frozen';
  return ahead <= 1 ? 'firm' : 'flexible';
}

/** Weight of a day in the nervousness of a plan, and of what may change about a visit. */
const DAY_WEIGHT = 0.8;
const OTHER_TECHNICIAN = 0.5;
const OTHER_TIME = 0.2;

/**
 * How much a new plan upsets the published one, 0-1: 1 for each visit whose day changed or that fell away, 0.5 for another
 * technician, up to 0.2 for another time, weighted by 0.8 to the power of the day (after the measures for material
 * requirements planning of Sridharan, Berry and Udayabhanu 1988; the weights are ours).
 */
export function nervousness(
  published: readonly PublishedStop[],
  fresh: readonly PublishedStop[],
  today: LocalDay,
): number {
  let sum = 0;
  let weights = 0;
  for (const old of published) {
    const ahead = daysBetween(today, old.day);
    if (ahead < 0) continue;
    const weight = DAY_WEIGHT ** ahead;
    weights += weight;
    const same = fresh.find((one) => one.siteId === old.siteId && one.day === old.day);
    if (same === undefined) sum += weight;
    else {
      const technician = same.personId === old.personId ? 0 : OTHER_TECHNICIAN;
      const time = OTHER_TIME * Math.min(1, Math.abs(same.startMinute - old.startMinute) / 60);
      sum += weight * Math.min(1, technician + time);
    }
  }
  return weights === 0 ? 0 : sum / weights;
}

/** The input as it is when somebody cannot work on some days. */
export function withoutPerson(input: PlanInput, personId: PersonId, days: readonly LocalDay[]): PlanInput {
  return { ...input, crew: input.crew.filter((one) => one.personId !== personId || !days.includes(one.day)) };
}

/** Heat of a search that mends a plan instead of making one. */
const MENDING_HEAT = 0.1;

/**
 * Plans again from the published stops. They stay as they are unless another plan saves more than its changes cost, so that
 * no news means the same plan; what no longer fits is put elsewhere.
 */
export function replan(built: BuiltProblem, rng: Rng, options: Pick<SolveOptions, 'iterations' | 'progress'>): Plan {
  const old = publishedPlan(built);
  const before = evaluatePlan(built.problem, old);
  const { plan } = solve(built.problem, rng, { ...options, start: old, heat: MENDING_HEAT });
  return before.feasible && plan.cost >= before.cost.total - SAVING_WORTH_TELLING ? old : plan;
}

/** Below this nobody is told of another plan: it is the rounding of sums. */
const SAVING_WORTH_TELLING = 1e-6;

/** One way to reach an urgent site today. */
export interface UrgentOffer {
  readonly tour: number;
  /** Index among the tour's stops before which the site comes. */
  readonly position: number;
  readonly arrivalMinute: number;
  /** Working minutes more for the technician. */
  readonly extraMinutes: number;
  readonly overtimeMinutes: number;
  readonly extraCost: number;
  /** Sites that are reached later, with minutes. */
  readonly later: readonly { readonly siteId: SiteId; readonly minutes: number }[];
  /** Sites of the tour whose window the change misses. */
  readonly missed: readonly SiteId[];
  readonly plan: PlannedTour;
}

export interface UrgentQuestion {
  readonly customer: number;
  readonly day: number;
  readonly litres: number;
  readonly minutes: number;
  /** Stops of each tour that can no longer move, by tour; none where absent. */
  readonly frozenStops: ReadonlyMap<number, number>;
}

/** Minutes of delay below which nobody counts as later. */
const NOTABLE_DELAY_MINUTES = 1;

/**
 * Ranks the ways to fit an urgent site into the day's live tours: every place behind the frozen stops of every tour that
 * may go there, priced by running the tour by the clock. Ways that keep windows, shift and tank come first, then by cost.
 * @param most number of offers, each by another tour
 */
export function offerUrgent(
  built: BuiltProblem,
  plan: Plan,
  question: UrgentQuestion,
  most = 3,
): readonly UrgentOffer[] {
  const { problem, input } = built;
  const customer = problem.customers[question.customer]!;
  const planned = new Map(plan.tours.map((one) => [one.tour, one]));
  const offers: (UrgentOffer & { readonly broken: boolean })[] = [];
  problem.tours.forEach((spec, tour) => {
    if (spec.day !== question.day || customer.forbiddenTours.includes(tour)) return;
    if (!customer.skills.every((skill) => spec.skills.includes(skill))) return;
    const old = planned.get(tour) ?? { tour, refillAtStart: null, stops: [] };
    const before = scheduleTour(problem, old);
    const stop: PlannedStop = {
      customer: question.customer,
      units: question.litres,
      minutes: question.minutes,
      refillAfter: null,
    };
    let best: (UrgentOffer & { readonly broken: boolean }) | null = null;
    for (let position = question.frozenStops.get(tour) ?? 0; position <= old.stops.length; position++) {
      const fresh = insertedAt(problem, old, position, stop);
      const offer = priceOffer(problem, before, fresh, position, (c) => input.sites[c]!.site.id);
      if (best === null || compareOffers(offer, best) < 0) best = offer;
    }
    if (best !== null) offers.push(best);
  });
  return offers
    .sort(compareOffers)
    .slice(0, most)
    .map(({ broken: _broken, ...offer }) => offer);
}

function compareOffers(
  a: { readonly broken: boolean; readonly extraCost: number },
  b: { readonly broken: boolean; readonly extraCost: number },
): number {
  return Number(a.broken) - Number(b.broken) || a.extraCost - b.extraCost;
}

/** The tour with the stop at a position, and with a fill at the nearest place before the first stop that would run dry. */
function insertedAt(problem: Problem, old: PlannedTour, position: number, stop: PlannedStop): PlannedTour {
  const stops = [...old.stops.slice(0, position), stop, ...old.stops.slice(position)];
  const fresh: PlannedTour = { ...old, stops };
  const spec = problem.tours[old.tour]!;
  const run = scheduleTour(problem, fresh);
  if (!run.runsDry || !spec.mayRefill || problem.refillPlaces.length === 0) return fresh;
  const dryAt = run.stops.findIndex((one) => one.tankUnits < 0);
  const behind = Math.max(dryAt, position);
  const from = behind === 0 ? spec.startPlace : problem.customers[stops[behind - 1]!.customer]!.place;
  const to = problem.customers[stops[behind]!.customer]!.place;
  const cost = (r: number) => {
    const { place } = problem.refillPlaces[r]!;
    return problem.distance[from * problem.placeCount + place]! + problem.distance[place * problem.placeCount + to]!;
  };
  let refill = 0;
  for (let r = 1; r < problem.refillPlaces.length; r++) if (cost(r) < cost(refill)) refill = r;
  if (behind === 0) return { ...fresh, refillAtStart: refill };
  const filled = stops.map((one, k) => (k === behind - 1 ? { ...one, refillAfter: refill } : one));
  return { ...fresh, stops: filled };
}

function priceOffer(
  problem: Problem,
  before: ScheduledTour,
  fresh: PlannedTour,
  position: number,
  siteIdOf: (customer: number) => SiteId,
): UrgentOffer & { readonly broken: boolean } {
  const spec = problem.tours[fresh.tour]!;
  const after = scheduleTour(problem, fresh);
  const earlier = new Map(before.stops.map((one) => [one.customer, one]));
  const later = after.stops.flatMap((one) => {
    const minutes = one.startMinute - (earlier.get(one.customer)?.startMinute ?? one.startMinute);
    return minutes >= NOTABLE_DELAY_MINUTES ? [{ siteId: siteIdOf(one.customer), minutes }] : [];
  });
  const missed = after.stops.filter((one) => one.missesWindow).map((one) => siteIdOf(one.customer));
  const opening = before.stops.length === 0 ? spec.fixedCost : 0;
  return {
    tour: fresh.tour,
    position,
    arrivalMinute: after.stops[position]!.arrivalMinute,
    extraMinutes: after.finishMinute - before.finishMinute,
    overtimeMinutes: after.overtimeMinutes,
    extraCost:
      opening +
      (after.distance - before.distance) * spec.costPerDistance +
      (after.driveMinutes - before.driveMinutes) * spec.costPerMinute +
      (after.overtimeMinutes - before.overtimeMinutes) * spec.costPerOvertimeMinute,
    later,
    missed,
    plan: fresh,
    broken: missed.length > 0 || after.exceedsShift || after.runsDry,
  };
}
