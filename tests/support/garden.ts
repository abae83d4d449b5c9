import { AnalysisStage } from '../../src/app/analysis/analysis-stage.js';
import type { App } from '../../src/app/context.js';
import { runAlarmStage } from '../../src/app/fieldwork/alarm-stage.js';
import type { JobParts } from '../../src/app/jobs/run-jobs.js';
import type { Principal } from '../../src/domain/access.js';
import type { Write } from '../../src/domain/change-set.js';
import type { Store } from '../../src/domain/ports/store.js';
import type { Reading } from '../../src/domain/reading.js';
import type { Container, Person, Role, Site } from '../../src/domain/registry.js';
import { FakeClock } from './fake-clock.js';
import { gaussian, seededRng } from './pot-series.js';
import { silentLog } from './temp-store.js';

export const MINUTE = 60_000;
export const HOUR = 60 * MINUTE;
export const DAY = 24 * HOUR;
/** Monday 2026-08-31, 06:30 in Madrid. */
export const MONDAY = Date.UTC(2026, 7, 31, 4, 30);

const LITRES_PER_MM = 0.15;
const OVERFLOW_MM = 200;

/** A pot whose water is known, since the test pours it. */
export class TestPot {
  readonly containerId: string;
  readonly nodeId: string;
  readonly litresPerDay: number;
  litres: number;
  #atMs: number;
  readonly #rng: () => number;

  constructor(containerId: string, nodeId: string, litresPerDay: number, litres: number, atMs: number) {
    this.containerId = containerId;
    this.nodeId = nodeId;
    this.litresPerDay = litresPerDay;
    this.litres = litres;
    this.#atMs = atMs;
    this.#rng = seededRng(containerId.length * 7919 + containerId.charCodeAt(containerId.length - 1));
  }

