import { spawn } from 'node:child_process';
import { chmod, mkdir, readdir, readFile, stat, truncate, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import Database from 'better-sqlite3';
import { describe, expect, test } from 'vitest';
import { WHOLE_FLEET } from '../../../src/domain/access.js';
import { FILE_NAME, openDatabase } from '../../../src/store/database.js';
import { readMigrations } from '../../../src/store/migrations.js';
import { openStore } from '../../../src/store/open.js';
import { Sql } from '../../../src/store/sql.js';
import { SqliteStore } from '../../../src/store/sqlite-store.js';
import { Vault } from '../../../src/store/vault.js';
import { makeTempDir, openTempStore, silentLog } from '../../support/temp-store.js';
import { changeSet, idsOf, reading, registryOf, T0, worldOf } from './worlds.js';

const log = silentLog;
const node = idsOf('A').node;

/** A folder with a store that holds a world, closed. */
async function closedStore(): Promise<{ dir: string; file: string }> {
  const dir = await makeTempDir();
  const store = await openStore({ dir, log });
  await store.commit(changeSet(worldOf('A')));
  await store.close();
  return { dir, file: join(dir, FILE_NAME) };
}

/** Another process that holds the file's lock for writing until it is told to end. */
async function lockByAnotherProcess(file: string, statements: string): Promise<() => Promise<void>> {
  const script = `const db = new (require('better-sqlite3'))(${JSON.stringify(file)});
    db.exec(${JSON.stringify(statements)});
    process.stdout.write('held');
    process.stdin.on('data', () => process.exit(0));`;
  const child = spawn(process.execPath, ['-e', script], { stdio: ['pipe', 'pipe', 'inherit'] });
  await new Promise((held, failed) => {
    child.stdout.once('data', held);
    child.once('exit', failed);
  });
  return () =>
    new Promise((ended) => {
      child.once('exit', () => ended());
      child.stdin.write('end');
    });
}

describe('a data folder', () => {
  test('is made where it is missing, and holds what was committed when it is opened again', async () => {
    const parent = await makeTempDir();
    const dir = join(parent, 'new', 'data');
    const first = await openStore({ dir, log });
    await first.commit(changeSet(registryOf('A')));
    await first.close();
    const second = await openStore({ dir, log });
    expect(await second.registry.accounts(WHOLE_FLEET)).toHaveLength(1);
    await second.close();
  });

  test('opened for reading only gives its rows and takes none', async () => {
    const { dir } = await closedStore();
    const store = await openStore({ dir, log, readOnly: true });
    expect(await store.readings.ofNode(node, T0, T0 + 1)).toHaveLength(1);
    await expect(store.commit(changeSet(registryOf('B')))).rejects.toMatchObject({
      code: 'store_read_only',
      message: expect.stringContaining('may not be written'),
    });
    await store.close();
  });

  test('without a store is not made by reading it', async () => {
    const dir = await makeTempDir();
    await expect(openStore({ dir, log, readOnly: true })).rejects.toMatchObject({ code: 'not_found' });
    expect(await readdir(dir)).toEqual([]);
  });

  test('keeps every commit safe against loss of power, and waits for others', async () => {
    const { file } = await closedStore();
    const db = await openDatabase({ file, readOnly: false, busyTimeoutMs: 1_234, migrations: readMigrations(), log });
    expect(db.pragma('journal_mode', { simple: true })).toBe('wal');
    expect(db.pragma('synchronous', { simple: true })).toBe(2);
    expect(db.pragma('foreign_keys', { simple: true })).toBe(1);
    expect(db.pragma('busy_timeout', { simple: true })).toBe(1_234);
    db.close();
  });
});

describe('a store is refused in words that say what to do', () => {
  test('when a page of the file is overwritten', async () => {
    const { dir, file } = await closedStore();
    const bytes = await readFile(file);
    bytes.fill(0xa5, 4096 * 2, 4096 * 20);
    await writeFile(file, bytes);
    await expect(openStore({ dir, log })).rejects.toMatchObject({
      code: 'store_damaged',
      message: expect.stringMatching(/is damaged .*put a backup in its place/),
    });
  });

  test('when the file was cut short', async () => {
    const { dir, file } = await closedStore();
    await truncate(file, Math.floor((await stat(file)).size / 2));
    await expect(openStore({ dir, log })).rejects.toMatchObject({ code: 'store_damaged' });
  });

  test('when the file is no database at all', async () => {
    const dir = await makeTempDir();
    await writeFile(join(dir, FILE_NAME), 'node,time,level_mm\n');
    await expect(openStore({ dir, log })).rejects.toMatchObject({
      code: 'store_damaged',
      message: expect.stringContaining('does not begin as an SQLite file does'),
    });
    expect(await readFile(join(dir, FILE_NAME), 'utf8')).toBe('node,time,level_mm\n');
  });

  test('when the file is another program’s database', async () => {
    const dir = await makeTempDir();
    const other = new Database(join(dir, FILE_NAME));
    other.exec('CREATE TABLE recipes (id INTEGER PRIMARY KEY)');
    other.close();
    await expect(openStore({ dir, log })).rejects.toMatchObject({
      code: 'store_damaged',
      message: expect.stringContaining('another program'),
    });
  });

  test('when damage shows only later, in the middle of the work', async () => {
    const { dir, file } = await closedStore();
    const store = await openStore({ dir, log });
    const db = new Database(file);
    db.unsafeMode(true);
    db.pragma('writable_schema = ON');
    db.exec("UPDATE sqlite_schema SET rootpage = 3 WHERE name = 'reading'");
    db.exec("UPDATE sqlite_schema SET sql = 'CREATE TABLE nonsense (' WHERE name = 'node_latest'");
    db.pragma('schema_version = 999');
    db.close();
    await expect(store.readings.ofNode(node, 0, T0)).rejects.toMatchObject({ code: 'store_damaged' });
    await expect(store.commit(changeSet([{ kind: 'readings', rows: [reading(node, T0 + 5)] }]))).rejects.toMatchObject({
      code: 'store_damaged',
    });
    await store.close();
  });

  test('when a newer version of the program wrote it', async () => {
    const { dir, file } = await closedStore();
    const db = new Database(file);
    db.prepare("INSERT INTO schema_migration VALUES (99, 'from_the_future', 'x', 0)").run();
    db.close();
    await expect(openStore({ dir, log })).rejects.toMatchObject({
      code: 'store_newer',
      message: expect.stringMatching(/layout is number 99.*Update the program/),
    });
  });

  test('when another process holds the whole file', async () => {
    const { dir, file } = await closedStore();
    const release = await lockByAnotherProcess(file, 'PRAGMA locking_mode = EXCLUSIVE; BEGIN IMMEDIATE; COMMIT;');
    await expect(openStore({ dir, log, busyTimeoutMs: 50 })).rejects.toMatchObject({
      code: 'store_locked',
      message: expect.stringMatching(/held by another program .*Close it/),
    });
    await release();
    await (await openStore({ dir, log })).close();
  });

  test('when its path leads through a file', async () => {
    const parent = await makeTempDir();
    await writeFile(join(parent, 'file'), '');
    for (const dir of [join(parent, 'file'), join(parent, 'file', 'data')]) {
      await expect(openStore({ dir, log })).rejects.toMatchObject({
        code: 'store_read_only',
        message: expect.stringContaining('a part of its path is a file'),
      });
    }
  });

  test('when the name is taken by a folder', async () => {
    const dir = await makeTempDir();
    await mkdir(join(dir, FILE_NAME));
    await expect(openStore({ dir, log })).rejects.toMatchObject({ code: 'store_damaged' });
  });

  test('when the folder may not be written', async () => {
    const dir = await makeTempDir();
    await chmod(dir, 0o555);
    // Root may write anywhere, so it steps down to a user that may not for as long as this takes.
    const isRoot = process.geteuid?.() === 0;
    if (isRoot) process.seteuid?.(65_534);
    try {
      await expect(openStore({ dir, log })).rejects.toMatchObject({
        code: 'store_read_only',
        message: expect.stringMatching(/may write in it|read-only/),
      });
      await expect(openStore({ dir: join(dir, 'below'), log })).rejects.toMatchObject({ code: 'store_read_only' });
    } finally {
      if (isRoot) process.seteuid?.(0);
      await chmod(dir, 0o755);
    }
  });
});

describe('a commit is refused in words that say what to do', () => {
  test('when another process keeps the file locked, and goes through once it lets go', async () => {
    const { dir, file } = await closedStore();
    const store = await openStore({ dir, log, busyTimeoutMs: 50 });
    const release = await lockByAnotherProcess(file, 'BEGIN IMMEDIATE');
    await expect(store.commit(changeSet(registryOf('B')))).rejects.toMatchObject({ code: 'store_locked' });
    expect(await store.registry.accounts(WHOLE_FLEET)).toHaveLength(1);
    await release();
    await store.commit(changeSet(registryOf('B')));
    expect(await store.registry.accounts(WHOLE_FLEET)).toHaveLength(2);
    await store.close();
  });

  test('when the disk is full, and nothing of it is stored', async () => {
    const { file } = await closedStore();
    const db = await openDatabase({ file, readOnly: false, busyTimeoutMs: 1_000, migrations: readMigrations(), log });
    // SQLite's own limit stands in for the disk's: it fails at the same place with the same code.
    db.pragma(`max_page_count = ${Number(db.pragma('page_count', { simple: true })) + 3}`);
    const store = new SqliteStore(new Sql(db), new Vault(`${file}.keys`, () => false), file, log);
    const rows = Array.from({ length: 2_000 }, (_, index) => reading('full', T0 + index, { levelMm: index + 0.5 }));
    await expect(store.commit(changeSet([{ kind: 'readings', rows }]))).rejects.toMatchObject({
      code: 'store_full',
      message: expect.stringMatching(/No room left .*Free some space/),
    });
    expect(await store.readings.ofNode('full', 0, T0 + 10_000)).toEqual([]);
    await store.commit(changeSet([{ kind: 'readings', rows: rows.slice(0, 5) }]));
    expect(await store.readings.ofNode('full', 0, T0 + 10_000)).toHaveLength(5);
    await store.close();
  });
});

test('a JSON column that was changed by hand is named, and what else there is can be read', async () => {
  const { store, dir } = await openTempStore();
  await store.commit(changeSet([...worldOf('A'), ...worldOf('B')]));
  const db = new Database(join(dir, FILE_NAME));
  db.prepare("UPDATE pot_status SET forecast_json = '{}' WHERE container_id = 'A-pot'").run();
  db.close();
  await expect(store.pots.statuses(WHOLE_FLEET)).rejects.toMatchObject({
    code: 'store_damaged',
    message: expect.stringContaining('Column forecast_json of pot_status A-pot cannot be read (containerId'),
  });
  expect(await store.pots.status(WHOLE_FLEET, 'B-pot')).not.toBeNull();
});
