import type { LocalDay, SiteId } from '../domain/ids.js';
import { LocalDays } from '../domain/local-day.js';
import type { Message } from '../domain/message.js';
import type { DraftRound, PlanContent, PlanWish } from '../domain/plan.js';
import type { Rng } from '../domain/ports/clock.js';
import { type BuiltProblem, buildProblem, type PlanInput, planPoints, tourKey } from './build-problem.js';
import { contentOf } from './content.js';
import type { LaidStop, PublishedStop } from './crew.js';
import { type DeskInput, stopsOfDraft, withWishes } from './desk.js';
import { differences, type PlanChange } from './differences.js';
import { applyEdits, type PlanEdit } from './edits.js';
import { newEffects, type PlanEffect } from './effects.js';
import { evaluatePlan, scheduleTour } from './evaluate.js';
import { withFills } from './fills.js';
import type { Plan, PlannedTour, Problem } from './problem.js';
import { layOut } from './rounds.js';
import { type SolveOptions, solve } from './solve.js';
import type { GeoPoint, TravelMatrix } from './travel.js';

/** A draft laid out before the planner's present knowledge. */
export interface Board {
  readonly desk: DeskInput;
  readonly built: BuiltProblem;
  readonly plan: Plan;
}

export type TravelOf = (points: readonly GeoPoint[]) => TravelMatrix;

/**
 * Lays a draft out under some wishes.
 * @param like a board of the same desk; where it has the same wishes its problem is taken over, and not built again
 */
export function openBoard(
  desk: DeskInput,
  base: readonly LaidStop[],
  wishes: readonly PlanWish[],
  travelOf: TravelOf,
  like: Board | null = null,
): Board {
  const same = like !== null && sameForAnyDraft(wishes, like.desk.wishes);
  const built = same ? like.built : buildFrom(withWishes(desk.plan, wishes, base), travelOf);
  return { desk: { ...desk, wishes }, built, plan: layOut(built, base) };
}

function buildFrom(input: PlanInput, travelOf: TravelOf): BuiltProblem {
  return buildProblem(input, travelOf(planPoints(input)));
}

/** A pinned round consists of the stops that the draft has on it; the other wishes say the same of every draft. */
function sameForAnyDraft(wishes: readonly PlanWish[], others: readonly PlanWish[]): boolean {
  return wishes.every((wish) => wish.kind !== 'pin') && JSON.stringify(wishes) === JSON.stringify(others);
}

export function boardContent({ built, desk, plan }: Board): PlanContent {
  return contentOf(built, desk, plan);
}

export interface Searched {
  readonly content: PlanContent;
  /** False where nothing better was found than what is laid out, its changes priced in. */
  readonly better: boolean;
}

/** Below this nobody is told of another plan: it is the rounding of sums. */
const SAVING_WORTH_TELLING = 1e-6;

/** Searches on from what is laid out. It stays as it is unless another plan saves more than its changes cost. */
export function searchOn(
  board: Board,
  rng: Rng,
  options: Pick<SolveOptions, 'iterations' | 'progress' | 'heat' | 'onBetter'>,
): Searched {
  const { built, plan } = board;
  // With nobody to send there is nothing to decide: the plan then says which pots it leaves, and why.
  if (built.problem.tours.length === 0) return { content: boardContent(board), better: false };
  const before = evaluatePlan(built.problem, plan);
  const { plan: found } = solve(built.problem, rng, { ...options, start: plan });
  const better = !before.feasible || found.cost < before.cost.total - SAVING_WORTH_TELLING;
  return { content: boardContent(better ? { ...board, plan: found } : board), better };
}

export interface Edited {
  readonly content: PlanContent;
  readonly stops: readonly LaidStop[];
  /** What could not be done; then nothing was done. */
  readonly refused: readonly Message[];
  /** What is wrong or worth knowing now and was not before. */
  readonly effects: readonly PlanEffect[];
  /** Against the draft before the edits. */
  readonly changes: readonly PlanChange[];
  readonly extraCost: number;
  readonly extraDriveMinutes: number;
  /** The rounds that are not as they were, as they are now; one that lost its last stop is there without stops. */
  readonly changedRounds: readonly DraftRound[];
}

/**
 * Does edits to a draft and says at once what they bring: times, tanks, overtime, who runs dry.
 * @param before the draft `base` as it is laid out
 */
export function editBoard(
  before: Board,
  base: readonly LaidStop[],
  edits: readonly PlanEdit[],
  travelOf: TravelOf,
): Edited {
  const { desk } = before;
  const { firstDay } = desk.plan;
  const held = new Set(desk.held.map((one) => one.stop.siteId));
  const edited = applyEdits(base, desk.wishes, edits, held, firstDay);
  const refused = [...edited.refused, ...edits.flatMap((edit) => impossible(before, edit))];
  const contentBefore = boardContent(before);
  if (refused.length > 0) {
    return {
      content: contentBefore,
      stops: base,
      refused,
      effects: [],
      changes: [],
      extraCost: 0,
      extraDriveMinutes: 0,
      changedRounds: [],
    };
  }
  const laid = openBoard(desk, edited.stops, edited.wishes, travelOf);
  const touched = touchedTours(before, laid);
  const after = { ...laid, plan: settle(laid.built.problem, laid, edited.toPlace, touched) };
  const content = boardContent(after);
  return {
    content,
    stops: stopsOfDraft(content),
    refused,
    effects: [...newEffects(after.built, after.desk, contentBefore, content)],
    changes: differences(toldStops(contentBefore), toldStops(content)),
    extraCost: content.totals.cost - contentBefore.totals.cost,
    extraDriveMinutes: content.totals.driveMinutes - contentBefore.totals.driveMinutes,
    changedRounds: changedRounds(contentBefore, content),
  };
}

