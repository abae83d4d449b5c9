import type { LocalDay, PersonId, SiteId } from '../domain/ids.js';
import { addDays } from '../domain/local-day.js';
import type { Message } from '../domain/message.js';
import type { PlanTotals, RiskNotKept, StopReason } from '../domain/plan.js';
import type { Rng } from '../domain/ports/clock.js';
import { type Board, openBoard, searchOn, type TravelOf } from './board.js';
import type { LaidStop } from './crew.js';
import type { DeskInput } from './desk.js';
import { scheduleTour, visitsByCustomer } from './evaluate.js';
import { explainNotToday, explainStop, lockCost } from './explain.js';
import { withFills } from './fills.js';
import { stopMinutes } from './gap-tables.js';
import { offerUrgent, type UrgentOffer, withoutPerson } from './replan.js';
import { areaRisk } from './risk.js';

/** One way to reach an urgent site, in people's terms. */
export interface Offer {
  readonly personId: PersonId;
  readonly day: LocalDay;
  /** Index among the stops of the round that are still to come. */
  readonly position: number;
  readonly arrivalMinute: number;
  readonly extraMinutes: number;
  readonly overtimeMinutes: number;
  readonly extraCost: number;
  readonly later: readonly { readonly siteId: SiteId; readonly minutes: number }[];
  /** Sites that would be reached after they close. */
  readonly missed: readonly SiteId[];
  readonly exceedsShift: boolean;
  readonly runsDry: boolean;
  /** Chance that a pot of the urgent site is dry: by the visit that is planned now, and by this one. */
  readonly riskBeforeFraction: number;
  readonly riskAfterFraction: number;
  /** Expected number of pots more that are dry at the sites that are reached later. */
  readonly riskMovedPots: number;
  /** All stops of the round to come, in their new order. */
  readonly order: readonly SiteId[];
}

/** Ranks the ways to fit an urgent site into today's rounds; empty where nobody works or may come. */
export function offersFor(board: Board, siteId: SiteId, most = 3): readonly Offer[] {
  const { built, plan } = board;
  const { problem, input } = built;
  const customer = input.sites.findIndex((one) => one.site.id === siteId);
  if (customer < 0) return [];
  const { demand } = problem.customers[customer]!;
  const litres = demand.kind === 'risk' ? demand.units[0]![0]! : 0;
  const extraMinutes = demand.kind === 'risk' ? demand.extraMinutes[0]![0]! : 0;
  const minutes = stopMinutes(problem.customers[customer]!, litres) + extraMinutes;
  // Where it is on one of today's rounds already, it is moved and not visited twice.
  const others = {
    ...plan,
    tours: plan.tours.map((tour) =>
      problem.tours[tour.tour]!.day === 0
        ? { ...tour, stops: tour.stops.filter((stop) => stop.customer !== customer) }
        : tour,
    ),
  };
  const next = visitsByCustomer(problem, plan)[customer]![0]?.day ?? input.dayCount - 1;
  const riskBeforeFraction = areaRisk(built.outlooks[customer]!.dryTimes, built.visitInDays[next]!).chanceAny;
  const question = { customer, day: 0, litres, minutes, frozenStops: new Map<number, number>() };
  return offerUrgent(built, others, question, most).map((offer) => ({
    personId: input.crew[offer.tour]!.personId,
    day: input.crew[offer.tour]!.day,
    position: offer.position,
    arrivalMinute: offer.arrivalMinute,
    extraMinutes: offer.extraMinutes,
    overtimeMinutes: offer.overtimeMinutes,
    extraCost: offer.extraCost,
    later: offer.later,
    missed: offer.missed,
    ...runOf(board, offer),
    riskBeforeFraction,
    riskAfterFraction: areaRisk(built.outlooks[customer]!.dryTimes, inDays(board, offer.arrivalMinute)).chanceAny,
    riskMovedPots: riskMoved(board, offer),
    order: offer.plan.stops.map((stop) => input.sites[stop.customer]!.site.id),
  }));
}

function runOf({ built }: Board, { plan }: UrgentOffer): Pick<Offer, 'exceedsShift' | 'runsDry'> {
  const { exceedsShift, runsDry } = scheduleTour(built.problem, withFills(built.problem, plan));
  return { exceedsShift, runsDry };
}

/** Days from now until a minute of the first day. */
function inDays({ built }: Board, minute: number): number {
  // A visit at the hour of the settings lies `visitInDays[0]` ahead.
  return Math.max(0, built.visitInDays[0]! + (minute - built.input.settings.visitedByHour * 60) / 1440);
}

function riskMoved(board: Board, { later, plan }: UrgentOffer): number {
  const { built } = board;
  const run = scheduleTour(built.problem, plan);
  let moved = 0;
  for (const { siteId, minutes } of later) {
    const stop = run.stops.find((one) => built.input.sites[one.customer]!.site.id === siteId);
    if (stop === undefined) continue;
    const { dryTimes } = built.outlooks[stop.customer]!;
    moved +=
      areaRisk(dryTimes, inDays(board, stop.startMinute)).expectedDry -
      areaRisk(dryTimes, inDays(board, stop.startMinute - minutes)).expectedDry;
  }
  return moved;
}

