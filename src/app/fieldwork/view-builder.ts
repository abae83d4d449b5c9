import { CATALOGUE } from '../../alerts/catalogue.js';
import { plannedStop } from '../../alerts/situation.js';
import { type Stop, whyNow } from '../../alerts/stops.js';
import { whySuppressed } from '../../alerts/suppression.js';
import { TASK_CATALOGUE } from '../../alerts/task-catalogue.js';
import { decisionHorizonMs, type WorkCalendar } from '../../alerts/work-calendar.js';
import type { Scope } from '../../domain/access.js';
import type { Alarm, AlarmKind } from '../../domain/alarm.js';
import type { ContainerId, EpochMs, PersonId, SiteId } from '../../domain/ids.js';
import { addDays } from '../../domain/local-day.js';
import type { Message } from '../../domain/message.js';
import type { Store } from '../../domain/ports/store.js';
import type { PotStatus } from '../../domain/pot.js';
import type { Container, Person, Site } from '../../domain/registry.js';
import type { TextCode } from '../../domain/texts/en/index.js';
import type { RoundStop, Task } from '../../domain/work.js';
import { type FleetView, fleetView } from '../fleet-view.js';
import { crewCalendar } from './crew-calendar.js';
import type { AlarmView, PotGlance, RoundStopView, StopPlan, StopView, TaskView } from './work-views.js';

const STOPS_AHEAD_DAYS = 60;

/** Turns rows into what a person is shown of them: names instead of ids, and a glance at each pot. */
export class ViewBuilder {
  readonly fleet: FleetView;
  readonly statuses: ReadonlyMap<ContainerId, PotStatus>;
  readonly standingAlarms: readonly Alarm[];
  readonly people: ReadonlyMap<PersonId, Person>;
  /** For each site the stop on a round that counts. */
  readonly plans: ReadonlyMap<SiteId, RoundStop>;
  readonly #nowMs: EpochMs;
  /** When the crew works. */
  readonly calendar: WorkCalendar;
  readonly #alarmKinds: ReadonlyMap<ContainerId, readonly AlarmKind[]>;

  private constructor(
    fleet: FleetView,
    statuses: readonly PotStatus[],
    alarms: readonly Alarm[],
    people: readonly Person[],
    stops: readonly RoundStop[],
    nowMs: EpochMs,
    calendar: WorkCalendar,
  ) {
    this.fleet = fleet;
    this.statuses = new Map(statuses.map((status) => [status.containerId, status]));
    this.standingAlarms = alarms;
    this.people = new Map(people.map((person) => [person.id, person]));
    this.plans = plansOf(stops, fleet, nowMs);
    this.#nowMs = nowMs;
    this.calendar = calendar;
    this.#alarmKinds = kindsByContainer(alarms);
  }

  static async load(store: Store, scope: Scope, nowMs: EpochMs): Promise<ViewBuilder> {
    const fleet = await fleetView(store, scope, nowMs);
    const anySite = fleet.sites.values().next().value;
    const today = anySite === undefined ? null : fleet.daysOf(anySite).dayOf(nowMs);
    const [statuses, alarms, people, stops] = await Promise.all([
      store.pots.statuses(scope),
      store.work.alarms(scope, { includeNormal: false, siteId: null }),
      store.people.people(),
      today === null
        ? []
        : store.work.roundStops({
            // A day either way, since sites may lie in different zones.
            fromDay: addDays(today, -1),
            toDay: addDays(today, STOPS_AHEAD_DAYS),
            technicianId: null,
          }),
    ]);
    const calendar = await crewCalendar(store, people, anySite?.timeZone ?? 'UTC', nowMs);
    return new ViewBuilder(fleet, statuses, alarms, people, stops, nowMs, calendar);
  }

  nameOf(personId: PersonId): string {
    return this.people.get(personId)?.name ?? personId;
  }

  glance(container: Container): PotGlance {
    const site = this.site(container.siteId);
    const status = this.statuses.get(container.id);
    const litres = status?.litres ?? null;
    const capacityLitres = status?.capacityLitres ?? 0;
    return {
      containerId: container.id,
      name: container.name,
      place: container.place,
      ...this.#siteNames(site),
      knowledge: status?.forecast.knowledge ?? 'no_node',
      levelMm: status?.levelMm ?? null,
      litres,
      capacityLitres,
      fillFraction: litres === null || capacityLitres <= 0 ? null : Math.min(1, Math.max(0, litres / capacityLitres)),
      rateLitresPerDay: status?.forecast.rateLitresPerDay ?? null,
      dry: status?.forecast.dry ?? null,
      lastReadingMs: status?.lastReadingMs ?? null,
      alarms: this.#alarmKinds.get(container.id) ?? [],
    };
  }

