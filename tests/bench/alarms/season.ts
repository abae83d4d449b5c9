import { randomUUID } from 'node:crypto';
import { readFile } from 'node:fs/promises';
import { join } from 'node:path';
import { reviewAllSites, runAlarmStage } from '../../../src/app/alarm-stage.js';
import { actOnAlarm } from '../../../src/app/alarms.js';
import { AnalysisStage } from '../../../src/app/analysis-stage.js';
import type { App } from '../../../src/app/context.js';
import { morningDigest } from '../../../src/app/digest.js';
import { importFleet } from '../../../src/app/import-fleet.js';
import { runNotifyStage } from '../../../src/app/notify-stage.js';
import { METRIC_UNITS } from '../../../src/app/people.js';
import { planStop } from '../../../src/app/rounds.js';
import { verifyVisits } from '../../../src/app/verify-visits.js';
import { recordVisit } from '../../../src/app/visits.js';
import { type Principal, WHOLE_FLEET } from '../../../src/domain/access.js';
import type { Write } from '../../../src/domain/change-set.js';
import { DomainError } from '../../../src/domain/errors.js';
import type { EpochMs } from '../../../src/domain/ids.js';
import { HOUR_MS, LocalDays } from '../../../src/domain/local-day.js';
import type { OutboxEntry } from '../../../src/domain/notify.js';
import type { Clock } from '../../../src/domain/ports/clock.js';
import type { Log } from '../../../src/domain/ports/log.js';
import type { Store } from '../../../src/domain/ports/store.js';
import type { Person, Site } from '../../../src/domain/registry.js';
import { openStore } from '../../../src/store/open.js';
import { type CrewWork, crewWorkOf, type KnownWeather, ReadingFeed, weatherOf } from './feed.js';

export interface SeasonOptions {
  readonly fleetDir: string;
  readonly dataDir: string;
  readonly startMs: EpochMs;
  readonly endMs: EpochMs;
  readonly stepHours: number;
  readonly onProgress: (line: string) => void;
}

/** A message as it reached somebody. */
export interface Told {
  readonly personId: string;
  readonly atMs: EpochMs;
  readonly topic: string;
  /** The first about its topic since the last was withdrawn; otherwise it took the place of what was shown. */
  readonly isNew: boolean;
  readonly urgent: boolean;
}

export interface Season {
  readonly store: Store;
  readonly technicians: readonly string[];
  readonly told: readonly Told[];
  readonly visits: number;
  /** Acts of the crew that the program refused, in words. */
  readonly refused: ReadonlyMap<string, number>;
  readonly zone: string;
}

/** Each technician answers for about so many pots; the project's goal for alerts is put for this number. */
const POTS_PER_TECHNICIAN = 150;
const DISPATCHER: Principal = { personId: 'dispatcher', role: 'dispatcher', accountId: null };
/** Looks at every pot for what only time makes true. */
const LOOK_EVERY_HOURS = 3;
const WAKES_AT_HOUR = 6;
const quiet: Log = { debug: () => {}, info: () => {}, warn: () => {}, error: () => {} };

class SteppedClock implements Clock {
  atMs = 0;
  nowMs(): EpochMs {
    return this.atMs;
  }
}

/**
 * Lives through a season as the service would have: what nodes sent is taken when it was received, analysed, turned into
 * alarms, tasks and alerts by the very stages of the server. The dispatcher plans in the morning where the simulated crew
 * will go that day, and sees alarms within the hour while at work; the crew reports what it did.
 */
export async function liveThrough(options: SeasonOptions): Promise<Season> {
  const store = await openStore({ dir: options.dataDir, log: quiet });
  const clock = new SteppedClock();
  clock.atMs = options.startMs;
  const app: App = { store, clock, log: quiet };
  await importFleet(app, 'fleet.json', await readFile(join(options.fleetDir, 'fleet.json')));
  const sites = await store.registry.sites(WHOLE_FLEET);
  const containers = await store.registry.containers(WHOLE_FLEET);
  const technicians = Array.from(
    { length: Math.max(1, Math.round(containers.length / POTS_PER_TECHNICIAN)) },
    (_, index) => `technician-${index + 1}`,
  );
  await commit(app, peopleWrites(technicians));
  const season = new SeasonRun(app, clock, {
    sites,
    siteOf: new Map(containers.map((container) => [container.id, container.siteId])),
    technicians,
    feed: new ReadingFeed(options.fleetDir),
    weather: await weatherOf(options.fleetDir, sites),
    work: await crewWorkOf(options.fleetDir),
  });
  const stepMs = options.stepHours * HOUR_MS;
  let shownMs = 0;
  for (let nowMs = options.startMs + stepMs; nowMs <= options.endMs; nowMs += stepMs) {
    await season.step(nowMs);
    if (Date.now() - shownMs > 15_000) {
      shownMs = Date.now();
      options.onProgress(
        `${new Date(nowMs).toISOString().slice(0, 13)}: day ${((nowMs - options.startMs) / 86_400_000).toFixed(1)} of ${((options.endMs - options.startMs) / 86_400_000).toFixed(0)}, ${season.told.length} messages`,
      );
    }
  }
  return { store, technicians, told: season.told, visits: season.visits, refused: season.refused, zone: season.zone };
}

