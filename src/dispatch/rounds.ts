import type { LocalDay, PersonId, SiteId } from '../domain/ids.js';
import { addDays, daysBetween } from '../domain/local-day.js';
import type { BuiltProblem } from './build-problem.js';
import type { PlannedFill, PublishedStop } from './crew.js';
import { type Evaluation, evaluatePlan, type Visit, visitsByCustomer } from './evaluate.js';
import type { Plan, PlannedTour } from './problem.js';
import { chanceDryWithin } from './risk.js';

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
  const previous = new Map<string, number>();
  visitsByCustomer(problem, plan).forEach((own, c) => {
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
    riskMissed: visitsByCustomer(problem, plan).flatMap((own, c) => missedAt(built, own, c)),
  };
}

function fillsOf(built: BuiltProblem, c: number, previousDay: number, day: number): PlannedFill[] {
  const { sites } = built.input;
  return sites[c]!.pots.map((pot, k) => {
    const { roomLitres, drawableLitres, litresPerDay } = built.outlooks[c]!.pots[k]!;
    const { useFactors } = sites[c]!;
    let litres = previousDay < 0 ? roomLitres : 0;
    for (let d = Math.max(0, previousDay); d < day; d++) {
      litres += litresPerDay * (useFactors[Math.min(d, useFactors.length - 1)] ?? 1);
    }
    const most = previousDay < 0 ? Math.max(roomLitres, drawableLitres) : drawableLitres;
    return { containerId: pot.container.id, litres: Math.min(most, litres) };
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
  const { input, problem, tourOf } = built;
  const customerOf = new Map(input.sites.map((one, c) => [one.site.id, c]));
  const byTour = new Map<number, { customer: number; startMinute: number }[]>();
  const daysOf = new Map<number, number[]>();
  for (const stop of input.published) {
    const tour = tourOf.get(`${stop.day} ${stop.personId}`);
    const customer = customerOf.get(stop.siteId);
    if (tour === undefined || customer === undefined) continue;
    const list = byTour.get(tour) ?? [];
    list.push({ customer, startMinute: stop.startMinute });
    byTour.set(tour, list);
    daysOf.set(
      customer,
      [...(daysOf.get(customer) ?? []), problem.tours[tour]!.day].sort((a, b) => a - b),
    );
  }
  const tours = [...byTour].map(([tour, list]): PlannedTour => {
    const { day } = problem.tours[tour]!;
    list.sort((a, b) => a.startMinute - b.startMinute || a.customer - b.customer);
    const stops = list.map(({ customer }) => {
      const before =
        daysOf
          .get(customer)!
          .filter((one) => one < day)
          .at(-1) ?? -1;
      const { demand } = problem.customers[customer]!;
      const units = demand.kind === 'risk' ? demand.units[before + 1]![day]! : 0;
      return { customer, units, refillAfter: null };
    });
    return { tour, refillAtStart: null, stops };
  });
  return { tours, cost: evaluatePlan(problem, { tours }).cost.total };
}
