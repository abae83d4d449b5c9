import { mkdir, readdir, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import Database from 'better-sqlite3';
import { describe, expect, test } from 'vitest';
import { DailyBackups } from '../../src/commands/daily-backups.js';
import { FILE_NAME } from '../../src/store/database.js';
import { PROGRAM } from '../support/cli.js';
import { makeTempDir, openTempStore, silentLog } from '../support/temp-store.js';
import { changeSet, worldOf } from '../unit/store/worlds.js';

const OWNER = {
  id: 'ada',
  name: 'Ada',
  login: 'ada',
  role: 'owner',
  accountId: null,
  language: 'en',
  units: { volume: 'L', length: 'mm', temperature: 'Cel' },
  disabledAtMs: null,
} as const;

async function garden() {
  const { store, dir: dataDir } = await openTempStore();
  await store.commit(changeSet([...worldOf('A'), { kind: 'person', row: OWNER }]));
  const dir = join(await makeTempDir(), 'backups');
  const keyFile = join(dataDir, 'brimline-keys.json');
  const backups = new DailyBackups({ dir, keepDays: 2, dataDir, keyFile, program: PROGRAM, log: silentLog });
  return { backups, dataDir, dir };
}

describe('the backup of the day', () => {
  test('is made once, with the keys of web push, and the oldest goes when a newer one is good', async () => {
    const { backups, dataDir, dir } = await garden();
    await writeFile(join(dataDir, 'push-keys.json'), '{}');
    expect(await backups.newestMs()).toBeNull();
    for (const day of ['2026-05-01', '2026-05-02', '2026-05-02', '2026-05-03']) {
      backups.request(day);
      await backups.settled();
      expect(await readdir(dir)).toContain(`brimline-${day}.sqlite`);
    }
    expect((await readdir(dir)).sort()).toEqual([
      'brimline-2026-05-02.sqlite',
      'brimline-2026-05-02.sqlite.push-keys.json',
      'brimline-2026-05-03.sqlite',
      'brimline-2026-05-03.sqlite.push-keys.json',
    ]);
    expect(await backups.newestMs()).toBeGreaterThan(0);
    expect(backups.failed).toBe(0);
  });

  test('does not get its name, and puts no good one out, where it would not do', async () => {
    const { backups, dataDir, dir } = await garden();
    backups.request('2026-05-01');
    await backups.settled();
    const db = new Database(join(dataDir, FILE_NAME));
    db.prepare('UPDATE ledger_day SET closing_litres = closing_litres + 1').run();
    db.close();
    backups.request('2026-05-02');
    await backups.settled();
    expect(backups.failed).toBe(1);
    expect((await readdir(dir)).sort()).toEqual([
      'brimline-2026-05-01.sqlite',
      expect.stringMatching(/^untried-2026-05-02-.*\.sqlite$/),
    ]);
  });

  test('begins anew where one was broken off, and takes nothing of it over', async () => {
    const { backups, dir } = await garden();
    await mkdir(dir, { recursive: true });
    const left = ['untried-2026-05-01-0a.sqlite.part', 'untried-2026-04-30-0b.sqlite'];
    for (const name of left) await writeFile(join(dir, name), 'half a copy');
    backups.request('2026-05-01');
    await backups.settled();
    expect(await readdir(dir)).toEqual(['brimline-2026-05-01.sqlite']);
    expect(backups.failed).toBe(0);
  });

  test('is broken off when the server stops', async () => {
    const { backups, dir } = await garden();
    backups.request('2026-05-01');
    await backups.close();
    expect(await readdir(dir)).not.toContain('brimline-2026-05-01.sqlite');
    expect(backups.failed).toBe(0);
  });
});
