import type { ChildProcess } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type Database from 'better-sqlite3';
import { freePort } from '../support/free-port.js';
import { StormClient, type StormReading } from '../support/storm-client.js';
import { Acts } from './acts.js';
import { backupFaults, ended, OwnBackups, startBackup } from './backups.js';
import {
  damage,
  derivedRows,
  ledgerFaults,
  openLeft,
  outboxCounts,
  readingFaults,
  repeatFaults,
  visitFaults,
} from './checks.js';
import { POTS, potNodeId, tortureFleet } from './fleet.js';
import { listenForHooks } from './hook.js';
import { importFleetFile } from './import.js';
import { potNodes, stormNodes, totalAcknowledged } from './nodes.js';
import { KilledPhases, makeJobsDue } from './phases.js';
import { keptWhereFaulty, type Outcome, type Plan, type Scenario } from './scenario.js';
import { serve, sleep, untilAcknowledged } from './served.js';
import { untilSettled } from './settled.js';

const STORM_WINDOW = 8;
/** Few at a time: a pot's readings are all analysed, which takes longer than storing them. */
const POT_WINDOW = 12;
/** Every so many kills one comes while the server is starting, and one while a backup is made, by hand or by itself. */
const KILL_AT_START_EVERY = 5;
const BACKUP_EVERY = 4;

/**
 * Everything at once through the server's own doors: nodes that publish, people who plan and record, a webhook that
 * fails now and then, backups, and after each start every job; kill -9 at random moments, also during the start.
 */
export const life: Scenario = {
  name: 'life',
  summary: 'ingest, analysis, ledger, people’s acts, outbox and backups on the embedded broker',
  share: 0.75,
  run: async (plan) => {
    const dir = mkdtempSync(join(tmpdir(), 'brimline-torture-'));
    const hook = await listenForHooks();
    try {
      return keptWhereFaulty(dir, await live(dir, hook, plan));
    } finally {
      await hook.close();
    }
  },
};

async function live(dir: string, hook: Awaited<ReturnType<typeof listenForHooks>>, plan: Plan): Promise<Outcome> {
  await importFleetFile(dir, tortureFleet());
  const [mqttPort, httpPort] = [await freePort(), await freePort()];
  const nodes = [...stormNodes(STORM_WINDOW), ...potNodes(POT_WINDOW)];
  const acts = new Acts(httpPort);
  const faults: string[] = [];
  const checked = new Map<StormClient, number>();
  let visitsChecked = 0;
  let kills = 0;
  let killsAtStart = 0;
  let backupsWhole = 0;
  let hooked = false;
  const phases = new KilledPhases();
  const ownBackups = new OwnBackups(join(dir, 'backups'));
  while (kills < plan.kills && faults.length === 0) {
    const backsUp = kills % BACKUP_EVERY === 3;
    const server = serve({ dir, mqttPort, httpPort, environment: backsUp ? ownBackups.environment : {} });
    const backupFile = join(dir, `backup-${kills}.sqlite`);
    let backup: ChildProcess | null = null;
    if (hooked && kills % KILL_AT_START_EVERY === KILL_AT_START_EVERY - 1) {
      await sleep(plan.random() * 900);
      killsAtStart += 1;
    } else {
      await server.ready();
      if (!hooked) await acts.addWebhook(hook.url);
      hooked = true;
      for (const node of nodes) void node.run(mqttPort);
      acts.start();
      if (kills % BACKUP_EVERY === 1) backup = startBackup(dir, backupFile);
      // From before the first commit to long after, when the stages are at work, however busy the machine is.
      await untilAcknowledged(() => totalAcknowledged(nodes), Math.floor(1_500 ** plan.random()));
      await sleep(plan.random() * 30);
    }
    if (!server.alive()) {
      faults.push('the server ended by itself');
      break;
    }
    await server.kill();
    for (const node of nodes) node.stop();
    await acts.stop();
    if (backup !== null) {
      if (await ended(backup)) backupsWhole += 1;
      faults.push(...backupFaults(backupFile));
    }
    kills += 1;
    if (backsUp) faults.push(...ownBackups.faults());
    const db = openLeft(dir);
    try {
      phases.look(db);
      makeJobsDue(db);
      faults.push(...damage(db, 'quick'));
      for (const node of nodes) {
        faults.push(...readingFaults(db, node.acknowledged.slice(checked.get(node) ?? 0)));
        checked.set(node, node.acknowledged.length);
      }
      faults.push(...visitFaults(db, [...acts.acknowledged].slice(visitsChecked)));
      visitsChecked = acts.acknowledged.size;
    } finally {
      db.close();
    }
    if (kills % 10 === 0)
      plan.say(`${kills} kills, ${totalAcknowledged(nodes)} readings, ${acts.acknowledged.size} visits`);
  }
  faults.push(...acts.refused);
  const notes = [
    `${killsAtStart} kills while the server was starting`,
    ...phases.notes,
    `${acts.sentAgain} requests of people broken off by a kill and sent again`,
    `${backupsWhole} backups by hand finished`,
  ];
  if (faults.length === 0)
    faults.push(...(await aftermath(dir, mqttPort, httpPort, nodes, acts, hook, ownBackups, notes)));
  return { kills, acknowledged: totalAcknowledged(nodes), acts: acts.acknowledged.size, faults, notes };
}

