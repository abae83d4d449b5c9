import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { describe, expect, it, onTestFinished } from 'vitest';
import { importFleet } from '../../src/app/readings/import-fleet.js';
import { openStore } from '../../src/store/open.js';
import { type IngestChild, prepareServer } from '../support/ingest-child.js';
import type { ServerMode } from '../support/ingest-server.js';
import { StormClient, type StormReading } from '../support/storm-client.js';
import { silentLog } from '../support/temp-store.js';

const CLIENTS = 50;
const WINDOW = 20;
const KILLS = 20;
const LEAST_ACKNOWLEDGED = 1_000;
/** The control loses something at most kills; so many without a loss would mean that the check sees nothing. */
const CONTROL_KILLS = 10;
/** About 20 s where the machine is free and the build is fresh; loading from the sources on a busy one takes minutes. */
const TIMEOUT_MS = 300_000;

/** A process that has loaded the program and waits for its turn. */
function prepare(dir: string, mode: ServerMode): IngestChild {
  const server = prepareServer(dir, mode);
  onTestFinished(() => server.kill());
  return server;
}

async function makeStore(): Promise<string> {
  const dir = mkdtempSync(join(tmpdir(), 'brimline-kill-'));
  onTestFinished(() => rmSync(dir, { recursive: true, force: true }));
  const store = await openStore({ dir, log: silentLog });
  const nodes = Array.from({ length: CLIENTS }, (_unused, i) => ({ id: `N${i}` }));
  const app = { store, log: silentLog, clock: { nowMs: () => Date.now() } };
  await importFleet(app, 'fleet.json', Buffer.from(JSON.stringify({ nodes })));
  await store.close();
  return dir;
}

interface Fault {
  readonly reading: StormReading;
  readonly found: string;
}

/** What was acknowledged and is not in the store exactly as sent, and exactly once. */
async function faultsIn(dir: string, clients: readonly StormClient[]): Promise<readonly Fault[]> {
  const store = await openStore({ dir, log: silentLog });
  const faults: Fault[] = [];
  try {
    for (const client of clients) {
      const rows = await store.readings.ofNode(client.nodeId, 0, Number.MAX_SAFE_INTEGER);
      const byTime = new Map<number, number[]>();
      for (const row of rows) byTime.set(row.timeMs, [...(byTime.get(row.timeMs) ?? []), row.levelMm ?? Number.NaN]);
      for (const reading of client.acknowledged) {
        const levels = byTime.get(reading.timeMs) ?? [];
        if (levels.length === 1 && levels[0] === reading.levelMm) continue;
        faults.push({ reading, found: levels.length === 0 ? 'nothing' : levels.join(' and ') });
      }
    }
  } finally {
    await store.close();
  }
  return faults;
}

interface StormReport {
  readonly kills: number;
  readonly acknowledged: number;
  /** Publishes on the way at each kill. */
  readonly inFlight: readonly number[];
  readonly faults: readonly Fault[];
}

/** Kills a server in a storm again and again; checks after each kill. Ends early at a fault where asked to. */
async function storm(mode: ServerMode, kills: number, untilFault: boolean): Promise<StormReport> {
  const dir = await makeStore();
  const clients = Array.from({ length: CLIENTS }, (_unused, i) => new StormClient(`N${i}`, WINDOW));
  const inFlight: number[] = [];
  let faults: readonly Fault[] = [];
  let next = prepare(dir, mode);
  let done = 0;
  while (done < kills && !(untilFault && faults.length > 0)) {
    const child = next;
    const before = total(clients);
    const port = await child.listen();
    next = prepare(dir, mode);
    const runs = clients.map((client) => client.run(port));
    // Each kill at another place in the storm: after so many acknowledgements, and then within some milliseconds.
    await expect.poll(() => total(clients), { interval: 2, timeout: 20_000 }).toBeGreaterThan(before + 60 + done * 23);
    await new Promise((resolve) => setTimeout(resolve, (done * 7) % 19));
    inFlight.push(clients.reduce((sum, client) => sum + client.inFlight, 0));
    await child.kill();
    await Promise.all(runs);
    done += 1;
    faults = await faultsIn(dir, clients);
    if (faults.length > 0) break;
  }
  await next.kill();
  return { kills: done, acknowledged: total(clients), inFlight, faults };
}

function total(clients: readonly StormClient[]): number {
  return clients.reduce((sum, client) => sum + client.acknowledged.length, 0);
}

describe('a server that is killed in a storm of publishes', () => {
  it(
    `has every reading that it acknowledged, once, after each of ${KILLS} kills`,
    async () => {
      const report = await storm('honest', KILLS, false);
      expect(report.kills).toBe(KILLS);
      expect(report.faults.slice(0, 5)).toEqual([]);
      expect(Math.min(...report.inFlight)).toBeGreaterThan(0);
      expect(report.acknowledged).toBeGreaterThanOrEqual(LEAST_ACKNOWLEDGED);
      console.log(
        `kill test: ${report.kills} kills, ${report.acknowledged} acknowledged, ${report.faults.length} lost or doubled; ` +
          `on the way at a kill: ${Math.min(...report.inFlight)} to ${Math.max(...report.inFlight)}`,
      );
    },
    TIMEOUT_MS,
  );

  it(
    'would be caught by this check if it acknowledged before it stored',
    async () => {
      const report = await storm('early', CONTROL_KILLS, true);
      expect(report.faults.length).toBeGreaterThan(0);
      expect(report.faults[0]?.found).toBe('nothing');
      console.log(`kill test, control: ${report.faults.length} of ${report.acknowledged} lost by kill ${report.kills}`);
    },
    TIMEOUT_MS,
  );
});
