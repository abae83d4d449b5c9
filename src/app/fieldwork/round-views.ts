import { stopOf } from '../../alerts/stops.js';
import { isOpen } from '../../alerts/task-life.js';
import { type Principal, WHOLE_FLEET } from '../../domain/access.js';
import type { EpochMs, LocalDay, PersonId, SiteId } from '../../domain/ids.js';
import { addDays } from '../../domain/local-day.js';
import type { PublishedVisit } from '../../domain/plan.js';
import type { RoundStop, Task } from '../../domain/work.js';
import { type App, allowed } from '../context.js';
import { type FleetView, localDaysOf } from '../fleet-view.js';
import { accessOnRound } from '../people/site-access.js';
import { isActive } from './round-stops.js';
import { ViewBuilder } from './view-builder.js';
import type { NextRound, RoundStopView, RoundView } from './work-views.js';

/** All rounds of a day (for a technician: the own one), each with its stops in order. `day` null: today. */
export async function rounds(
  app: App,
  who: Principal,
  query: { readonly day: LocalDay | null; readonly technicianId: PersonId | null },
): Promise<readonly RoundView[]> {
  const own = who.role === 'technician' ? who.personId : query.technicianId;
  allowed(who, 'rounds.read', { accountId: null, personId: query.technicianId ?? own });
  const views = await ViewBuilder.load(app.store, WHOLE_FLEET, app.clock.nowMs());
  const day = query.day ?? today(views.fleet, app.clock.nowMs());
  const stops = await app.store.work.roundStops({ fromDay: day, toDay: day, technicianId: own });
  const technicians = [...views.people.values()]
    .filter((person) => person.role === 'technician' && (own === null || person.id === own))
    .filter((person) => person.disabledAtMs === null || stops.some((stop) => stop.technicianId === person.id))
    .sort((a, b) => a.name.localeCompare(b.name) || (a.id < b.id ? -1 : 1));
  const later = await stopsAfter(app, day, own);
  const list: RoundView[] = [];
  for (const person of technicians) {
    const isOwn = (stop: RoundStop): boolean => stop.technicianId === person.id;
    list.push(await roundView(app, who, views, person.id, day, stops.filter(isOwn), later.filter(isOwn)));
  }
  return list;
}

/** One technician's round of a day; empty where nothing was planned. `day` null: today. */
export async function round(
  app: App,
  who: Principal,
  query: { readonly technicianId: PersonId; readonly day: LocalDay | null },
): Promise<RoundView> {
  allowed(who, 'rounds.read', { accountId: null, personId: query.technicianId });
  const views = await ViewBuilder.load(app.store, WHOLE_FLEET, app.clock.nowMs());
  const day = query.day ?? today(views.fleet, app.clock.nowMs());
  const stops = await app.store.work.roundStops({ fromDay: day, toDay: day, technicianId: query.technicianId });
  const later = await stopsAfter(app, day, query.technicianId);
  return roundView(app, who, views, query.technicianId, day, stops, later);
}

/** As far ahead as rounds are planned. */
const DAYS_AHEAD = 14;

function stopsAfter(app: App, day: LocalDay, technicianId: PersonId | null): Promise<readonly RoundStop[]> {
  return app.store.work.roundStops({ fromDay: addDays(day, 1), toDay: addDays(day, DAYS_AHEAD), technicianId });
}

function nextRound(views: ViewBuilder, later: readonly RoundStop[]): NextRound | null {
  const standing = later.filter(isActive);
  const [first] = standing.toSorted((a, b) => (a.day < b.day ? -1 : a.day > b.day ? 1 : a.position - b.position));
  if (first === undefined) return null;
  const stops = standing.filter((stop) => stop.day === first.day).length;
  return { day: first.day, stops, firstSiteName: views.site(first.siteId).name };
}

/** Today where most sites are. */
export function today(fleet: FleetView, nowMs: EpochMs): LocalDay {
  return localDaysOf(usualZone(fleet)).dayOf(nowMs);
}

