import { USUAL_CALENDAR, type WorkCalendar } from '../../../src/alerts/work-calendar.js';
import { AnalysisStage } from '../../../src/app/analysis/analysis-stage.js';
import { freezeCalibration } from '../../../src/app/analysis/freeze-calibration.js';
import type { App } from '../../../src/app/context.js';
import { reviewAllSites, runAlarmStage } from '../../../src/app/fieldwork/alarm-stage.js';
import { morningDigest } from '../../../src/app/fieldwork/digest.js';
import { escalateAlarms } from '../../../src/app/fieldwork/escalations.js';
import { runNotifyStage } from '../../../src/app/fieldwork/notify-stage.js';
import { verifyTasks } from '../../../src/app/fieldwork/verify-tasks.js';
import { verifyVisits } from '../../../src/app/fieldwork/verify-visits.js';
import { METRIC_UNITS } from '../../../src/app/people/people.js';
import { importFleet } from '../../../src/app/readings/import-fleet.js';
import { WHOLE_FLEET } from '../../../src/domain/access.js';
import type { Write } from '../../../src/domain/change-set.js';
import type { ContainerId, EpochMs, LocalDay, PersonId, SiteId } from '../../../src/domain/ids.js';
import { DAY_MS, HOUR_MS, LocalDays } from '../../../src/domain/local-day.js';
import type { OutboxEntry } from '../../../src/domain/notify.js';
import type { Clock } from '../../../src/domain/ports/clock.js';
import type { Log } from '../../../src/domain/ports/log.js';
import type { Store } from '../../../src/domain/ports/store.js';
import type { Person } from '../../../src/domain/registry.js';
import { openStore } from '../../../src/store/open.js';
import { Crew } from './crew.js';
import type { SeasonWorld } from './world.js';

export interface SeasonOptions {
  readonly world: SeasonWorld;
  readonly dataDir: string;
  /** Days on which nobody of the firm works, besides weekends. */
  readonly holidays: readonly LocalDay[];
  readonly seed: string;
  readonly onProgress: (line: string) => void;
  /** Asked after each step; what was lived through until then is what is reported. */
  readonly isToStop: () => boolean;
}

/** A message as it reached somebody. */
export interface Told {
  readonly personId: PersonId;
  readonly atMs: EpochMs;
  readonly containerIds: readonly ContainerId[];
  /** The first about its topic since the last was withdrawn; otherwise it took the place of what was shown. */
  readonly isNew: boolean;
}

export interface Season {
  readonly store: Store;
  readonly technicians: readonly PersonId[];
  readonly technicianOf: (siteId: SiteId) => PersonId;
  readonly told: readonly Told[];
  readonly visits: number;
  /** Acts of the crew that the program refused, in words. */
  readonly refused: ReadonlyMap<string, number>;
  readonly days: LocalDays;
  readonly calendar: WorkCalendar;
  /** How far it was lived through. */
  readonly endMs: EpochMs;
}

/** Each technician answers for about so many pots; the project's goal for alerts is put for this number. */
const POTS_PER_TECHNICIAN = 150;
const MINUTE_MS = 60_000;
const DISPATCHER_ID = 'dispatcher';
/** Looks at every pot for what only time makes true. */
const LOOK_EVERY_MS = 6 * HOUR_MS;
const WAKES_AT_HOUR = 6;
const NIGHT_HOUR = 3;
/** By day the clock steps two hours, by night, when nobody plans and what is said waits for the morning, four. */
const DAY_HOURS = { from: 5, to: 18 };
const quiet: Log = { debug: () => {}, info: () => {}, warn: () => {}, error: () => {} };

class SteppedClock implements Clock {
  atMs = 0;
  nowMs(): EpochMs {
    return this.atMs;
  }
}

/**
 * Lives through a season as the service would have: what nodes send is taken when it is received, analysed, turned into
 * alarms, tasks and alerts by the very stages of the server, and the crew that is sent changes what the nodes see next.
 */
