import { isOpen } from '../../alerts/task-life.js';
import { isoWeekday } from '../../alerts/work-calendar.js';
import { type LaidStop, PLAN_SETTINGS, type PlannedSite, type PublishedStop } from '../../dispatch/crew.js';
import type { DeskInput, HeldStop } from '../../dispatch/desk.js';
import type { TimeWindow } from '../../dispatch/problem.js';
import { TRAVEL_SETTINGS, type TravelSettings } from '../../dispatch/travel.js';
import { WHOLE_FLEET } from '../../domain/access.js';
import { type SiteTerms, usualCrewTerms, usualSiteTerms } from '../../domain/crew.js';
import { et0OfDay } from '../../domain/day-et0.js';
import type { LocalDay, PersonId, SiteId } from '../../domain/ids.js';
import { addDays, DAY_MS, daysBetween } from '../../domain/local-day.js';
import type { PlanWish, PublishedVisit } from '../../domain/plan.js';
import type { PotStatus } from '../../domain/pot.js';
import type { Container, Site } from '../../domain/registry.js';
import type { WeatherDay } from '../../domain/weather.js';
import type { RoundStop, Task, Visit } from '../../domain/work.js';
import type { App } from '../context.js';
import { usualZone } from '../fieldwork/round-views.js';
import { type FleetView, fleetView, localDaysOf } from '../fleet-view.js';
import { crewDaysOf, shiftOf, underwayOf } from './plan-crew.js';

export const PLAN_DAYS = 14;
/** An agreement is reckoned from the last visit within this time. */
const VISITS_BACK_DAYS = 120;
/** A published stop of which no time is known is taken to start here, and later ones at this distance. */
const FIRST_STOP_MINUTE = 8 * 60;
const BETWEEN_STOPS_MINUTES = 40;

/** What a plan is made from, as the store has it now. */
export interface LoadedPlan {
  readonly desk: DeskInput;
  /** The rounds that people have been told of, laid out. */
  readonly published: readonly LaidStop[];
  readonly travel: TravelSettings;
}

/**
 * Loads all that the planner goes by: sites with their pots, forecasts, tasks and terms, the crew's days, and the rounds
 * that are published. What is done, under way or next today is no choice any more, and goes in as where the day goes on.
 */
