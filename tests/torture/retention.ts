import { cpSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type Database from 'better-sqlite3';
import type { Reading } from '../../src/domain/reading.js';
import { openStore } from '../../src/store/open.js';
import { freePort } from '../support/free-port.js';
import { silentLog } from '../support/silent-log.js';
import { count, damage, derivedRows, ledgerFaults, openLeft } from './checks.js';
import { POTS, potNodeId, potReading, STORM_NODES, stormNodeId, tortureFleet } from './fleet.js';
import { importFleetFile } from './import.js';
import { keptWhereFaulty, type Outcome, type Plan, type Scenario } from './scenario.js';
import { type Served, serve, sleep } from './served.js';
import { untilSettled } from './settled.js';

const DAY_MS = 86_400_000;
const HISTORY_DAYS = 200;
const KEPT_DAYS = 60;
/** Of a pot everything since the last checkpoint before the limit stays, and checkpoints are a day apart. */
const MOST_KEPT_DAYS = KEPT_DAYS + 3;
const INTERVAL_MS = 15 * 60_000;
const ROWS_A_COMMIT = 5_000;
const LET_GO_MS = 120_000;
const RETENTION = { BRIMLINE_KEEP_READINGS_DAYS: String(KEPT_DAYS), BRIMLINE_KEEP_CHANGES_DAYS: '7' } as const;

/** Old readings and lines of the change log are let go, kill -9 meanwhile; what is derived and what people did stays. */
export const retention: Scenario = {
  name: 'retention',
  summary: 'killed while old readings and lines of the change log are let go',
  share: 0.08,
  run: async (plan) => {
    const dir = mkdtempSync(join(tmpdir(), 'brimline-torture-'));
    return keptWhereFaulty(dir, await letGoAgainAndAgain(dir, plan));
  },
};

async function letGoAgainAndAgain(dir: string, plan: Plan): Promise<Outcome> {
  const old = join(dir, 'old');
  const nowMs = Date.now();
  await fillWithHistory(old, nowMs);
  const before = look(old, nowMs);
  const calmMs = await letGo(join(dir, 'calm'), old);
  const faults: string[] = [];
  let kills = 0;
  let meanwhile = 0;
  while (kills < plan.kills && faults.length === 0) {
    const work = join(dir, `work-${kills}`);
    const server = await serveCopy(work, old);
    await until(server, work, hasBegun);
    await sleep(plan.random() * calmMs);
    await server.kill();
    kills += 1;
    const left = look(work, nowMs);
    if (left.readings < before.readings && !left.isDone) meanwhile += 1;
    faults.push(...left.faults, ...changed(before, left));
    await letGo(work, null);
    const after = look(work, nowMs);
    faults.push(...after.faults, ...changed(before, after));
    if (after.tooOld > 0) faults.push(`${after.tooOld} readings older than the rule says are still there`);
    if (faults.length === 0) rmSync(work, { recursive: true });
    if (kills % 10 === 0) plan.say(`${kills} kills, ${meanwhile} of them half-way`);
  }
  if (meanwhile === 0 && faults.length === 0 && kills >= 10)
    faults.push('no kill came half-way: this check sees nothing');
  const gone = before.readings - before.recent;
  const notes = [`${meanwhile} of ${kills} kills came while ${gone} of ${before.readings} readings were let go`];
  return { kills, acknowledged: 0, acts: 0, faults, notes };
}

/** A store with a long past: readings of all nodes, analysed as far as they are in pots. */
async function fillWithHistory(dir: string, nowMs: number): Promise<void> {
  await importFleetFile(dir, tortureFleet());
  const store = await openStore({ dir, log: silentLog });
  const nodes = [
    ...Array.from({ length: POTS }, (_unused, index) => ({ nodeId: potNodeId(index), everyMs: INTERVAL_MS })),
    ...Array.from({ length: STORM_NODES }, (_unused, index) => ({
      nodeId: stormNodeId(index),
      everyMs: 4 * INTERVAL_MS,
    })),
  ];
  try {
    for (const { nodeId, everyMs } of nodes) {
      const rows = history(nodeId, everyMs, nowMs);
      for (let from = 0; from < rows.length; from += ROWS_A_COMMIT) {
        const part = rows.slice(from, from + ROWS_A_COMMIT);
        const atMs = part.at(-1)?.receivedMs ?? nowMs;
        await store.commit({
          atMs,
          actor: { kind: 'stage', id: 'history' },
          writes: [{ kind: 'readings', rows: part }],
          cursor: null,
        });
      }
    }
  } finally {
    await store.close();
  }
  const server = serve({ dir, mqttPort: await freePort(), httpPort: await freePort() });
  await server.ready();
  const behind = await untilSettled(dir);
  await server.stop();
  if (behind !== null) throw new Error(`the past is not analysed: ${behind}`);
  const db = openLeft(dir);
  // With everything kept there was nothing to let go; as if that night had not come yet.
  db.prepare("DELETE FROM job WHERE job = 'retention'").run();
  db.close();
}

function history(nodeId: string, everyMs: number, nowMs: number): readonly Reading[] {
  const startMs = nowMs - HISTORY_DAYS * DAY_MS;
  return Array.from({ length: Math.floor((HISTORY_DAYS * DAY_MS) / everyMs) }, (_unused, number) => {
    const timeMs = startMs + number * everyMs;
    const { levelMm } = potReading(nodeId, (number * everyMs) / INTERVAL_MS);
    return {
      nodeId,
      timeMs,
      receivedMs: timeMs,
      levelMm,
      moistureFraction: null,
      temperatureC: null,
      batteryV: null,
      batteryFraction: null,
      signalDbm: null,
    };
  });
}

/** @returns how long it took from the first commit on, ms */
async function letGo(dir: string, from: string | null): Promise<number> {
  const server = from === null ? await startIn(dir) : await serveCopy(dir, from);
  await until(server, dir, hasBegun);
  const startedMs = performance.now();
  await until(server, dir, isDone);
  const tookMs = performance.now() - startedMs;
  await server.stop();
  return tookMs;
}

async function until(server: Served, dir: string, isSo: (db: Database.Database) => boolean): Promise<void> {
  const untilMs = performance.now() + LET_GO_MS;
  const db = openLeft(dir);
  try {
    while (!isSo(db)) {
      if (!server.alive()) throw new Error(`the server ended by itself; see ${dir}`);
      if (performance.now() > untilMs) throw new Error(`nothing was let go in ${LET_GO_MS / 1000} s in ${dir}`);
      await sleep(1);
    }
  } finally {
    db.close();
  }
}

async function serveCopy(dir: string, from: string): Promise<Served> {
  cpSync(from, dir, { recursive: true });
  return startIn(dir);
}

async function startIn(dir: string): Promise<Served> {
  return serve({ dir, mqttPort: await freePort(), httpPort: await freePort(), environment: RETENTION });
}

interface Look {
  readonly readings: number;
  /** Of these, a day younger than the rule at least: the clock goes on meanwhile. */
  readonly recent: number;
  readonly tooOld: number;
  readonly derived: readonly string[];
  readonly acts: number;
  readonly isDone: boolean;
  readonly faults: readonly string[];
}

function look(dir: string, nowMs: number): Look {
  const db = openLeft(dir);
  try {
    return {
      readings: count(db, 'SELECT count(*) FROM reading'),
      recent: count(db, `SELECT count(*) FROM reading WHERE time_ms >= ${nowMs - (KEPT_DAYS - 1) * DAY_MS}`),
      tooOld: count(db, `SELECT count(*) FROM reading WHERE time_ms < ${nowMs - MOST_KEPT_DAYS * DAY_MS}`),
      derived: derivedRows(db),
      acts: count(db, "SELECT count(*) FROM change WHERE actor_kind NOT IN ('stage', 'principal')"),
      isDone: isDone(db),
      faults: [...damage(db, 'full'), ...ledgerFaults(db)],
    };
  } finally {
    db.close();
  }
}

function changed(before: Look, after: Look): readonly string[] {
  const there = new Set(after.derived);
  const missing = before.derived.filter((row) => !there.has(row));
  return [
    ...(after.recent === before.recent ? [] : [`${before.recent - after.recent} readings are gone that had to stay`]),
    ...(after.acts >= before.acts ? [] : [`${before.acts - after.acts} lines of what people did are gone`]),
    ...missing.slice(0, 3).map((row) => `no longer there: ${row}`),
  ];
}

/** From where on readings are kept is written before the first is let go. */
function hasBegun(db: Database.Database): boolean {
  return count(db, 'SELECT count(*) FROM reading_horizon') > 0;
}

function isDone(db: Database.Database): boolean {
  return count(db, "SELECT count(*) FROM job WHERE job = 'retention'") > 0;
}