  /** Readings each half hour from where it stands up to `untilMs`; most is drawn by day, and none below the wick foot. */
  run(untilMs: number): Reading[] {
    const readings: Reading[] = [];
    for (let timeMs = this.#atMs; timeMs < untilMs; timeMs += 30 * MINUTE) {
      const hour = (timeMs / HOUR) % 24;
      const daylight = Math.max(0, Math.sin(((hour - 5) / 14) * Math.PI));
      const drawn = (this.litresPerDay / 48) * (0.1 + 0.9 * daylight * (Math.PI / 2) * (24 / 14));
      if (this.litres > 10 * LITRES_PER_MM) this.litres = Math.max(10 * LITRES_PER_MM, this.litres - drawn);
      const levelMm = Math.round((this.litres / LITRES_PER_MM + 0.5 * gaussian(this.#rng)) * 10) / 10;
      readings.push({
        nodeId: this.nodeId,
        timeMs,
        receivedMs: timeMs + 5000,
        levelMm,
        moistureFraction: null,
        temperatureC: 20 + 8 * daylight,
        batteryV: 3.6,
        batteryFraction: null,
        signalDbm: null,
      });
      this.#atMs = timeMs + 30 * MINUTE;
    }
    return readings;
  }

  pour(litres: number): void {
    this.litres = Math.min(OVERFLOW_MM * LITRES_PER_MM, this.litres + litres);
  }
}

export interface Garden {
  readonly app: App;
  readonly store: Store;
  readonly clock: FakeClock;
  readonly processClock: FakeClock;
  readonly analysis: AnalysisStage;
  readonly pots: readonly TestPot[];
  readonly dispatcher: Principal;
  readonly technician: Principal;
  readonly other: Principal;
  readonly client: Principal;
  pot(containerId: string): TestPot;
  /** Lets the pots run to an instant, sends what their nodes measured, moves the clock there, and settles. */
  runTo(untilMs: number, silent?: readonly string[]): Promise<void>;
  commit(writes: readonly Write[]): Promise<void>;
  /** Lets both stages work until nothing is waiting. */
  settle(): Promise<void>;
  /** Looks at every pot though nothing arrived, as the ticks do. */
  look(): Promise<void>;
}

export interface GardenOptions {
  /** Litres a day of each pot of site S1, then of S2. */
  readonly draws: readonly (readonly number[])[];
  /** How full they are at the start, 0-1. */
  readonly fill?: number;
  readonly startMs: number;
}

/** What the jobs work with, as on a server that asks no weather service, plans no rounds and keeps everything. */
export function jobParts({ app, analysis }: Garden): JobParts {
  const retention = { readingsDays: null, changesDays: null };
  return { app, analysis, planner: null, forecasts: null, retention, backups: null };
}

/** Sites with covered, straight-walled pots of 30 L to the port, a node each, a gateway at S2, and four people. */
export async function plantGarden(store: Store, options: GardenOptions): Promise<Garden> {
  const clock = new FakeClock(options.startMs);
  const processClock = new FakeClock(0);
  const app: App = { store, clock, log: silentLog };
  const analysis = new AnalysisStage(app, processClock);
  const pots: TestPot[] = [];
  const writes: Write[] = [{ kind: 'account', row: { id: 'A1', name: 'Harbour House', dryRisk: 0.05 } }];
  options.draws.forEach((draws, siteIndex) => {
    const siteId = `S${siteIndex + 1}`;
    writes.push(
      { kind: 'site', row: testSite(siteId) },
      { kind: 'site_access', row: { siteId, notes: 'Ring at the gate', contacts: [] } },
    );
    const gatewayId = siteIndex === 1 ? 'G2' : null;
    if (gatewayId !== null) writes.push({ kind: 'gateway', row: { id: gatewayId, siteId, name: 'Shed' } });
    draws.forEach((litresPerDay, index) => {
      const containerId = `${siteId}P${index + 1}`;
      const nodeId = `N-${containerId}`;
      writes.push(
        { kind: 'container', row: testContainer(containerId, siteId) },
        { kind: 'node', row: { id: nodeId, gatewayId, promisedIntervalS: 1800 } },
        {
          kind: 'assignment',
          row: {
            id: `${nodeId}-1`,
            nodeId,
            containerId,
            fromMs: options.startMs - 400 * DAY,
            toMs: null,
            zeroMm: 0,
          },
        },
      );
      pots.push(new TestPot(containerId, nodeId, litresPerDay, 30 * (options.fill ?? 0.9), options.startMs));
    });
  });
  for (const [id, role] of PEOPLE) writes.push({ kind: 'person', row: testPerson(id, role) });
  const commit = async (list: readonly Write[]): Promise<void> => {
    await store.commit({ atMs: clock.nowMs(), actor: { kind: 'command', id: 'test' }, writes: list, cursor: null });
  };
  await commit(writes);
  const settle = async (): Promise<void> => {
    processClock.advance(10_000);
    for (let worked = true; worked; ) {
      const analysed = await analysis.step();
      const alarmed = await runAlarmStage(app);
      processClock.advance(10_000);
      worked = analysed.changes > 0 || alarmed.changes > 0;
    }
  };
  return {
    app,
    store,
    clock,
    processClock,
    analysis,
    pots,
    dispatcher: principal('dora', 'dispatcher'),
    technician: principal('tom', 'technician'),
    other: principal('uma', 'technician'),
    client: { personId: 'carl', role: 'client', accountId: 'A1' },
    pot: (containerId) => pots.find((pot) => pot.containerId === containerId)!,
    runTo: async (untilMs, silent = []) => {
      const rows = pots.flatMap((pot) => {
        const readings = pot.run(untilMs);
        return silent.includes(pot.containerId) ? [] : readings;
      });
      clock.set(untilMs);
      if (rows.length > 0) await commit([{ kind: 'readings', rows }]);
      await settle();
    },
    commit,
    settle,
    look: async () => {
      await analysis.evaluateAll(clock.nowMs());
      await settle();
    },
  };
}

const PEOPLE: readonly (readonly [string, Role])[] = [
  ['dora', 'dispatcher'],
  ['tom', 'technician'],
  ['uma', 'technician'],
  ['olga', 'owner'],
  ['carl', 'client'],
];

function principal(personId: string, role: Role): Principal {
  return { personId, role, accountId: null };
}

export function testPerson(id: string, role: Role): Person {
  return {
    id,
    name: id.charAt(0).toUpperCase() + id.slice(1),
    login: id,
    role,
    accountId: role === 'client' ? 'A1' : null,
    language: 'en',
    units: { volume: 'L', length: 'mm', temperature: 'Cel' },
    disabledAtMs: null,
  };
}

export function testSite(id: string): Site {
  return {
    id,
    accountId: 'A1',
    name: `Terrace ${id}`,
    latitude: 41.2,
    longitude: 2.1,
    elevationM: 10,
    timeZone: 'Europe/Madrid',
    tap: true,
  };
}

export function testContainer(id: string, siteId: string, more: Partial<Container> = {}): Container {
  return {
    id,
    siteId,
    name: `Bowl ${id}`,
    place: 'by the pool',
    covered: true,
    installedOn: '2026-03-01',
    removedOn: null,
    reservoir: {
      strapping: [
        [0, 0],
        [100, 15],
        [240, 36],
      ],
      overflowMm: OVERFLOW_MM,
      wickFootMm: 10,
    },
    soil: { litres: 60, surfaceM2: 0.25 },
    potKg: 30,
    plants: [],
    ...more,
  };
}