export async function loadPlan(app: App, wishes: readonly PlanWish[], dayCount = PLAN_DAYS): Promise<LoadedPlan> {
  const { store } = app;
  const nowMs = app.clock.nowMs();
  const fleet = await fleetView(store, WHOLE_FLEET, nowMs);
  const timeZone = usualZone(fleet);
  const days = localDaysOf(timeZone);
  const firstDay = days.dayOf(nowMs);
  const lastDay = addDays(firstDay, dayCount - 1);
  const nowMinute = Math.floor(days.wallHour(nowMs) * 60);
  const [statuses, tasks, people, depots, trucks, terms, siteTerms, absences, stops, told, pace, visits] =
    await Promise.all([
      store.pots.statuses(WHOLE_FLEET),
      store.work.tasks(WHOLE_FLEET, { openOnly: true, settledSinceMs: null, siteId: null, containerId: null }),
      store.people.people(),
      store.registry.depots(),
      store.registry.trucks(),
      store.crew.crewTerms(),
      store.crew.siteTerms(),
      store.crew.absences({ fromDay: firstDay }),
      store.work.roundStops({ fromDay: addDays(firstDay, -1), toDay: lastDay, technicianId: null }),
      store.plans.publishedVisits(firstDay, lastDay),
      store.plans.learnedPace(),
      lastVisits(app, firstDay),
    ]);
  const technicians = people.filter((person) => person.role === 'technician' && person.disabledAtMs === null);
  const termsOf = new Map(terms.map((one) => [one.personId, one]));
  const toldOf = new Map(told.map((one) => [one.stopId, one]));
  const today = stops.filter((stop) => stop.day === firstDay);
  const atWork = (personId: PersonId) =>
    nowMinute >= (shiftOf(termsOf.get(personId) ?? usualCrewTerms(personId), firstDay)?.fromMinute ?? 24 * 60) ||
    today.some((stop) => stop.technicianId === personId && (stop.state === 'done' || stop.state === 'on_the_way'));
  const held = heldStops(today, toldOf, nowMinute, atWork);
  const heldIds = new Set(held.map((one) => one.stopId));
  const done = today
    .filter((stop) => stop.state === 'done')
    .sort((a, b) => a.position - b.position)
    .map(({ id, technicianId, siteId }) => ({
      personId: technicianId,
      siteId,
      tankLitres: toldOf.get(id)?.tankLitres ?? null,
    }));
  const sites = [...fleet.sites.values()].filter((site) => (fleet.containersOfSite.get(site.id) ?? []).length > 0);
  const { crew, assumptions } = crewDaysOf({
    technicians,
    terms: termsOf,
    trucks,
    depots,
    sites,
    absences,
    firstDay,
    dayCount,
    nowMinute,
    underway: underwayOf(held, done, fleet.sites, nowMinute),
  });
  const statusOf = new Map(statuses.map((status) => [status.containerId, slim(status)]));
  const tasksOf = bySite(tasks.filter(isOpen));
  const termsOfSite = new Map(siteTerms.map((one) => [one.siteId, one]));
  const served = new Set([...held.map((one) => one.stop.siteId), ...servedToday(visits, statusOf, fleet, firstDay)]);
  const planned: PlannedSite[] = [];
  for (const site of sites) {
    const outlook = await store.weather.forecastDays(site.id, firstDay, nowMs);
    planned.push(
      plannedSite(
        site,
        fleet,
        statusOf,
        tasksOf.get(site.id) ?? [],
        termsOfSite.get(site.id) ?? usualSiteTerms(site.id),
        {
          firstDay,
          dayCount,
          outlook,
          served: served.has(site.id),
          lastVisit: visits.get(site.id) ?? null,
        },
      ),
    );
  }
  const standing = stops.filter(
    (stop) => stop.state === 'planned' && !heldIds.has(stop.id) && fleet.sites.has(stop.siteId),
  );
  const settings = {
    ...PLAN_SETTINGS,
    minutesPerStop: pace?.minutesPerStop ?? PLAN_SETTINGS.minutesPerStop,
    minutesPerPot: pace?.minutesPerPot ?? PLAN_SETTINGS.minutesPerPot,
    pumpLitresPerMinute: pace?.pumpLitresPerMinute ?? PLAN_SETTINGS.pumpLitresPerMinute,
  };
  return {
    desk: {
      plan: {
        nowMs,
        firstDay,
        dayCount,
        timeZone,
        sites: planned,
        crew,
        depots,
        published: publishedStops(standing, toldOf),
        settings,
      },
      held: held.map(({ personId, stop }) => ({ personId, stop })),
      wishes,
      assumptions,
      personNames: Object.fromEntries(people.map((person) => [person.id, person.name])),
    },
    published: laidStops(
      standing.filter((stop) => stop.day >= firstDay),
      toldOf,
    ),
    travel: { ...TRAVEL_SETTINGS, loadedFactor: TRAVEL_SETTINGS.loadedFactor * (pace?.travelFactor ?? 1) },
  };
}

/** What the planner does not read stays behind: the input goes to another thread. */
function slim(status: PotStatus): PotStatus {
  return { ...status, forecast: { ...status.forecast, basis: [] } };
}

interface SiteContext {
  readonly firstDay: LocalDay;
  readonly dayCount: number;
  readonly outlook: readonly WeatherDay[];
  readonly served: boolean;
  readonly lastVisit: Visit | null;
}

function plannedSite(
  site: Site,
  fleet: FleetView,
  statusOf: ReadonlyMap<string, PotStatus>,
  tasks: readonly Task[],
  terms: SiteTerms,
  context: SiteContext,
): PlannedSite {
  const { firstDay, dayCount, lastVisit } = context;
  const every = terms.visitEveryDays;
  const lastDay = lastVisit === null ? null : localDaysOf(site.timeZone).dayOf(lastVisit.happenedMs);
  return {
    site,
    dryRisk: fleet.accounts.get(site.accountId)!.dryRisk,
    pots: (fleet.containersOfSite.get(site.id) ?? []).map((container) => ({
      container: bare(container),
      status: statusOf.get(container.id) ?? null,
      targetFraction: 1,
    })),
    tasks: tasks.map((task) => ({ ...task, reason: [], cautions: [] })),
    // Who was there today does not come again today, whatever came of it.
    windows: Array.from({ length: dayCount }, (_, d) =>
      d === 0 && lastDay === firstDay ? [] : windowsOf(terms, addDays(firstDay, d)),
    ),
    skills: terms.skills,
    forbiddenPeople: terms.forbiddenPeople,
    locks: [],
    agreedBy: every === null ? null : lastDay === null ? firstDay : addDays(lastDay, every),
    useFactors: useFactorsOf(site, context.outlook, firstDay, dayCount),
    servedToday: context.served,
  };
}

