import { stopTopic } from '../../alerts/alert-rules.js';
import type { PotSituation, SiteSituation } from '../../alerts/situation.js';
import { isOpen } from '../../alerts/task-life.js';
import { WHOLE_FLEET } from '../../domain/access.js';
import { usualSiteTerms } from '../../domain/crew.js';
import type { ContainerId, EpochMs, SiteId } from '../../domain/ids.js';
import { addDays, DAY_MS, HOUR_MS } from '../../domain/local-day.js';
import type { Store } from '../../domain/ports/store.js';
import type { Finding, PotEvent, PotStatus } from '../../domain/pot.js';
import type { Site } from '../../domain/registry.js';
import type { WeatherDay } from '../../domain/weather.js';
import type { RoundStop, Task } from '../../domain/work.js';
import type { FleetView } from '../fleet-view.js';
import { rainToCome } from '../weather/rain-to-come.js';
import { outlookOrShared } from '../weather/weather-observations.js';
import { careFacts } from './care-facts.js';
import { crewCalendar } from './crew-calendar.js';

/** What was settled this long ago still bears on what is asked for now. */
export const SETTLED_MEMORY_MS = 10 * DAY_MS;
/** Rounds are looked at this many days back, for stops that did not take place, and ahead. */
const STOPS_BACK_DAYS = 14;
const STOPS_AHEAD_DAYS = 60;
/** Beyond this many sites one query for the fleet beats one for each pot. */
const FEW_SITES = 3;

/**
 * Loads all that alarms, tasks and alerts of the sites depend on.
 * @param siteIds null: every site
 */
export async function loadSituations(
  store: Store,
  fleet: FleetView,
  siteIds: ReadonlySet<SiteId> | null,
  nowMs: EpochMs,
): Promise<readonly SiteSituation[]> {
  const ids = [...fleet.sites.keys()].filter((id) => siteIds === null || siteIds.has(id)).sort();
  if (ids.length === 0) return [];
  const [people, terms, stops, pots] = await Promise.all([
    store.people.people(),
    store.crew.siteTerms(),
    loadStops(store, fleet, ids, nowMs),
    loadPots(store, fleet, ids),
  ]);
  const calendar = await crewCalendar(store, people, fleet.sites.get(ids[0]!)!.timeZone, nowMs);
  const dispatchers = people
    .filter((person) => person.role === 'dispatcher' && person.disabledAtMs === null)
    .map((person) => person.id);
  const situations: SiteSituation[] = [];
  for (const id of ids) {
    const site = fleet.sites.get(id)!;
    const [overrides, alarms, tasks, alerts] = await Promise.all([
      store.work.alarmOverrides(WHOLE_FLEET, id),
      store.work.alarms(WHOLE_FLEET, { includeNormal: true, siteId: id }),
      store.work.tasks(WHOLE_FLEET, {
        openOnly: true,
        settledSinceMs: nowMs - SETTLED_MEMORY_MS,
        siteId: id,
        containerId: null,
      }),
      store.work.standingAlerts(stopTopic(id)),
    ]);
    const outlook = await outlookOrShared(store, site, fleet.daysOf(site).dayOf(nowMs), nowMs);
    situations.push({
      nowMs,
      site,
      days: fleet.daysOf(site),
      calendar,
      terms: terms.find((row) => row.siteId === id) ?? usualSiteTerms(id),
      pots: await potSituations(store, fleet, site, pots, tasks, outlook, nowMs),
      outlook,
      alarms,
      overrides,
      tasks,
      stops: stops.filter((stop) => stop.siteId === id),
      alerts,
      // Whoever looks at the whole fleet knows.
      crewIsFull: false,
      dispatchers,
    });
  }
  return situations;
}

interface LoadedPots {
  readonly statuses: ReadonlyMap<ContainerId, PotStatus>;
  readonly findings: ReadonlyMap<ContainerId, readonly Finding[]>;
}