  /** Null for a task of a pot that no longer stands there. */
  task(task: Task): TaskView | null {
    const container = this.fleet.containers.get(task.containerId);
    if (container === undefined) return null;
    const entry = TASK_CATALOGUE[task.kind];
    return {
      ...task,
      pot: this.glance(container),
      bring: entry.bring.map((code): Message => ({ code, params: {} })),
      expect: entry.expect === null ? null : { code: entry.expect, params: {} },
    };
  }

  tasks(tasks: readonly Task[]): readonly TaskView[] {
    return tasks.map((task) => this.task(task)).filter((view) => view !== null);
  }

  stop(stop: Stop): StopView {
    const site = this.site(stop.siteId);
    const days = this.fleet.daysOf(site);
    const horizonMs = decisionHorizonMs(this.calendar, days, this.#nowMs);
    return {
      ...this.siteHead(site),
      litres: stop.litres,
      minutes: stop.minutes,
      dueFromMs: stop.dueFromMs,
      dueByMs: stop.dueByMs,
      why: whyNow(stop, horizonMs, this.#nowMs),
      tasks: this.tasks(stop.tasks),
      cautions: stop.cautions,
      plan: stop.plan === null ? null : this.plan(stop.plan),
    };
  }

  siteHead(site: Site) {
    return {
      ...this.#siteNames(site),
      latitude: site.latitude,
      longitude: site.longitude,
      timeZone: site.timeZone,
      tap: site.tap,
    } satisfies Partial<RoundStopView['site']>;
  }

  plan(stop: RoundStop): StopPlan {
    return {
      stopId: stop.id,
      technicianId: stop.technicianId,
      technicianName: this.nameOf(stop.technicianId),
      day: stop.day,
      position: stop.position,
      state: stop.state,
    };
  }

  alarm(alarm: Alarm): AlarmView {
    const entry = CATALOGUE[alarm.kind];
    const says = (code: TextCode): Message => ({ code, params: {} });
    const place = alarm.siteId === null ? null : this.#siteNames(this.site(alarm.siteId));
    return {
      alarm,
      siteName: place?.siteName ?? null,
      accountId: place?.accountId ?? null,
      accountName: place?.accountName ?? null,
      containerName: alarm.containerId === null ? null : (this.fleet.containers.get(alarm.containerId)?.name ?? null),
      cause: says(entry.cause),
      consequence: says(entry.consequence),
      action: says(entry.action),
      suppressedBecause: whySuppressed(alarm),
      respondByMs: alarm.raisedMs === null ? null : alarm.raisedMs + entry.respondWithinMs,
      cautions: entry.cautions,
    };
  }

  /** @throws Error for a site out of scope: rows of a scope belong to sites of that scope */
  site(id: SiteId): Site {
    const site = this.fleet.sites.get(id);
    if (site === undefined) throw new Error(`site ${id} is not within the scope of what was loaded`);
    return site;
  }

  #siteNames(site: Site) {
    return {
      siteId: site.id,
      siteName: site.name,
      accountId: site.accountId,
      accountName: this.fleet.accounts.get(site.accountId)?.name ?? site.accountId,
    };
  }
}

function plansOf(stops: readonly RoundStop[], fleet: FleetView, nowMs: EpochMs): ReadonlyMap<SiteId, RoundStop> {
  const bySite = new Map<SiteId, RoundStop[]>();
  for (const stop of stops) bySite.set(stop.siteId, [...(bySite.get(stop.siteId) ?? []), stop]);
  const plans = new Map<SiteId, RoundStop>();
  for (const [siteId, list] of bySite) {
    const site = fleet.sites.get(siteId);
    if (site === undefined) continue;
    const stop = plannedStop(list, fleet.daysOf(site).dayOf(nowMs));
    if (stop !== null) plans.set(siteId, stop);
  }
  return plans;
}

function kindsByContainer(alarms: readonly Alarm[]): ReadonlyMap<ContainerId, readonly AlarmKind[]> {
  const kinds = new Map<ContainerId, AlarmKind[]>();
  for (const alarm of alarms) {
    if (alarm.containerId === null || alarm.beneath === 'normal') continue;
    kinds.set(alarm.containerId, [...(kinds.get(alarm.containerId) ?? []), alarm.kind]);
  }
  return kinds;
}