/** The zone of most sites; UTC for a fleet without any. */
export function usualZone(fleet: FleetView): string {
  return mostUsedZone(fleet.sites.values());
}

export function mostUsedZone(sites: Iterable<{ readonly timeZone: string }>): string {
  const counts = new Map<string, number>();
  for (const site of sites) counts.set(site.timeZone, (counts.get(site.timeZone) ?? 0) + 1);
  const [most] = [...counts].sort(([a, countA], [b, countB]) => countB - countA || (a < b ? -1 : 1));
  return most?.[0] ?? 'UTC';
}

async function roundView(
  app: App,
  who: Principal,
  views: ViewBuilder,
  technicianId: PersonId,
  day: LocalDay,
  stops: readonly RoundStop[],
  later: readonly RoundStop[],
): Promise<RoundView> {
  const told = await app.store.plans.publishedVisits(day, day);
  const planned = new Map(told.map((one) => [one.stopId, one]));
  const shown: RoundStopView[] = [];
  for (const stop of stops.filter((one) => one.state !== 'cancelled').sort((a, b) => a.position - b.position)) {
    shown.push(await stopView(app, who, views, stop, planned.get(stop.id) ?? null));
  }
  // The plan also fills pots that no task asks for yet.
  const litres = sum(shown.map((view) => Math.max(view.site.litres, view.planned?.litres ?? 0)));
  return {
    technicianId,
    technicianName: views.nameOf(technicianId),
    day,
    stops: shown,
    litres: Math.round(litres * 10) / 10,
    minutes: sum(shown.map((view) => view.site.minutes)),
    cautions: shown.length === 0 ? [] : ['caution.heat_lightning', ...(litres > 0 ? ['caution.axle_load'] : [])],
    nextRound: nextRound(views, later),
  };
}

async function stopView(
  app: App,
  who: Principal,
  views: ViewBuilder,
  stop: RoundStop,
  planned: PublishedVisit | null,
): Promise<RoundStopView> {
  const site = views.site(stop.siteId);
  const days = localDaysOf(site.timeZone);
  const visit = await visitOf(app, stop, days.startMs(stop.day), days.endMs(stop.day));
  const known = await app.store.work.tasks(WHOLE_FLEET, {
    openOnly: true,
    settledSinceMs: days.startMs(stop.day),
    siteId: stop.siteId,
    containerId: null,
  });
  const served = servedBy(stop.siteId, known, visit?.actions.map((action) => action.containerId) ?? null);
  const tasks = stop.state === 'done' ? served : known.filter(isOpen);
  const access = await accessOnRound(app, who, stop, site.timeZone);
  return {
    stop,
    site: head(views, stop.siteId, tasks, days.endMs(stop.day)),
    access,
    tasks: views.tasks(tasks),
    visit,
    planned,
  };
}

/** What a visit has dealt with; without one on record, nothing. */
function servedBy(siteId: SiteId, tasks: readonly Task[], containers: readonly string[] | null): readonly Task[] {
  return tasks.filter(
    (task) => task.siteId === siteId && task.state !== 'cancelled' && (containers?.includes(task.containerId) ?? false),
  );
}

async function visitOf(app: App, stop: RoundStop, fromMs: EpochMs, toMs: EpochMs) {
  const visits = await app.store.work.visits(WHOLE_FLEET, { containerId: null, siteId: stop.siteId, fromMs, toMs });
  return visits.filter((visit) => visit.technicianId === stop.technicianId).at(-1) ?? null;
}

function head(views: ViewBuilder, siteId: SiteId, tasks: readonly Task[], endMs: EpochMs): RoundStopView['site'] {
  const site = views.siteHead(views.site(siteId));
  if (tasks.length === 0) return { ...site, litres: 0, minutes: 0, dueFromMs: endMs, dueByMs: endMs, cautions: [] };
  const { litres, minutes, dueFromMs, dueByMs, cautions } = stopOf(siteId, tasks, null);
  return { ...site, litres, minutes, dueFromMs, dueByMs, cautions };
}

function sum(values: readonly number[]): number {
  return values.reduce((total, value) => total + value, 0);
}