async function loadPots(store: Store, fleet: FleetView, ids: readonly SiteId[]): Promise<LoadedPots> {
  const containers = ids.flatMap((id) => fleet.containersOfSite.get(id) ?? []);
  const few = ids.length <= FEW_SITES;
  const statuses = few
    ? (await Promise.all(containers.map(({ id }) => store.pots.status(WHOLE_FLEET, id)))).filter((row) => row !== null)
    : await store.pots.statuses(WHOLE_FLEET);
  const open = { openOnly: true, fromMs: null } as const;
  const findings = few
    ? (
        await Promise.all(containers.map(({ id }) => store.pots.findings(WHOLE_FLEET, { containerId: id, ...open })))
      ).flat()
    : await store.pots.findings(WHOLE_FLEET, { containerId: null, ...open });
  const byContainer = new Map<ContainerId, Finding[]>();
  for (const finding of findings) {
    const list = byContainer.get(finding.containerId) ?? [];
    list.push(finding);
    byContainer.set(finding.containerId, list);
  }
  return { statuses: new Map(statuses.map((row) => [row.containerId, row])), findings: byContainer };
}

async function loadStops(
  store: Store,
  fleet: FleetView,
  ids: readonly SiteId[],
  nowMs: EpochMs,
): Promise<readonly RoundStop[]> {
  const today = fleet.daysOf(fleet.sites.get(ids[0]!)!).dayOf(nowMs);
  const stops = await store.work.roundStops({
    fromDay: addDays(today, -STOPS_BACK_DAYS),
    toDay: addDays(today, STOPS_AHEAD_DAYS),
    technicianId: null,
  });
  return stops.filter((stop) => stop.state === 'planned' || stop.state === 'on_the_way');
}

async function potSituations(
  store: Store,
  fleet: FleetView,
  site: Site,
  loaded: LoadedPots,
  tasks: readonly Task[],
  outlook: readonly WeatherDay[],
  nowMs: EpochMs,
): Promise<readonly PotSituation[]> {
  const pots: PotSituation[] = [];
  const containers = fleet.containersOfSite.get(site.id) ?? [];
  const done = await store.work.lastDone(site.id);
  const care = await careFacts(store, fleet, site, containers, done, nowMs);
  for (const container of [...containers].sort((a, b) => (a.id < b.id ? -1 : 1))) {
    const nodeId = fleet.nodeOf.get(container.id) ?? null;
    const replanted = done.find((one) => one.containerId === container.id && one.kind === 'replant');
    pots.push({
      container,
      status: loaded.statuses.get(container.id) ?? null,
      findings: holdingNow(loaded.findings.get(container.id) ?? [], loaded.statuses.get(container.id) ?? null),
      nodeId,
      gatewayId: nodeId === null ? null : (fleet.gatewayOfNode.get(nodeId) ?? null),
      rainToCome: rainToCome(container, outlook, fleet.daysOf(site), nowMs),
      care: care.get(container.id) ?? null,
      replantedDay: replanted === undefined ? null : fleet.daysOf(site).dayOf(replanted.atMs),
      recentEvents: await eventsSinceAsked(store, container.id, tasks, nowMs),
    });
  }
  return pots;
}

/**
 * While history is read in, findings open and close along it; they hold now only once the pot's status says as of when.
 */
function holdingNow(findings: readonly Finding[], status: PotStatus | null): readonly Finding[] {
  return status === null ? [] : findings.filter((finding) => finding.openedMs <= status.atMs);
}

/** Only an open refill asks what came in since; for all other pots nothing is read. */
async function eventsSinceAsked(
  store: Store,
  containerId: ContainerId,
  tasks: readonly Task[],
  nowMs: EpochMs,
): Promise<readonly PotEvent[]> {
  const asked = tasks.filter((task) => task.containerId === containerId && task.kind === 'refill' && isOpen(task));
  if (asked.length === 0) return [];
  const sinceMs = Math.min(...asked.map((task) => task.createdMs)) - HOUR_MS;
  return store.pots.events(WHOLE_FLEET, containerId, sinceMs, nowMs + HOUR_MS);
}
