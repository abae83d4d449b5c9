import type { LocalDay, PersonId, SiteId } from '../domain/ids.js';
import { addDays, daysBetween } from '../domain/local-day.js';
import type { RefillStop } from '../domain/plan.js';
import { type BuiltProblem, tourKey } from './build-problem.js';
import type { LaidStop, PlannedFill, PublishedStop } from './crew.js';
import { type Evaluation, evaluatePlan, type Visit, visitsByCustomer } from './evaluate.js';
import { stopMinutes } from './gap-tables.js';
import type { Plan, PlannedTour } from './problem.js';
import { chanceDryWithin } from './risk.js';
import { isFilled } from './top-up.js';

/** One stop of a round, in people's terms. */
export interface RoundVisit {
  readonly siteId: SiteId;
  readonly personId: PersonId;
  readonly day: LocalDay;
  readonly arrivalMinute: number;
  readonly startMinute: number;
  readonly endMinute: number;
  readonly driveMinutes: number;
  readonly km: number;
  readonly litres: number;
  readonly fills: readonly PlannedFill[];
  /** Left in the tank after the stop. */
  readonly tankLitres: number;
  /** Place of the fill right after the stop; null for none. */
  readonly refillAfterPlace: number | null;
  readonly missesWindow: boolean;
}

/** A pot whose risk the plan does not keep. */
export interface RiskMissed {
  readonly siteId: SiteId;
  readonly containerId: string;
  /** Day of the visit that comes too late; null where none comes within the plan. */
  readonly visitDay: LocalDay | null;
  readonly lastSafeDay: LocalDay;
  readonly chanceDry: number;
}

export interface Rounds {
  readonly visits: readonly RoundVisit[];
  readonly evaluation: Evaluation;
  /** Empty where the plan keeps the accepted risk everywhere. */
  readonly riskMissed: readonly RiskMissed[];
}

/** Reads a plan as rounds: who is where at what time with how many litres, and whose risk it does not keep. */
export function readRounds(built: BuiltProblem, plan: Plan): Rounds {
  const { input, problem } = built;
  const evaluation = evaluatePlan(problem, plan);
  const visitsOf = visitsByCustomer(problem, plan);
  const previous = new Map<string, number>();
  visitsOf.forEach((own, c) => {
    let last = -1;
    for (const visit of own) {
      previous.set(`${c} ${visit.day}`, last);
      last = visit.day;
    }
  });
  const visits = evaluation.tours.flatMap((tour) => {
    const crew = input.crew[tour.tour]!;
    const day = daysBetween(input.firstDay, crew.day);
    return tour.stops.map((stop): RoundVisit => {
      const before = previous.get(`${stop.customer} ${day}`) ?? -1;
      return {
        siteId: input.sites[stop.customer]!.site.id,
        personId: crew.personId,
        day: crew.day,
        arrivalMinute: stop.arrivalMinute,
        startMinute: stop.startMinute,
        endMinute: stop.endMinute,
        driveMinutes: stop.driveMinutes,
        km: stop.distance,
        litres: stop.units,
        fills: fillsOf(built, stop.customer, before, day),
        tankLitres: stop.tankUnits,
        refillAfterPlace: stop.refillAfter === null ? null : problem.refillPlaces[stop.refillAfter]!.place,
        missesWindow: stop.missesWindow,
      };
    });
  });
  return {
    visits,
    evaluation,
    riskMissed: visitsOf.flatMap((own, c) => missedAt(built, own, c)),
  };
}

function fillsOf(built: BuiltProblem, c: number, previousDay: number, day: number): PlannedFill[] {
  const { sites } = built.input;
  const { fillChoice, pots } = built.outlooks[c]!;
  return sites[c]!.pots.flatMap((pot, k) => {
    if (!isFilled(fillChoice, k, previousDay, day)) return [];
    const { roomLitres, drawableLitres, litresPerDay } = pots[k]!;
    const { useFactors } = sites[c]!;
    const since = previousDay >= 0 && isFilled(fillChoice, k, -1, previousDay) ? previousDay : -1;
    let litres = since < 0 ? roomLitres : 0;
    for (let d = Math.max(0, since); d < day; d++) {
      litres += litresPerDay * (useFactors[Math.min(d, useFactors.length - 1)] ?? 1);
    }
    const most = since < 0 ? Math.max(roomLitres, drawableLitres) : drawableLitres;
    return [{ containerId: pot.container.id, litres: Math.min(most, litres) }];
  });
}