export async function liveThrough(options: SeasonOptions): Promise<Season> {
  const { world } = options;
  const store = await openStore({ dir: options.dataDir, log: quiet });
  const clock = new SteppedClock();
  clock.atMs = world.startMs;
  const app: App = { store, clock, log: quiet };
  await importFleet(app, 'fleet.json', world.fleetJson());
  const sites = [...(await store.registry.sites(WHOLE_FLEET))].sort((a, b) => (a.id < b.id ? -1 : 1));
  const containers = await store.registry.containers(WHOLE_FLEET);
  const technicians = Array.from(
    { length: Math.max(1, Math.round(containers.length / POTS_PER_TECHNICIAN)) },
    (_, index) => `technician-${index + 1}`,
  );
  await commit(app, peopleWrites(technicians));
  const index = new Map(sites.map((site, at) => [site.id, at]));
  const technicianOf = (siteId: SiteId): PersonId => technicians[(index.get(siteId) ?? 0) % technicians.length]!;
  const days = new LocalDays(sites[0]?.timeZone ?? 'UTC');
  await commit(app, holidayWrites(options.holidays));
  const calendar = { ...USUAL_CALENDAR, holidays: options.holidays };
  const crew = new Crew({ app, fleet: world.fleet, technicians, technicianOf, calendar, days, seed: options.seed });
  const run = new SeasonRun(app, clock, world, crew, days);
  let shownMs = 0;
  let endMs = world.startMs;
  for (let nowMs = world.startMs + HOUR_MS; nowMs <= world.endMs; nowMs += stepMs(days, nowMs)) {
    await run.step(nowMs);
    endMs = nowMs;
    if (options.isToStop()) break;
    if (Date.now() - shownMs > 15_000) {
      shownMs = Date.now();
      const day = (at: EpochMs): string => ((at - world.startMs) / DAY_MS).toFixed(1);
      options.onProgress(
        `day ${day(nowMs)} of ${day(world.endMs)}: ${crew.visits} visits, ${run.told.length} messages`,
      );
    }
  }
  return {
    store,
    technicians,
    technicianOf,
    told: run.told,
    visits: crew.visits,
    refused: crew.refused,
    days,
    calendar,
    endMs,
  };
}

function stepMs(days: LocalDays, nowMs: EpochMs): number {
  const hour = days.wallHour(nowMs);
  return hour >= DAY_HOURS.from && hour < DAY_HOURS.to ? 2 * HOUR_MS : 4 * HOUR_MS;
}

class SeasonRun {
  readonly told: Told[] = [];
  readonly #app: App;
  readonly #clock: SteppedClock;
  readonly #world: SeasonWorld;
  readonly #crew: Crew;
  readonly #analysis: AnalysisStage;
  readonly #processClock = new SteppedClock();
  readonly #days: LocalDays;
  readonly #shown = new Set<string>();
  #nightDay = '';
  #digestDay = '';
  #lookedMs = 0;

  constructor(app: App, clock: SteppedClock, world: SeasonWorld, crew: Crew, days: LocalDays) {
    this.#app = app;
    this.#clock = clock;
    this.#world = world;
    this.#crew = crew;
    this.#days = days;
    this.#analysis = new AnalysisStage(app, this.#processClock);
  }