/** What the plan has to say of one site. */
export interface SiteStory {
  readonly visits: readonly {
    readonly day: LocalDay;
    readonly personId: PersonId;
    readonly litres: number;
    readonly reason: StopReason;
    readonly why: Message;
  }[];
  /** Null: it is visited today. */
  readonly whyNotToday: Message | null;
  /** Last day on which the first visit keeps the accepted risk; null where that lies past the plan. */
  readonly lastSafeDay: LocalDay | null;
  /** Chance that at least one pot is dry by each day of the plan if nobody comes. */
  readonly riskByDay: readonly { readonly day: LocalDay; readonly chanceAnyFraction: number }[];
  /** What the site's locks cost; null where it has none. */
  readonly lockCost: Message | null;
}

/** @param iterations of the search for what a lock costs */
export function siteStory(board: Board, siteId: SiteId, rng: Rng, iterations: number): SiteStory | null {
  const { built, plan } = board;
  const { input, outlooks, visitInDays } = built;
  const customer = input.sites.findIndex((one) => one.site.id === siteId);
  if (customer < 0) return null;
  const visits = visitsByCustomer(built.problem, plan);
  const own = visits[customer]!;
  const last = outlooks[customer]!.latestDay[0]!;
  return {
    visits: own.map(({ day, tour, units }) => {
      const { reason, message } = explainStop(built, plan, customer, day, visits);
      return {
        day: input.crew[tour]!.day,
        personId: input.crew[tour]!.personId,
        litres: units,
        reason,
        why: message,
      };
    }),
    whyNotToday: own[0]?.day === 0 ? null : explainNotToday(built, plan, customer),
    lastSafeDay: last >= input.dayCount ? null : addDays(input.firstDay, last),
    riskByDay: visitInDays.map((days, d) => ({
      day: addDays(input.firstDay, d),
      chanceAnyFraction: areaRisk(outlooks[customer]!.dryTimes, days).chanceAny,
    })),
    lockCost: input.sites[customer]!.locks.length === 0 ? null : lockCost(built, plan, customer, rng, iterations),
  };
}

/** What is supposed on a copy of the plan. */
export interface Supposition {
  /** Hotter by this many degrees, for as long as the plan reaches. */
  readonly hotterByC: number | null;
  /** Somebody who is not there, on all days of the plan or on some. */
  readonly withoutPersonId: PersonId | null;
  readonly days: readonly LocalDay[] | null;
  /** Another accepted chance of a dry pot, for every account. */
  readonly dryRiskFraction: number | null;
}

export interface Supposed {
  readonly asIs: PlanTotals;
  readonly supposed: PlanTotals;
  readonly risksAsIs: readonly RiskNotKept[];
  readonly risksSupposed: readonly RiskNotKept[];
}

/** Mean temperature that a heat wave is added to where nothing better is known; ours, no source. */
const WARM_DAY_C = 25;

/**
 * Reference evapotranspiration of a day that is hotter, over that of the day as it is: by Hargreaves and Samani 1985 it
 * goes with mean temperature + 17.8 where the radiation and the daily range stay (FAO-56, equation 52).
 */
export function heatFactor(hotterByC: number): number {
  return (WARM_DAY_C + 17.8 + hotterByC) / (WARM_DAY_C + 17.8);
}

/** Plans a copy under a supposition, and the plan as it is with the same effort, so that the two can be compared. */
export function whatIf(
  desk: DeskInput,
  base: readonly LaidStop[],
  supposition: Supposition,
  travelOf: TravelOf,
  rngOf: () => Rng,
  iterations: number,
): Supposed {
  const { hotterByC, withoutPersonId, days, dryRiskFraction } = supposition;
  let plan = desk.plan;
  if (dryRiskFraction !== null) {
    plan = { ...plan, sites: plan.sites.map((site) => ({ ...site, dryRisk: dryRiskFraction })) };
  }
  if (withoutPersonId !== null) {
    const everyDay = [...new Set(plan.crew.map((one) => one.day))];
    plan = withoutPerson(plan, withoutPersonId, days ?? everyDay);
  }
  if (hotterByC !== null) plan = { ...plan, useFactor: (plan.useFactor ?? 1) * heatFactor(hotterByC) };
  const search = (input: DeskInput) => {
    const board = openBoard(input, base, desk.wishes, travelOf);
    return searchOn(board, rngOf(), { iterations, heat: 0.2 }).content;
  };
  const asIs = search(desk);
  const supposed = search({ ...desk, plan });
  return {
    asIs: asIs.totals,
    supposed: supposed.totals,
    risksAsIs: asIs.risks,
    risksSupposed: supposed.risks,
  };
}
