import { addDays, daysBetween, LocalDays } from '../domain/local-day.js';
import type { Message } from '../domain/message.js';
import type { StopReason } from '../domain/plan.js';
import type { Rng } from '../domain/ports/clock.js';
import type { BuiltProblem } from './build-problem.js';
import { evaluatePlan, scheduleTour, type Visit, visitsByCustomer } from './evaluate.js';
import type { Plan, Problem } from './problem.js';
import { areaRisk } from './risk.js';
import { solve } from './solve.js';

export interface StopExplanation {
  readonly reason: StopReason;
  readonly message: Message;
}

/**
 * Why a site is visited on a day: the strongest reason that asks for this very visit, with its numbers. A visit before its
 * last safe day that nothing else asks for is a top-up.
 * @param day index within the horizon
 * @param allVisits `visitsByCustomer` of the plan, for who asks of many stops
 * @throws RangeError where the plan has no such visit
 */
export function explainStop(
  built: BuiltProblem,
  plan: Plan,
  customer: number,
  day: number,
  allVisits: readonly (readonly Visit[])[] = visitsByCustomer(built.problem, plan),
): StopExplanation {
  const { input, outlooks, problem, visitInDays } = built;
  const visits = allVisits[customer]!;
  const visit = visits.find((one) => one.day === day);
  if (visit === undefined)
    throw new RangeError(`The plan has no visit at ${problem.customers[customer]!.id} on day ${day}.`);
  const site = input.sites[customer]!;
  const outlook = outlooks[customer]!;
  const days = new LocalDays(input.timeZone);
  const startMs = (index: number) => days.startMs(addDays(input.firstDay, index));
  const previous = visits.filter((one) => one.day < day).at(-1)?.day ?? -1;
  const last = outlook.latestDay[previous + 1]!;
  if (site.locks.some((lock) => daysBetween(input.firstDay, lock.day) === day)) {
    return { reason: 'locked', message: { code: 'round.reason.locked', params: {} } };
  }
  if (previous < 0) {
    const due = (origin: 'finding' | 'person') =>
      Math.min(...site.tasks.filter((task) => task.origin === origin).map((task) => task.dueByMs));
    for (const [origin, reason] of [
      ['finding', 'alarm'],
      ['person', 'client_call'],
    ] as const) {
      const dueMs = due(origin);
      // Only where it is due by then or before the water asks for a visit.
      if (dueMs < startMs(Math.max(day, Math.min(last, outlook.waterLatestDay[0]!)) + 1)) {
        return { reason, message: { code: `round.reason.${reason}`, params: { dueMs } } };
      }
    }
    const missed = input.published.find((one) => one.siteId === site.site.id && one.day < input.firstDay);
    if (missed !== undefined && day === 0) {
      return {
        reason: 'carry_over',
        message: { code: 'round.reason.carry_over', params: { plannedMs: days.startMs(missed.day) } },
      };
    }
  }
  const risk = areaRisk(outlook.dryTimes, previous < 0 ? visitInDays[day]! : 0).chanceAny;
  if (last < day) return { reason: 'must', message: { code: 'round.reason.late', params: { riskFraction: risk } } };
  if (last === day) {
    if (previous < 0 && site.agreedBy !== null && daysBetween(input.firstDay, site.agreedBy) === day) {
      return { reason: 'agreement', message: { code: 'round.reason.agreement', params: { lastMs: startMs(day) } } };
    }
    if (previous < 0 && outlook.waterLatestDay[0]! > day) {
      const dueMs = Math.min(...site.tasks.map((task) => task.dueByMs));
      return { reason: 'care', message: { code: 'round.reason.care', params: { dueMs } } };
    }
    // After an earlier visit the accepted risk is what a day's wait would reach.
    const waiting = previous < 0 ? areaRisk(outlook.dryTimes, visitInDays[day]! + 1).chanceAny : site.dryRisk;
    return {
      reason: 'must',
      message: { code: 'round.reason.must', params: { lastMs: startMs(last), riskFraction: waiting } },
    };
  }
  return {
    reason: 'top_up',
    message: {
      code: 'round.reason.top_up',
      params: { lastMs: startMs(last), extraMinutes: detourMinutes(problem, plan, customer, visit.tour) },
    },
  };
}

/** Driving minutes that a stop adds to its tour. */
export function detourMinutes(problem: Problem, plan: Plan, customer: number, tour: number): number {
  const planned = plan.tours.find((one) => one.tour === tour)!;
  const without = { ...planned, stops: planned.stops.filter((stop) => stop.customer !== customer) };
  return scheduleTour(problem, planned).driveMinutes - scheduleTour(problem, without).driveMinutes;
}

/** Why a site is not visited today, and what is risked until its next visit. */
export function explainNotToday(built: BuiltProblem, plan: Plan, customer: number): Message {
  const { input, outlooks, problem, visitInDays } = built;
  const next = visitsByCustomer(problem, plan)[customer]!.find((one) => one.day > 0);
  const days = new LocalDays(input.timeZone);
  const within = visitInDays[next?.day ?? problem.dayCount - 1]!;
  const riskFraction = areaRisk(outlooks[customer]!.dryTimes, within).chanceAny;
  if (next === undefined) return { code: 'round.not_today.later', params: { riskFraction } };
  const nextMs = days.startMs(addDays(input.firstDay, next.day));
  if (input.sites[customer]!.windows[0]!.length === 0) return { code: 'round.not_today.closed', params: { nextMs } };
  return { code: 'round.not_today.planned', params: { nextMs, riskFraction } };
}

/**
 * What the locks of one site cost: the plan against the best one found without them.
 * @param iterations of the search without the locks, from the plan on
 */
export function lockCost(built: BuiltProblem, plan: Plan, customer: number, rng: Rng, iterations: number): Message {
  const { problem } = built;
  const free: Problem = {
    ...problem,
    customers: problem.customers.map((one, c) => (c === customer ? { ...one, locks: [] } : one)),
  };
  const before = evaluatePlan(problem, plan);
  const { plan: other } = solve(free, rng, { iterations, start: plan, heat: 0.1 });
  const after = evaluatePlan(free, other);
  const extraCost = before.cost.total - after.cost.total;
  if (extraCost <= 1e-6) return { code: 'round.lock_free', params: {} };
  const minutes = (one: typeof before) => one.tours.reduce((sum, tour) => sum + tour.driveMinutes, 0);
  return { code: 'round.lock_costs', params: { extraMinutes: minutes(before) - minutes(after), extraCost } };
}