function bare(container: Container): Container {
  return { ...container, plants: [] };
}

const ALL_DAY: readonly TimeWindow[] = [{ fromMinute: 0, toMinute: 1440 }];

/** When a site may be come to on a day: its opening hours, closed days, and the days on which watering is allowed. */
export function windowsOf(terms: SiteTerms, day: LocalDay): readonly TimeWindow[] {
  const weekday = isoWeekday(day);
  if (terms.closed.some((span) => span.fromDay <= day && day <= span.toDay)) return [];
  if (terms.wateringWeekdays !== null && !terms.wateringWeekdays.includes(weekday)) return [];
  if (terms.hours.length === 0) return ALL_DAY;
  return terms.hours
    .filter((one) => one.weekday === weekday)
    .map(({ fromMinute, toMinute }) => ({ fromMinute, toMinute }))
    .sort((a, b) => a.fromMinute - b.fromMinute);
}

/** No day's use is taken to be further from today's than this: beyond, a forecast is more likely wrong. */
const LEAST_USE_FACTOR = 0.3;
const MOST_USE_FACTOR = 2;

/**
 * Use of each day over that of the first, after the reference evapotranspiration of the weather forecast. Days without a
 * forecast take the mean of those that have one; 1 where there is none.
 */
export function useFactorsOf(
  site: Site,
  outlook: readonly WeatherDay[],
  firstDay: LocalDay,
  dayCount: number,
): readonly number[] {
  const et0 = Array.from({ length: dayCount }, (_, d) => {
    const row = outlook.find((one) => one.day === addDays(firstDay, d));
    return row === undefined ? null : (et0OfDay(site, row)?.et0Mm ?? null);
  });
  const known = et0.filter((value) => value !== null);
  const first = et0[0] ?? known[0];
  if (first === undefined || first <= 0) return [1];
  const mean = known.reduce((sum, value) => sum + value, 0) / known.length;
  return et0.map((value) => Math.min(MOST_USE_FACTOR, Math.max(LEAST_USE_FACTOR, (value ?? mean) / first)));
}

function bySite(tasks: readonly Task[]): ReadonlyMap<SiteId, readonly Task[]> {
  const out = new Map<SiteId, Task[]>();
  for (const task of tasks) {
    const list = out.get(task.siteId) ?? [];
    list.push(task);
    out.set(task.siteId, list);
  }
  return out;
}

/** Each site's last visit. */
async function lastVisits(app: App, today: LocalDay): Promise<ReadonlyMap<SiteId, Visit>> {
  const nowMs = app.clock.nowMs();
  const terms = await app.store.crew.siteTerms();
  // Only agreements reach back; without them, today is enough.
  const agreed = terms.some((one) => one.visitEveryDays !== null);
  const fromMs = agreed ? nowMs - VISITS_BACK_DAYS * DAY_MS : Date.parse(`${addDays(today, -1)}T00:00:00Z`);
  const visits = await app.store.work.visits(WHOLE_FLEET, { containerId: null, siteId: null, fromMs, toMs: nowMs + 1 });
  const last = new Map<SiteId, Visit>();
  for (const visit of visits) {
    const known = last.get(visit.siteId);
    if (known === undefined || known.happenedMs < visit.happenedMs) last.set(visit.siteId, visit);
  }
  return last;
}

