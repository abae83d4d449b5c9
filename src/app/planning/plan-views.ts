import { toldStops } from '../../dispatch/board.js';
import { differences, type PlanChange } from '../../dispatch/differences.js';
import { nervousness } from '../../dispatch/replan.js';
import { type Principal, WHOLE_FLEET } from '../../domain/access.js';
import type { Absence } from '../../domain/crew.js';
import type { EpochMs, LocalDay, PersonId, SiteId } from '../../domain/ids.js';
import { addDays } from '../../domain/local-day.js';
import type { PlanCause, PlanContent, PublishedVisit } from '../../domain/plan.js';
import type { RoundStop } from '../../domain/work.js';
import { type App, allowed } from '../context.js';
import { usualZone } from '../fieldwork/round-views.js';
import { fleetView, localDaysOf } from '../fleet-view.js';
import { PLAN_DAYS, publishedStops } from './plan-input.js';
import type { Planner, PlannerState } from './planner.js';

export interface DraftView extends PlanContent {
  readonly seq: number;
  readonly madeMs: EpochMs;
  /** Name of the person, or `planner`. */
  readonly madeBy: string;
  readonly cause: PlanCause;
  readonly canUndo: boolean;
}

export interface PublishedStopView extends RoundStop {
  /** What was planned for it when it was published; null for a stop that a person put there. */
  readonly plan: PublishedVisit | null;
}

export interface PublishedRoundView {
  readonly technicianId: PersonId;
  readonly day: LocalDay;
  readonly stops: readonly PublishedStopView[];
}

/** The board of the coming days. */
export interface PlanView {
  readonly asOfMs: EpochMs;
  readonly firstDay: LocalDay;
  readonly dayCount: number;
  readonly timeZone: string;
  readonly state: PlannerState & { readonly publish: 'nightly' | 'by_hand'; readonly automatic: boolean };
  /** Null before the first run. */
  readonly draft: DraftView | null;
  readonly published: readonly PublishedRoundView[];
  /** From what is published to the draft; stops that are done or held are in neither. */
  readonly changes: readonly PlanChange[];
  /** How much the draft upsets what people were told, 0-1. */
  readonly nervousnessFraction: number;
  readonly absences: readonly Absence[];
  readonly people: readonly { readonly id: PersonId; readonly name: string }[];
  readonly sites: readonly {
    readonly id: SiteId;
    readonly name: string;
    readonly accountName: string;
    readonly latitude: number;
    readonly longitude: number;
    readonly tap: boolean;
  }[];
}

/** The plan as it stands: published and draft rounds, their differences, and what the planner is doing. */
export async function planView(app: App, planner: Planner, who: Principal): Promise<PlanView> {
  allowed(who, 'plan.read');
  const { store } = app;
  const nowMs = app.clock.nowMs();
  const fleet = await fleetView(store, WHOLE_FLEET, nowMs);
  const timeZone = usualZone(fleet);
  const firstDay = localDaysOf(timeZone).dayOf(nowMs);
  const lastDay = addDays(firstDay, PLAN_DAYS - 1);
  const [latest, stops, told, absences, people] = await Promise.all([
    store.plans.latestVersion(),
    store.work.roundStops({ fromDay: firstDay, toDay: lastDay, technicianId: null }),
    store.plans.publishedVisits(firstDay, lastDay),
    store.crew.absences({ fromDay: firstDay }),
    store.people.people(),
  ]);
  const toldOf = new Map(told.map((one) => [one.stopId, one]));
  const nameOf = new Map(people.map((person) => [person.id, person.name]));
  const active = stops.filter((stop) => stop.state !== 'cancelled');
  const draft = latest === null ? null : { ...latest.content, rounds: toCome(latest.content, firstDay, active) };
  const before = publishedStops(
    active.filter((stop) => stop.state === 'planned' && !isHeld(draft, stop)),
    toldOf,
  );
  const after = draft === null ? [] : toldStops({ rounds: withoutFrozen(draft) });
  return {
    asOfMs: nowMs,
    firstDay,
    dayCount: PLAN_DAYS,
    timeZone,
    state: { ...planner.state(), publish: planner.settings.publish, automatic: planner.settings.automatic },
    draft:
      latest === null || draft === null
        ? null
        : {
            ...draft,
            seq: latest.seq,
            madeMs: latest.madeMs,
            madeBy: nameOf.get(latest.madeBy) ?? latest.madeBy,
            cause: latest.cause,
            canUndo: latest.previousSeq !== null && (await store.plans.version(latest.previousSeq)) !== null,
          },
    published: publishedRounds(active, toldOf),
    changes: draft === null ? [] : differences(before, after),
    nervousnessFraction: draft === null ? 0 : nervousness(before, after, firstDay),
    absences,
    people: people
      .filter((person) => person.role === 'technician' && person.disabledAtMs === null)
      .map(({ id, name }) => ({ id, name })),
    sites: [...fleet.sites.values()].map(({ id, name, accountId, latitude, longitude, tap }) => ({
      id,
      name,
      accountName: fleet.accounts.get(accountId)?.name ?? accountId,
      latitude,
      longitude,
      tap,
    })),
  };
}

/** The draft's rounds from today on, without what has been done since it was made. */
function toCome(content: PlanContent, today: LocalDay, stops: readonly RoundStop[]): PlanContent['rounds'] {
  const over = new Set(stops.filter((stop) => stop.day === today && stop.state === 'done').map((stop) => stop.siteId));
  return content.rounds
    .filter((round) => round.day >= today)
    .map((round) =>
      round.day === today ? { ...round, stops: round.stops.filter((stop) => !over.has(stop.siteId)) } : round,
    );
}

function withoutFrozen(content: Pick<PlanContent, 'rounds'>): PlanContent['rounds'] {
  return content.rounds.map((round) => ({ ...round, stops: round.stops.filter((stop) => stop.reason !== 'frozen') }));
}

function isHeld(draft: Pick<PlanContent, 'rounds'> | null, stop: RoundStop): boolean {
  const round = draft?.rounds.find((one) => one.day === stop.day && one.personId === stop.technicianId);
  return round?.stops.some((one) => one.siteId === stop.siteId && one.reason === 'frozen') ?? false;
}

function publishedRounds(
  stops: readonly RoundStop[],
  toldOf: ReadonlyMap<string, PublishedVisit>,
): readonly PublishedRoundView[] {
  const rounds = new Map<string, PublishedStopView[]>();
  for (const stop of stops) {
    const key = `${stop.day} ${stop.technicianId}`;
    const list = rounds.get(key) ?? [];
    list.push({ ...stop, plan: toldOf.get(stop.id) ?? null });
    rounds.set(key, list);
  }
  return [...rounds]
    .sort(([a], [b]) => (a < b ? -1 : 1))
    .map(([, list]) => ({
      technicianId: list[0]!.technicianId,
      day: list[0]!.day,
      stops: list.sort((a, b) => a.position - b.position || (a.id < b.id ? -1 : 1)),
    }));
}
