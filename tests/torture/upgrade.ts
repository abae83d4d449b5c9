import { spawnSync } from 'node:child_process';
import { copyFileSync, mkdirSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { FILE_NAME, openDatabase } from '../../src/store/database.js';
import { appliedMigrations, readMigrations } from '../../src/store/migrations.js';
import { silentLog } from '../support/silent-log.js';
import { count, damage, openLeft } from './checks.js';
import { keptWhereFaulty, type Outcome, type Plan, type Scenario } from './scenario.js';

const MAIN = fileURLToPath(new URL('../../src/main.js', import.meta.url));
const READINGS = 2_000;

/** An upgrade of the store from each layout before the newest, killed at a write of it; the next start has to finish it. */
export const upgrade: Scenario = {
  name: 'upgrade',
  summary: 'the upgrade of a store from an older layout, killed at one write after the other',
  share: 0.12,
  missing: () =>
    spawnSync('strace', ['-o', '/dev/null', 'true']).status === 0
      ? null
      : 'strace cannot trace here (apt-get install strace)',
  run: async (plan) => {
    const dir = mkdtempSync(join(tmpdir(), 'brimline-torture-'));
    return keptWhereFaulty(dir, await upgradeAgainAndAgain(dir, plan));
  },
};

async function upgradeAgainAndAgain(dir: string, plan: Plan): Promise<Outcome> {
  const all = readMigrations();
  const faults: string[] = [];
  let kills = 0;
  let runs = 0;
  const olds = await Promise.all(all.slice(0, -1).map(({ version }) => oldStore(dir, version)));
  while (kills < plan.kills && faults.length === 0) {
    const old = olds[runs % olds.length];
    if (old === undefined) throw new Error('there is one layout only, so there is nothing to upgrade');
    const work = join(dir, `work-${runs}`);
    mkdirSync(work);
    copyFileSync(old, join(work, FILE_NAME));
    const nth = 1 + Math.floor(plan.random() * 40);
    const call = plan.random() < 0.5 ? 'pwrite64' : 'fdatasync';
    if (openUnder(work, ['-e', `inject=${call}:signal=SIGKILL:when=${nth}`]) === 'SIGKILL') kills += 1;
    const found = openUnder(work, null);
    if (found !== 0) faults.push(`after a kill at ${call} ${nth} the store does not open: it ended with ${found}`);
    const db = openLeft(work);
    try {
      faults.push(...damage(db, 'full'));
      const readings = count(db, 'SELECT count(*) FROM reading');
      if (readings !== READINGS) faults.push(`${READINGS - readings} of ${READINGS} readings are lost in the upgrade`);
      const version = appliedMigrations(db).at(-1)?.version;
      if (version !== all.length) faults.push(`the layout is ${version} instead of ${all.length}`);
    } finally {
      db.close();
    }
    if (faults.length === 0) rmSync(work, { recursive: true });
    runs += 1;
    if (runs > plan.kills * 20) break;
  }
  if (kills === 0) faults.push('no run was killed: this check sees nothing');
  const notes = [`${runs} upgrades from ${olds.length} older layouts, ${kills} of them killed at a write or flush`];
  return { kills, acknowledged: 0, acts: 0, faults, notes };
}

/** A store of an older layout with readings in it, as a file without companions. */
async function oldStore(dir: string, version: number): Promise<string> {
  const folder = join(dir, `layout-${version}`);
  mkdirSync(folder);
  const file = join(folder, FILE_NAME);
  const migrations = readMigrations().slice(0, version);
  const db = await openDatabase({ file, readOnly: false, busyTimeoutMs: 1_000, migrations, log: silentLog });
  db.exec("INSERT INTO node (id) VALUES ('N1')");
  const insert = db.prepare("INSERT INTO reading (node_id, time_ms, received_ms, level_mm) VALUES ('N1', ?, ?, 40)");
  db.transaction(() => {
    for (let index = 0; index < READINGS; index++) insert.run(index * 1_000, index * 1_000);
  })();
  db.pragma('journal_mode = DELETE');
  db.close();
  return file;
}

/** Runs a small command, which upgrades the store first; its exit code, or what killed it. */
function openUnder(dir: string, injection: readonly string[] | null): number | string | null {
  const command = [process.execPath, MAIN, 'node', 'add', 'N1', '--data', dir, '--replace'];
  const files = [FILE_NAME, `${FILE_NAME}-wal`, `${FILE_NAME}-journal`].flatMap((name) => ['-P', join(dir, name)]);
  const traced = ['strace', '-f', '-o', '/dev/null', ...(injection ?? []), ...files, ...command];
  const run = injection === null ? command : traced;
  const { status, signal } = spawnSync(String(run[0]), run.slice(1), { stdio: 'ignore' });
  // A tracer passes on how its program ended by ending in the same way.
  return signal ?? status;
}