  async step(nowMs: EpochMs): Promise<void> {
    this.#clock.atMs = nowMs;
    const { readings, weather } = this.#world.advance(nowMs);
    await commit(this.#app, [
      ...(weather.length === 0 ? [] : [{ kind: 'weather_days', rows: weather } as const]),
      ...(readings.length === 0 ? [] : [{ kind: 'readings', rows: readings } as const]),
    ]);
    while ((await this.#analysis.step()).changes > 0);
    // Old readings, as a node with a wrong clock sends with every message, keep the stage silent about its pot for a while.
    this.#processClock.atMs += MINUTE_MS;
    await this.#analysis.step();
    if (nowMs - this.#lookedMs >= LOOK_EVERY_MS) {
      this.#lookedMs = nowMs;
      await this.#analysis.evaluateAll(nowMs);
      await this.#settle();
      // In between, what is said of each pot at each step brings its site's turn.
      await reviewAllSites(this.#app);
    }
    await this.#settle();
    await escalateAlarms(this.#app);
    await this.#dailyJobs(nowMs);
    await this.#deliver(nowMs);
    await this.#crew.step(nowMs);
    await verifyVisits(this.#app);
    await verifyTasks(this.#app);
    await this.#settle();
    await this.#deliver(nowMs);
  }

  async #dailyJobs(nowMs: EpochMs): Promise<void> {
    const hour = this.#days.wallHour(nowMs);
    const today = this.#days.dayOf(nowMs);
    if (hour >= NIGHT_HOUR && this.#nightDay !== today) {
      this.#nightDay = today;
      await this.#analysis.compareSites(nowMs);
      await freezeCalibration(this.#app);
      await this.#settle();
    }
    if (hour >= WAKES_AT_HOUR && this.#digestDay !== today) {
      this.#digestDay = today;
      await morningDigest(this.#app, null);
    }
  }

  async #settle(): Promise<void> {
    while ((await runAlarmStage(this.#app)).changes > 0);
  }

  /** Everything that is due reaches people at once. */
  async #deliver(nowMs: EpochMs): Promise<void> {
    const { store } = this.#app;
    const zone = this.#days.timeZone;
    while ((await runNotifyStage(this.#app, async () => zone)) > 0);
    const due = await store.notify.due(nowMs, 10_000, null);
    for (const entry of due) await this.#count(entry, nowMs);
    await commit(
      this.#app,
      due.map((entry): Write => ({ kind: 'outbox', row: { ...entry, state: 'delivered', attempts: 1 } })),
    );
  }

  async #count(entry: OutboxEntry, atMs: EpochMs): Promise<void> {
    const shown = `${entry.addressId} ${entry.topic}`;
    if (entry.withdrawal) {
      this.#shown.delete(shown);
      return;
    }
    // An entry's id begins with the alert's, which ends before revision and address.
    const alert = await this.#app.store.work.alert(entry.id.split('.').slice(0, -2).join('.'));
    const containerIds = alert?.containerIds ?? [];
    this.told.push({ personId: entry.addressId, atMs, containerIds, isNew: !this.#shown.has(shown) });
    this.#shown.add(shown);
  }
}

/** Everybody is reached on one channel that can take things back, as a phone is; the address bears the person's id. */
function peopleWrites(technicians: readonly PersonId[]): readonly Write[] {
  const people: Person[] = [
    ...technicians.map((id) => person(id, 'technician')),
    person(DISPATCHER_ID, 'dispatcher'),
    person('owner', 'owner'),
  ];
  return people.flatMap((row): Write[] => [
    { kind: 'person', row },
    {
      kind: 'address',
      row: {
        id: row.id,
        personId: row.id,
        channel: 'web_push',
        target: `https://push.example/${row.id}`,
        secret: null,
        createdMs: 0,
        endedMs: null,
      },
    },
  ]);
}

function holidayWrites(holidays: readonly LocalDay[]): readonly Write[] {
  return holidays.map((day): Write => {
    const row = { id: `holiday-${day}`, personId: null, truckId: null, reason: 'holiday', endedMs: null };
    return { kind: 'absence', row: { ...row, fromDay: day, toDay: day } };
  });
}

function person(id: PersonId, role: Person['role']): Person {
  return { id, name: id, login: id, role, accountId: null, language: 'en', units: METRIC_UNITS, disabledAtMs: null };
}

async function commit(app: App, writes: readonly Write[]): Promise<void> {
  if (writes.length === 0) return;
  await app.store.commit({
    atMs: app.clock.nowMs(),
    actor: { kind: 'command', id: 'alarm-study' },
    writes,
    cursor: null,
  });
}