/** The server is left in peace until it has dealt with all it holds; then everything is compared, from the beginning. */
async function aftermath(
  dir: string,
  mqttPort: number,
  httpPort: number,
  nodes: readonly StormClient[],
  acts: Acts,
  hook: Awaited<ReturnType<typeof listenForHooks>>,
  ownBackups: OwnBackups,
  notes: string[],
): Promise<readonly string[]> {
  hook.mend();
  const server = serve({ dir, mqttPort, httpPort, environment: ownBackups.environment });
  await server.ready();
  const settled = await untilSettled(dir);
  const faults: string[] = [...(settled === null ? [] : [settled]), ...(await ownBackups.untilMade())];
  notes.push(ownBackups.note);
  const code = await server.stop();
  if (code !== 0) faults.push(`told to stop, the server ended with ${code}`);
  const db = openLeft(dir);
  try {
    for (const node of nodes) faults.push(...readingFaults(db, node.acknowledged));
    faults.push(...visitFaults(db, acts.acknowledged), ...repeatFaults(db), ...damage(db, 'full'), ...ledgerFaults(db));
    const outbox = outboxCounts(db);
    if (outbox.dead > 0) faults.push(`${outbox.dead} messages were given up`);
    for (const id of outbox.delivered) {
      if (!hook.taken.has(id)) faults.push(`message ${id} is marked as delivered, and never arrived`);
    }
    const repeats = [...hook.taken.values()].filter((times) => times > 1).length;
    notes.push(
      `${outbox.delivered.length} messages delivered, ${repeats} of them more than once under the same key; ` +
        `${acts.stopsChanged} stops planned or taken off`,
    );
    faults.push(...(await differences(db, notes)));
  } finally {
    db.close();
  }
  return faults;
}

/** What was derived across all kills, against a store that took the same readings in one piece. */
async function differences(db: Database.Database, notes: string[]): Promise<readonly string[]> {
  const calm = mkdtempSync(join(tmpdir(), 'brimline-calm-'));
  try {
    await importFleetFile(calm, tortureFleet());
    const pots = db
      .prepare<[], ReadingRow>(
        "SELECT node_id, time_ms, level_mm FROM reading WHERE node_id LIKE 'in-pot-%' ORDER BY node_id, time_ms",
      )
      .all();
    const [mqttPort, httpPort] = [await freePort(), await freePort()];
    const server = serve({ dir: calm, mqttPort, httpPort });
    await server.ready();
    await Promise.all(
      Array.from({ length: POTS }, async (_unused, i) => {
        const own = pots.filter((row) => row.node_id === potNodeId(i));
        const same = (_nodeId: string, number: number): StormReading => readingOf(own[number]);
        const client = new StormClient(potNodeId(i), STORM_WINDOW, own.length, same);
        const done = own.length === 0 ? Promise.resolve() : client.done();
        void client.run(mqttPort);
        await done;
        client.stop();
      }),
    );
    const settled = await untilSettled(calm);
    await server.stop();
    const calmDb = openLeft(calm);
    try {
      const [left, right] = [derivedRows(db), derivedRows(calmDb)];
      notes.push(`${left.length} derived rows compared with those of a server that was never killed`);
      const other = new Set(right);
      const differing = left.filter((row) => !other.has(row));
      const faults = settled === null ? [] : [settled];
      if (left.length !== right.length) faults.push(`${left.length} derived rows, ${right.length} without kills`);
      return [...faults, ...differing.slice(0, 3).map((row) => `not so without kills: ${row}`)];
    } finally {
      calmDb.close();
    }
  } finally {
    rmSync(calm, { recursive: true, force: true });
  }
}

interface ReadingRow {
  readonly node_id: string;
  readonly time_ms: number;
  readonly level_mm: number;
}

function readingOf(row: ReadingRow | undefined): StormReading {
  if (row === undefined) throw new Error('a reading was asked for that is not in the store');
  return { nodeId: row.node_id, timeMs: row.time_ms, levelMm: row.level_mm };
}