function changedRounds(before: PlanContent, after: PlanContent): readonly DraftRound[] {
  const keyOf = ({ day, personId }: DraftRound) => `${day} ${personId}`;
  const old = new Map(before.rounds.map((round) => [keyOf(round), round]));
  const kept = new Set(after.rounds.map(keyOf));
  const same = (round: DraftRound) => {
    const known = old.get(keyOf(round));
    const times = ({ stops }: DraftRound) =>
      stops.map((stop) => `${stop.siteId} ${Math.round(stop.startMinute)}`).join();
    return known !== undefined && times(known) === times(round);
  };
  return [
    ...after.rounds.filter((round) => !same(round)),
    ...before.rounds
      .filter((round) => !kept.has(keyOf(round)))
      .map((round) => ({ ...round, ...EMPTY_ROUND, finishMinute: round.startMinute })),
  ];
}

const EMPTY_ROUND = {
  driveMinutes: 0,
  km: 0,
  litres: 0,
  overtimeMinutes: 0,
  exceedsShift: false,
  runsDry: false,
  stops: [],
} as const;

/** The visits of a draft, as people are told of them. */
export function toldStops(content: Pick<PlanContent, 'rounds'>): readonly PublishedStop[] {
  return content.rounds.flatMap(({ personId, day, stops }) =>
    stops.map(({ siteId, startMinute }) => ({ siteId, personId, day, startMinute })),
  );
}

/** A stop needs a round to stand on, and a site that is there. */
function impossible({ built, desk }: Board, edit: PlanEdit): readonly Message[] {
  const { input, tourOf } = built;
  if ('siteId' in edit && !input.sites.some((one) => one.site.id === edit.siteId)) {
    return [{ code: 'plan.refused.no_site', params: {} }];
  }
  const day = edit.kind === 'move' ? edit.toDay : edit.kind === 'add' || edit.kind === 'pin' ? edit.day : null;
  if (day === null || !('personId' in edit) || edit.personId === null) return [];
  if (tourOf.has(tourKey(edit.personId, day))) return [];
  const person = desk.personNames[edit.personId] ?? edit.personId;
  const dayMs = new LocalDays(input.timeZone).startMs(day);
  return [{ code: 'plan.refused.no_round', params: { person, dayMs } }];
}

function touchedTours(before: Board, after: Board): ReadonlySet<number> {
  const key = ({ stops }: PlannedTour) => stops.map((stop) => stop.customer).join();
  const old = new Map(before.plan.tours.map((tour) => [tour.tour, key(tour)]));
  return new Set(after.plan.tours.filter((tour) => old.get(tour.tour) !== key(tour)).map((tour) => tour.tour));
}

/** Finds the place of stops that were given none, and fills tanks anew on the rounds that changed. */
function settle(
  problem: Problem,
  { built, plan }: Board,
  toPlace: readonly { readonly siteId: SiteId; readonly day: LocalDay }[],
  touched: ReadonlySet<number>,
): Plan {
  const customerOf = new Map(built.input.sites.map((one, c) => [one.site.id, c]));
  const tours = plan.tours.map((tour) => {
    if (!touched.has(tour.tour)) return tour;
    const { day } = built.input.crew[tour.tour]!;
    let bare: PlannedTour = {
      tour: tour.tour,
      refillAtStart: null,
      stops: tour.stops.map((stop) => ({ ...stop, refillAfter: null })),
    };
    for (const one of toPlace) {
      if (one.day === day) bare = bestPlaced(problem, bare, customerOf.get(one.siteId) ?? -1);
    }
    return withFills(problem, bare);
  });
  return { tours, cost: evaluatePlan(problem, { tours }).cost.total };
}

function bestPlaced(problem: Problem, tour: PlannedTour, customer: number): PlannedTour {
  const stop = tour.stops.find((one) => one.customer === customer);
  if (stop === undefined) return tour;
  const rest = tour.stops.filter((one) => one !== stop);
  let best = tour;
  let least = Number.POSITIVE_INFINITY;
  for (let at = 0; at <= rest.length; at++) {
    const tried = { ...tour, stops: [...rest.slice(0, at), stop, ...rest.slice(at)] };
    const run = scheduleTour(problem, tried);
    const missed = run.stops.filter((one) => one.missesWindow).length;
    const cost = run.driveMinutes + 60 * run.overtimeMinutes + 10_000 * missed;
    if (cost < least) {
      least = cost;
      best = tried;
    }
  }
  return best;
}
