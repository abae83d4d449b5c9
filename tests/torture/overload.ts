import { mkdtempSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { freePort } from '../support/free-port.js';
import { Acts } from './acts.js';
import { damage, openLeft, readingFaults, repeatFaults } from './checks.js';
import { STORM_NODES, tortureFleet } from './fleet.js';
import { importFleetFile } from './import.js';
import { stormNodes, totalAcknowledged } from './nodes.js';
import { keptWhereFaulty, type Outcome, type Plan, type Scenario } from './scenario.js';
import { serve, sleep } from './served.js';

/** Messages on the way for each node: all nodes together hold far more than one commit takes. */
const WINDOW = 100;
const LOOK_EVERY_MS = 250;
const USABLE_MS = 500;
const QUICK_MS = 50;
const RECOVERED_MS = 60_000;
const MOST_GROWTH_MB = 300;

/**
 * More than the machine can take, for as long as is asked: each node sends as much as its window lets it and goes on as
 * soon as it may. Readings are slowed by withheld acknowledgements, none is dropped, and the pages stay usable.
 */
export const overload: Scenario = {
  name: 'overload',
  summary: 'more readings than the machine can take, with somebody at the pages',
  share: 0.01,
  run: async (plan) => {
    const dir = mkdtempSync(join(tmpdir(), 'brimline-torture-'));
    return keptWhereFaulty(dir, await press(dir, plan));
  },
};

async function press(dir: string, plan: Plan): Promise<Outcome> {
  await importFleetFile(dir, tortureFleet());
  const [mqttPort, httpPort] = [await freePort(), await freePort()];
  const server = serve({ dir, mqttPort, httpPort });
  await server.ready();
  const person = new Acts(httpPort);
  const calm = await looks(person, 10_000);
  const before = server.residentMb();
  const nodes = stormNodes(WINDOW);
  const total = (): number => totalAcknowledged(nodes);
  for (const node of nodes) void node.run(mqttPort);
  const startedMs = performance.now();
  const pressed = await looks(person, plan.minutes * 60_000);
  const seconds = (performance.now() - startedMs) / 1000;
  const grownMb = server.residentMb() - before;
  const acknowledged = total();
  for (const node of nodes) node.stop();
  const recoveredMs = await untilQuick(person, Math.max(QUICK_MS, 2 * percentile(calm, 0.5)));
  const faults: string[] = [];
  if (!server.alive()) faults.push('the server ended by itself');
  if (grownMb > MOST_GROWTH_MB) faults.push(`the server grew by ${grownMb} MB`);
  if (percentile(pressed, 0.99) > USABLE_MS)
    faults.push(`a page took ${percentile(pressed, 0.99).toFixed(0)} ms at p99`);
  if (recoveredMs > RECOVERED_MS) faults.push(`it took ${Math.round(recoveredMs / 1000)} s to recover`);
  await server.stop();
  const db = openLeft(dir);
  for (const node of nodes) faults.push(...readingFaults(db, node.acknowledged).slice(0, 3));
  faults.push(...repeatFaults(db), ...damage(db, 'full'));
  db.close();
  const notes = [
    `${(acknowledged / seconds).toFixed(0)} readings/s for ${seconds.toFixed(0)} s with ${STORM_NODES * WINDOW} on the way; ` +
      `${grownMb} MB more memory`,
    `a page meanwhile: ${summary(pressed)}; before: ${summary(calm)}; back to that ${(recoveredMs / 1000).toFixed(1)} s after`,
  ];
  return { kills: 0, acknowledged, acts: pressed.length, faults, notes };
}

/** How long the day's page takes, again and again, in milliseconds. */
async function looks(person: Acts, forMs: number): Promise<readonly number[]> {
  const untilMs = performance.now() + forMs;
  const took: number[] = [];
  while (performance.now() < untilMs) {
    took.push(await person.look());
    await sleep(LOOK_EVERY_MS);
  }
  return took;
}

async function untilQuick(person: Acts, quickMs: number): Promise<number> {
  const startedMs = performance.now();
  for (let inRow = 0; inRow < 5 && performance.now() - startedMs < 2 * RECOVERED_MS; ) {
    inRow = (await person.look()) <= quickMs ? inRow + 1 : 0;
    await sleep(50);
  }
  return performance.now() - startedMs;
}

function summary(took: readonly number[]): string {
  return `p50 ${percentile(took, 0.5).toFixed(0)} ms, p99 ${percentile(took, 0.99).toFixed(0)} ms`;
}

function percentile(values: readonly number[], share: number): number {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[Math.min(sorted.length - 1, Math.floor(sorted.length * share))] ?? Number.NaN;
}