interface Inputs {
  readonly sites: readonly Site[];
  readonly siteOf: ReadonlyMap<string, string>;
  readonly technicians: readonly string[];
  readonly feed: ReadingFeed;
  readonly weather: readonly KnownWeather[];
  readonly work: readonly CrewWork[];
}

class SeasonRun {
  readonly told: Told[] = [];
  readonly refused = new Map<string, number>();
  visits = 0;
  readonly zone: string;
  readonly #app: App;
  readonly #clock: SteppedClock;
  readonly #inputs: Inputs;
  readonly #analysis: AnalysisStage;
  readonly #days: LocalDays;
  readonly #shown = new Set<string>();
  #nextWeather = 0;
  #nextWork = 0;
  #plannedDay = '';
  #digestDay = '';
  #lookedMs = 0;

  constructor(app: App, clock: SteppedClock, inputs: Inputs) {
    this.#app = app;
    this.#clock = clock;
    this.#inputs = inputs;
    // History that arrives late keeps the stage silent for seconds of its process clock; here that is the stepped one.
    this.#analysis = new AnalysisStage(app, clock);
    this.zone = inputs.sites[0]?.timeZone ?? 'UTC';
    this.#days = new LocalDays(this.zone);
  }

  async step(nowMs: EpochMs): Promise<void> {
    this.#clock.atMs = nowMs;
    await this.#takeInputs(nowMs);
    while ((await this.#analysis.step()).changes > 0);
    if (nowMs - this.#lookedMs >= LOOK_EVERY_HOURS * HOUR_MS) {
      this.#lookedMs = nowMs;
      await this.#analysis.evaluateAll(nowMs);
      await this.#settle();
      await reviewAllSites(this.#app);
    }
    await this.#settle();
    const hour = Math.floor(this.#days.wallHour(nowMs));
    const today = this.#days.dayOf(nowMs);
    if (hour >= WAKES_AT_HOUR && this.#digestDay !== today) {
      this.#digestDay = today;
      await this.#analysis.compareSites(nowMs);
      await morningDigest(this.#app, null);
    }
    if (hour >= WAKES_AT_HOUR && this.#plannedDay !== today) {
      this.#plannedDay = today;
      await this.#planDay(nowMs, today);
    }
    await this.#reportWork(nowMs);
    await verifyVisits(this.#app);
    if (hour >= 7 && hour < 18) await this.#seeAlarms();
    await this.#settle();
    await this.#deliver(nowMs);
  }

  async #takeInputs(nowMs: EpochMs): Promise<void> {
    const rows = await this.#inputs.feed.until(nowMs);
    const days = [];
    while ((this.#inputs.weather[this.#nextWeather]?.knownMs ?? Number.POSITIVE_INFINITY) <= nowMs) {
      days.push(this.#inputs.weather[this.#nextWeather]!.day);
      this.#nextWeather += 1;
    }
    await commit(this.#app, [
      ...(days.length === 0 ? [] : [{ kind: 'weather_days', rows: days } as const]),
      ...(rows.length === 0 ? [] : [{ kind: 'readings', rows } as const]),
    ]);
  }

  async #settle(): Promise<void> {
    while ((await runAlarmStage(this.#app)).changes > 0);
  }

  /** Where the crew goes today, in the order in which it goes. */
  async #planDay(nowMs: EpochMs, today: string): Promise<void> {
    const endMs = this.#days.endMs(today);
    const sites = new Set<string>();
    for (let at = this.#nextWork; (this.#inputs.work[at]?.atMs ?? endMs) < endMs; at += 1) {
      const { containerId, atMs } = this.#inputs.work[at]!;
      const siteId = this.#inputs.siteOf.get(containerId);
      if (siteId !== undefined && atMs > nowMs) sites.add(siteId);
    }
    for (const siteId of sites) {
      await this.#try(() =>
        planStop(this.#app, DISPATCHER, {
          siteId,
          technicianId: this.#technicianOf(siteId),
          day: today,
          position: null,
        }),
      );
    }
  }

  /** What was done up to now, a visit a site; the report comes when the step ends. */
  async #reportWork(nowMs: EpochMs): Promise<void> {
    const bySite = new Map<string, CrewWork[]>();
    while ((this.#inputs.work[this.#nextWork]?.atMs ?? Number.POSITIVE_INFINITY) <= nowMs) {
      const work = this.#inputs.work[this.#nextWork]!;
      this.#nextWork += 1;
      const siteId = this.#inputs.siteOf.get(work.containerId);
      if (siteId !== undefined) bySite.set(siteId, [...(bySite.get(siteId) ?? []), work]);
    }
    for (const [siteId, works] of bySite) {
      const technicianId = this.#technicianOf(siteId);
      await this.#try(async () => {
        await recordVisit(
          this.#app,
          { personId: technicianId, role: 'technician', accountId: null },
          {
            id: randomUUID(),
            siteId,
            technicianId,
            startedMs: Math.min(...works.map(({ atMs }) => atMs)) - 5 * 60_000,
            happenedMs: Math.max(...works.map(({ atMs }) => atMs)),
            actions: works.map(({ containerId, work, litres }) => ({
              containerId,
              taskId: null,
              work,
              litres,
              exception: null,
              note: null,
            })),
            note: null,
          },
        );
        this.visits += 1;
      });
    }
  }

  /** The dispatcher acknowledges what is new, and resets what is over and was seen. */
  async #seeAlarms(): Promise<void> {
    const standing = await this.#app.store.work.alarms(WHOLE_FLEET, { includeNormal: false, siteId: null });
    for (const alarm of standing) {
      const isUnseen =
        alarm.state === 'unacknowledged' ||
        alarm.state === 'latched_unacknowledged' ||
        alarm.state === 'returned_unacknowledged';
      if (isUnseen) {
        await this.#try(() => actOnAlarm(this.#app, DISPATCHER, alarm.id, { kind: 'acknowledge', note: null }));
      } else if (alarm.state === 'latched_acknowledged') {
        await this.#try(() => actOnAlarm(this.#app, DISPATCHER, alarm.id, { kind: 'reset', note: null }));
      }
    }
  }

  /** Everything that is due reaches people at once. */
  async #deliver(nowMs: EpochMs): Promise<void> {
    const { store } = this.#app;
    while ((await runNotifyStage(this.#app, async () => this.zone)) > 0);
    const due = await store.notify.due(nowMs, 10_000, null);
    for (const entry of due) this.#count(entry, nowMs);
    await commit(
      this.#app,
      due.map((entry): Write => ({ kind: 'outbox', row: { ...entry, state: 'delivered', attempts: 1 } })),
    );
    while ((await runNotifyStage(this.#app, async () => this.zone)) > 0);
  }

  #count(entry: OutboxEntry, atMs: EpochMs): void {
    const shown = `${entry.addressId} ${entry.topic}`;
    if (entry.withdrawal) {
      this.#shown.delete(shown);
      return;
    }
    const { addressId: personId, topic, urgent } = entry;
    this.told.push({ personId, atMs, topic, isNew: !this.#shown.has(shown), urgent });
    this.#shown.add(shown);
  }

  #technicianOf(siteId: string): string {
    const index = this.#inputs.sites.findIndex((site) => site.id === siteId);
    return this.#inputs.technicians[index % this.#inputs.technicians.length]!;
  }

  /** A refusal is counted and lived with, as people do; anything else ends the study. */
  async #try(act: () => Promise<unknown>): Promise<void> {
    try {
      await act();
    } catch (error) {
      if (!(error instanceof DomainError)) throw error;
      const words = `${error.code}: ${error.faults[0]?.detail ?? error.message}`.slice(0, 120);
      this.refused.set(words, (this.refused.get(words) ?? 0) + 1);
    }
  }
}

/** Everybody is reached on one channel that can take things back, as a phone is; the address bears the person's id. */
function peopleWrites(technicians: readonly string[]): readonly Write[] {
  const people: Person[] = [
    ...technicians.map((id) => person(id, 'technician')),
    person(DISPATCHER.personId, 'dispatcher'),
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

function person(id: string, role: Person['role']): Person {
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
