import { daysBetween } from '../domain/local-day.js';
import type { Message } from '../domain/message.js';
import type { DraftRound, DraftStop, PlanContent, PlanTotals, PlanWish, RiskNotKept } from '../domain/plan.js';
import { type BuiltProblem, tourKey } from './build-problem.js';
import type { DeskInput } from './desk.js';
import { type ScheduledTour, visitsByCustomer } from './evaluate.js';
import { explainStop } from './explain.js';
import type { Customer, Plan, Tour } from './problem.js';
import { type RiskMissed, type Rounds, readRounds, refillStopAt } from './rounds.js';

/**
 * A plan in people's terms: each round with its stops, times, litres, tank and reasons, the pots whose risk it does not
 * keep and why, what it costs, and which wishes it does not keep.
 */
export function contentOf(built: BuiltProblem, desk: DeskInput, plan: Plan): PlanContent {
  const rounds = readRounds(built, plan);
  const drafted = draftRounds(built, desk, plan, rounds);
  const customerOf = new Map(built.input.sites.map((one, c) => [one.site.id, c]));
  const { input } = built;
  return {
    asOfMs: input.nowMs,
    firstDay: input.firstDay,
    dayCount: input.dayCount,
    timeZone: input.timeZone,
    wishes: desk.wishes,
    rounds: drafted,
    risks: rounds.riskMissed.map((missed) => riskNotKept(built, missed, customerOf.get(missed.siteId)!)),
    totals: totalsOf(drafted, rounds.evaluation.cost.total),
    brokenWishes: desk.wishes.filter((wish) => !keepsWish(drafted, wish, built)),
    assumptions: desk.assumptions,
  };
}

function draftRounds(built: BuiltProblem, desk: DeskInput, plan: Plan, rounds: Rounds): readonly DraftRound[] {
  const { input } = built;
  const visits = visitsByCustomer(built.problem, plan);
  const visitOf = new Map(rounds.visits.map((one) => [`${one.siteId} ${one.day}`, one]));
  const locked = new Set(input.sites.flatMap(({ site, locks }) => locks.map((lock) => `${site.id} ${lock.day}`)));
  const drafted = rounds.evaluation.tours.map((tour): DraftRound => {
    const crew = input.crew[tour.tour]!;
    const day = daysBetween(input.firstDay, crew.day);
    const stops = tour.stops.map((stop, index): DraftStop => {
      const { siteId, fills } = visitOf.get(`${input.sites[stop.customer]!.site.id} ${crew.day}`)!;
      const { reason, message } = explainStop(built, plan, stop.customer, day, visits);
      return {
        siteId,
        arrivalMinute: stop.arrivalMinute,
        startMinute: stop.startMinute,
        endMinute: stop.endMinute,
        driveMinutes: stop.driveMinutes,
        km: stop.distance,
        litres: stop.units,
        fills: fills.filter((fill) => fill.litres > 0),
        tankLitres: stop.tankUnits,
        refillBefore: index === 0 ? refillStopAt(built, tour.refillAtStart) : null,
        refillAfter: refillStopAt(built, stop.refillAfter),
        missesWindow: stop.missesWindow,
        reason,
        why: message,
        locked: locked.has(`${siteId} ${crew.day}`),
      };
    });
    return roundOf(tour, crew.personId, crew.day, crew.openMinute, stops);
  });
  for (const { personId } of desk.held) {
    if (drafted.some((round) => round.personId === personId && round.day === input.firstDay)) continue;
    const own = desk.held.filter((one) => one.personId === personId);
    const last = own.at(-1)!.stop.endMinute;
    drafted.push({ ...NOTHING_MORE, personId, day: input.firstDay, startMinute: last, finishMinute: last });
  }
  return drafted
    .map((round) => withHeld(round, desk, input.firstDay))
    .sort((a, b) => compare(a.day, b.day) || compare(a.personId, b.personId));
}

const NOTHING_MORE = {
  driveMinutes: 0,
  km: 0,
  litres: 0,
  overtimeMinutes: 0,
  exceedsShift: false,
  runsDry: false,
  stops: [],
} as const;

function roundOf(
  tour: ScheduledTour,
  personId: string,
  day: string,
  openMinute: number,
  stops: readonly DraftStop[],
): DraftRound {
  return {
    personId,
    day,
    startMinute: openMinute,
    finishMinute: tour.finishMinute,
    driveMinutes: tour.driveMinutes,
    km: tour.distance,
    litres: stops.reduce((sum, stop) => sum + stop.litres, 0),
    overtimeMinutes: tour.overtimeMinutes,
    exceedsShift: tour.exceedsShift,
    runsDry: tour.runsDry,
    stops,
  };
}

