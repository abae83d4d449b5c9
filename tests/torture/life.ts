import { type ChildProcess, spawn } from 'node:child_process';
import { copyFileSync, existsSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import Database from 'better-sqlite3';
import { freePort } from '../support/free-port.js';
import { StormClient, type StormReading } from '../support/storm-client.js';
import { Acts } from './acts.js';
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
import { keptWhereFaulty, type Outcome, type Plan, type Scenario } from './scenario.js';
import { serve, sleep, untilAcknowledged } from './served.js';
import { untilSettled } from './settled.js';

const MAIN = fileURLToPath(new URL('../../src/main.js', import.meta.url));

const STORM_WINDOW = 8;
/** Few at a time: a pot's readings are all analysed, which takes longer than storing them. */
const POT_WINDOW = 12;
/** Every so many kills one comes while the server is starting, and one while a backup is being written. */
const KILL_AT_START_EVERY = 5;
const BACKUP_EVERY = 4;

/**
 * Everything at once through the server's own doors: nodes that publish, people who plan and record, a webhook that
 * fails now and then, backups; kill -9 at random moments, also during the start.
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
  while (kills < plan.kills && faults.length === 0) {
    const server = serve({ dir, mqttPort, httpPort });
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
    const db = openLeft(dir);
    try {
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
  const notes = [`${killsAtStart} kills while the server was starting, ${backupsWhole} backups finished`];
  if (faults.length === 0) faults.push(...(await aftermath(dir, mqttPort, httpPort, nodes, acts, hook, notes)));
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
  notes: string[],
): Promise<readonly string[]> {
  hook.mend();
  const server = serve({ dir, mqttPort, httpPort });
  await server.ready();
  const settled = await untilSettled(dir);
  const code = await server.stop();
  const faults: string[] = settled === null ? [] : [settled];
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

function startBackup(dir: string, to: string): ChildProcess {
  return spawn(process.execPath, [MAIN, 'backup', '--data', dir, '--to', to, '--replace'], { stdio: 'ignore' });
}

/** Half of the backups are let finish, although the server was killed under them; the others are killed as well. */
async function ended(backup: ChildProcess): Promise<boolean> {
  if ((backup.pid ?? 0) % 2 === 0) backup.kill('SIGKILL');
  if (backup.exitCode !== null || backup.signalCode !== null) return backup.exitCode === 0;
  const code = await new Promise<number | null>((resolve) => backup.once('exit', (status) => resolve(status)));
  return code === 0;
}

/** A backup is either not there under its name, or whole. */
function backupFaults(file: string): readonly string[] {
  try {
    if (!existsSync(file)) return [];
    const copy = `${file}.copy`;
    copyFileSync(file, copy);
    const db = new Database(copy, { readonly: true });
    try {
      return damage(db, 'full').map((fault) => `backup ${file}: ${fault}`);
    } finally {
      db.close();
      rmSync(copy, { force: true });
    }
  } finally {
    for (const suffix of ['', '.part', '.part-journal', '.part-wal', '.part-shm'])
      rmSync(file + suffix, { force: true });
  }
}