/** Sites that were watered today and whose readings do not show it yet, or do: nobody comes twice a day. */
function servedToday(
  visits: ReadonlyMap<SiteId, Visit>,
  statusOf: ReadonlyMap<string, PotStatus>,
  fleet: FleetView,
  today: LocalDay,
): readonly SiteId[] {
  return [...visits].flatMap(([siteId, visit]) => {
    const site = fleet.sites.get(siteId);
    if (site === undefined || localDaysOf(site.timeZone).dayOf(visit.happenedMs) !== today) return [];
    // A visit at which nothing was poured, or that the readings have overtaken, leaves the forecasts as they are.
    const poured = visit.actions.filter((action) => action.work === 'refill' && action.exception === null);
    const all = (fleet.containersOfSite.get(siteId) ?? []).every(({ id }) => {
      const status = statusOf.get(id);
      return (
        poured.some((action) => action.containerId === id) ||
        (status?.forecast.dry?.p10Ms ?? Number.POSITIVE_INFINITY) > visit.happenedMs + 2 * DAY_MS
      );
    });
    return poured.length > 0 && all ? [siteId] : [];
  });
}

interface HeldRow extends HeldStop {
  readonly stopId: string;
  /** Left in the tank after it; null where nothing was planned. */
  readonly tankLitres: number | null;
}

/** Under way, and the next stop of whoever is at work. */
function heldStops(
  today: readonly RoundStop[],
  toldOf: ReadonlyMap<string, PublishedVisit>,
  nowMinute: number,
  atWork: (personId: PersonId) => boolean,
): readonly HeldRow[] {
  const people = [...new Set(today.map((stop) => stop.technicianId))];
  return people.flatMap((personId) => {
    const own = today.filter((stop) => stop.technicianId === personId).sort((a, b) => a.position - b.position);
    const going = own.filter((stop) => stop.state === 'on_the_way');
    const next = own.find((stop) => stop.state === 'planned');
    const held = going.length === 0 && next !== undefined && atWork(personId) ? [next] : going;
    return held.map(
      (stop): HeldRow => ({
        stopId: stop.id,
        personId,
        stop: heldDraft(stop, toldOf, nowMinute),
        tankLitres: toldOf.get(stop.id)?.tankLitres ?? null,
      }),
    );
  });
}

/** Minutes that a stop of which nothing was planned is taken to need. */
const UNPLANNED_MINUTES = 30;

function heldDraft(stop: RoundStop, toldOf: ReadonlyMap<string, PublishedVisit>, nowMinute: number): HeldStop['stop'] {
  const told = toldOf.get(stop.id) ?? null;
  const lasts = told === null ? UNPLANNED_MINUTES : told.endMinute - told.startMinute;
  const arrivalMinute = Math.max(told?.arrivalMinute ?? nowMinute, nowMinute);
  const startMinute = Math.max(told?.startMinute ?? nowMinute, arrivalMinute);
  return {
    siteId: stop.siteId,
    arrivalMinute,
    startMinute,
    endMinute: startMinute + lasts,
    driveMinutes: told?.driveMinutes ?? 0,
    km: told?.km ?? 0,
    litres: told?.litres ?? 0,
    fills: told?.fills ?? [],
    tankLitres: told?.tankLitres ?? 0,
    refillBefore: told?.refillBefore ?? null,
    refillAfter: told?.refillAfter ?? null,
    missesWindow: false,
    reason: 'frozen',
    why: { code: 'round.reason.frozen', params: {} },
    locked: false,
  };
}

function inOrder(stops: readonly RoundStop[]): readonly RoundStop[] {
  return [...stops].sort(
    (a, b) =>
      daysBetween(b.day, a.day) ||
      (a.technicianId < b.technicianId ? -1 : a.technicianId > b.technicianId ? 1 : 0) ||
      a.position - b.position,
  );
}

export function publishedStops(
  stops: readonly RoundStop[],
  toldOf: ReadonlyMap<string, PublishedVisit>,
): readonly PublishedStop[] {
  return inOrder(stops).map(({ id, siteId, technicianId, day, position }) => ({
    siteId,
    personId: technicianId,
    day,
    startMinute: toldOf.get(id)?.startMinute ?? FIRST_STOP_MINUTE + BETWEEN_STOPS_MINUTES * position,
  }));
}

function laidStops(stops: readonly RoundStop[], toldOf: ReadonlyMap<string, PublishedVisit>): readonly LaidStop[] {
  return inOrder(stops).map(({ id, siteId, technicianId, day }) => ({
    siteId,
    personId: technicianId,
    day,
    refillBefore: toldOf.get(id)?.refillBefore ?? null,
    refillAfter: toldOf.get(id)?.refillAfter ?? null,
  }));
}