/** Stops that stay as they are come before those that were planned now. */
function withHeld(round: DraftRound, { held }: DeskInput, today: string): DraftRound {
  if (round.day !== today) return round;
  const own = held.filter((one) => one.personId === round.personId).map((one) => one.stop);
  if (own.length === 0) return round;
  return {
    ...round,
    startMinute: Math.min(round.startMinute, own[0]!.arrivalMinute - own[0]!.driveMinutes),
    driveMinutes: round.driveMinutes + own.reduce((sum, stop) => sum + stop.driveMinutes, 0),
    km: round.km + own.reduce((sum, stop) => sum + stop.km, 0),
    litres: round.litres + own.reduce((sum, stop) => sum + stop.litres, 0),
    stops: [...own, ...round.stops],
  };
}

function totalsOf(rounds: readonly DraftRound[], cost: number): PlanTotals {
  const sum = (value: (round: DraftRound) => number) => rounds.reduce((total, round) => total + value(round), 0);
  return {
    truckDays: rounds.length,
    stops: sum((round) => round.stops.length),
    km: sum((round) => round.km),
    driveMinutes: sum((round) => round.driveMinutes),
    workMinutes: sum((round) => round.stops.reduce((total, stop) => total + stop.endMinute - stop.startMinute, 0)),
    overtimeMinutes: sum((round) => round.overtimeMinutes),
    litres: sum((round) => round.litres),
    cost,
  };
}

/** Says why no visit comes in time: nobody works or may come there in time, or the days are full. */
function riskNotKept(built: BuiltProblem, missed: RiskMissed, c: number): RiskNotKept {
  const { siteId, containerId, visitDay, lastSafeDay, chanceDry } = missed;
  return { siteId, containerId, visitDay, lastSafeDay, chanceDryFraction: chanceDry, why: whyLate(built, missed, c) };
}

function whyLate({ input, problem }: BuiltProblem, { lastSafeDay }: RiskMissed, c: number): Message {
  const site = input.sites[c]!;
  const customer = problem.customers[c]!;
  if (lastSafeDay < input.firstDay) return { code: 'plan.risk.already', params: {} };
  const last = Math.min(input.dayCount - 1, daysBetween(input.firstDay, lastSafeDay));
  // Asked of thousands of pots: one pass over the tours, and no lists.
  let works = false;
  let suits = false;
  let carriesWater = false;
  for (let t = 0; t < problem.tours.length; t++) {
    const tour = problem.tours[t]!;
    if (tour.day > last) continue;
    works = true;
    if (!mayServe(customer, tour, t)) continue;
    suits = true;
    carriesWater ||= tour.tankUnits > 0;
  }
  if (!works) return { code: 'plan.risk.nobody_works', params: {} };
  if (site.windows.slice(0, last + 1).every((windows) => windows.length === 0)) {
    return { code: 'plan.risk.closed', params: {} };
  }
  if (!suits) return { code: 'plan.risk.nobody_suited', params: { needs: customer.skills.join(', ') } };
  if (customer.usesTank && !carriesWater) return { code: 'plan.risk.no_tank', params: {} };
  if (site.locks.length > 0) return { code: 'plan.risk.locked', params: {} };
  return { code: 'plan.risk.full', params: {} };
}

function mayServe({ forbiddenTours, skills }: Customer, tour: Tour, t: number): boolean {
  return !forbiddenTours.includes(t) && skills.every((skill) => tour.skills.includes(skill));
}

function keepsWish(rounds: readonly DraftRound[], wish: PlanWish, built: BuiltProblem): boolean {
  const visits = rounds.flatMap((round) => round.stops.map((stop, index) => ({ round, stop, index })));
  switch (wish.kind) {
    case 'lock':
      return visits.some(
        ({ round, stop, index }) =>
          stop.siteId === wish.siteId &&
          round.day === wish.day &&
          (wish.personId === null || round.personId === wish.personId) &&
          (wish.position !== 'first' || index === 0) &&
          (wish.position !== 'last' || index === round.stops.length - 1),
      );
    case 'forbid':
      return !visits.some(({ round, stop }) => stop.siteId === wish.siteId && round.personId === wish.personId);
    case 'not_before':
      return !visits.some(({ round, stop }) => stop.siteId === wish.siteId && round.day < wish.day);
    case 'pin': {
      const tour = built.tourOf.get(tourKey(wish.personId, wish.day));
      const own = tour === undefined ? null : (built.input.crew[tour]!.onlySites ?? null);
      const round = rounds.find((one) => one.personId === wish.personId && one.day === wish.day);
      const there = new Set(round?.stops.map((stop) => stop.siteId) ?? []);
      return own?.every((siteId) => there.has(siteId)) ?? false;
    }
  }
}

function compare(a: string, b: string): number {
  return a < b ? -1 : a > b ? 1 : 0;
}