/** Pots of one site whose first visit comes after its last safe day, with their chance of being dry by then. */
function missedAt(built: BuiltProblem, visits: readonly Visit[], c: number): RiskMissed[] {
  const { input, outlooks, visitInDays } = built;
  const { dayCount, firstDay } = input;
  const site = input.sites[c]!;
  const first = visits[0]?.day ?? null;
  return outlooks[c]!.pots.flatMap((pot, k) => {
    const chanceDry = chanceDryWithin(pot.dryTime, visitInDays[first ?? dayCount - 1]!);
    if (chanceDry <= site.dryRisk) return [];
    let lastSafe = -1;
    while (lastSafe + 1 < dayCount && chanceDryWithin(pot.dryTime, visitInDays[lastSafe + 1]!) <= site.dryRisk)
      lastSafe++;
    return [
      {
        siteId: site.site.id,
        containerId: site.pots[k]!.container.id,
        visitDay: first === null ? null : addDays(firstDay, first),
        lastSafeDay: addDays(firstDay, lastSafe),
        chanceDry,
      },
    ];
  });
}

/** The plan as it is told to people. */
export function asPublished(rounds: Rounds): readonly PublishedStop[] {
  return rounds.visits.map(({ siteId, personId, day, startMinute }) => ({ siteId, personId, day, startMinute }));
}

/**
 * Lays published stops out as a plan for the planner's present knowledge: the same days, people and order, litres as they
 * are expected now. Stops of people who have no tour that day are left out.
 */
export function publishedPlan(built: BuiltProblem): Plan {
  const inOrder = [...built.input.published].sort((a, b) => a.startMinute - b.startMinute);
  return layOut(
    built,
    inOrder.map(({ siteId, personId, day }) => ({ siteId, personId, day, refillBefore: null, refillAfter: null })),
  );
}

/**
 * Lays stops out as a plan, each round in the order of the list. Stops of people who have no tour that day, of sites that
 * are gone, and a second stop at a site on one day are left out. Fills of the tank stay where they were.
 */
export function layOut(built: BuiltProblem, stops: readonly LaidStop[]): Plan {
  const { problem, tourOf, input } = built;
  const customerOf = new Map(input.sites.map((one, c) => [one.site.id, c]));
  const laid: { tour: number; customer: number; day: number; stop: LaidStop }[] = [];
  const daysOf = new Map<number, number[]>();
  for (const stop of stops) {
    const tour = tourOf.get(tourKey(stop.personId, stop.day));
    const customer = customerOf.get(stop.siteId);
    if (tour === undefined || customer === undefined) continue;
    const { day } = problem.tours[tour]!;
    const days = daysOf.get(customer) ?? [];
    if (days.includes(day)) continue;
    days.push(day);
    daysOf.set(customer, days);
    laid.push({ tour, customer, day, stop });
  }
  const byTour = new Map<number, PlannedTour>();
  for (const { tour, customer, day, stop } of laid) {
    const before = Math.max(-1, ...daysOf.get(customer)!.filter((one) => one < day));
    const { demand } = problem.customers[customer]!;
    const units = demand.kind === 'risk' ? demand.units[before + 1]![day]! : 0;
    const extraMinutes = demand.kind === 'risk' ? demand.extraMinutes[before + 1]![day]! : 0;
    const minutes = stopMinutes(problem.customers[customer]!, units) + extraMinutes;
    const known = byTour.get(tour) ?? { tour, refillAtStart: refillIndex(built, stop.refillBefore), stops: [] };
    const refillAfter = refillIndex(built, stop.refillAfter);
    byTour.set(tour, { ...known, stops: [...known.stops, { customer, units, minutes, refillAfter }] });
  }
  const tours = [...byTour.values()];
  return { tours, cost: evaluatePlan(problem, { tours }).cost.total };
}

/** Index among the problem's refill places; null for none, and for one that is no more. */
function refillIndex({ input, problem }: BuiltProblem, refill: RefillStop | null): number | null {
  if (refill === null) return null;
  if (refill.kind === 'depot') {
    const depot = input.depots.findIndex((one) => one.id === refill.id);
    return depot < 0 ? null : depot;
  }
  const site = input.sites.findIndex((one) => one.site.id === refill.id);
  const index = problem.refillPlaces.findIndex((one, r) => r >= input.depots.length && one.place === site);
  return index < 0 ? null : index;
}

/** A refill place of the problem, as people name it. */
export function refillStopAt({ input, problem }: BuiltProblem, index: number | null): RefillStop | null {
  if (index === null) return null;
  if (index < input.depots.length) return { kind: 'depot', id: input.depots[index]!.id };
  return { kind: 'site', id: input.sites[problem.refillPlaces[index]!.place]!.site.id };
}
