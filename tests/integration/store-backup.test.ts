import { copyFile, mkdir, readdir, readFile, stat, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import Database from 'better-sqlite3';
import { describe, expect, onTestFinished, test, vi } from 'vitest';
import { backup } from '../../src/commands/backup.js';
import { type Terminal, UsageError } from '../../src/commands/command.js';
import { drill } from '../../src/commands/drill.js';
import { WHOLE_FLEET } from '../../src/domain/access.js';
import { FILE_NAME, openDatabase } from '../../src/store/database.js';
import { readMigrations } from '../../src/store/migrations.js';
import { openStore } from '../../src/store/open.js';
import { makeTempDir, openTempStore, silentLog } from '../support/temp-store.js';
import { changeSet, idsOf, reading, T0, worldOf } from '../unit/store/worlds.js';

const OWNER = {
  id: 'ada',
  name: 'Ada',
  role: 'owner',
  accountId: null,
  language: 'en',
  units: { volume: 'L', length: 'mm', temperature: 'Cel' },
  disabledAtMs: null,
} as const;

function listener(): Terminal & { readonly lines: string[]; readonly progressed: string[] } {
  const lines: string[] = [];
  const progressed: string[] = [];
  return {
    lines,
    progressed,
    out: (line) => lines.push(line),
    err: (line) => lines.push(`error: ${line}`),
    progress: (line) => progressed.push(line),
  };
}

const run = async (...args: string[]) => {
  const terminal = listener();
  await backup.run(args, terminal, {});
  return terminal;
};

describe('brimline backup', () => {
  test('copies a store that is being written to, whole up to one moment, and the copy can be used', async () => {
    const { store, dir } = await openTempStore();
    await store.commit(changeSet(worldOf('A')));
    const rows = Array.from({ length: 50_000 }, (_, index) => reading('bulk', T0 + index, { levelMm: index / 7 }));
    await store.commit(changeSet([{ kind: 'readings', rows }]));
    const restored = await makeTempDir();
    const file = join(await makeTempDir(), 'copy.sqlite');

    let running = true;
    const done = run('--data', dir, '--to', file).finally(() => {
      running = false;
    });
    let during = 0;
    while (running) {
      // Two nodes in one commit: a copy that is not of one moment would hold one without the other.
      const both = ['left', 'right'].map((node) => reading(node, T0 + during));
      await store.commit(changeSet([{ kind: 'readings', rows: both }]));
      during += 1;
      await new Promise((resolve) => setImmediate(resolve));
    }
    const terminal = await done;
    expect(during).toBeGreaterThan(1);
    expect(terminal.progressed.length).toBeGreaterThan(0);

    await copyFile(file, join(restored, FILE_NAME));
    const copy = await openStore({ dir: restored, log: silentLog });
    // As texts: comparing so many objects one by one takes seconds.
    expect(JSON.stringify(await copy.readings.ofNode('bulk', T0, T0 + 50_000))).toBe(JSON.stringify(rows));
    expect(await copy.registry.fleet()).toEqual(await store.registry.fleet());
    const [left, right] = await Promise.all(
      ['left', 'right'].map((node) => copy.readings.ofNode(node, T0, T0 + 1_000_000)),
    );
    expect(left?.length).toBe(right?.length);
    const said = terminal.lines.join('\n');
    expect(said).toContain(`readings    ${50_002 + 2 * (left?.length ?? 0)}, from 2026-06-10T00:00:00.000Z`);
    expect(said).toContain('containers  1');
    expect(said).toContain(`up to number ${await copy.changes.lastSeq()}`);
    await copy.commit(changeSet(worldOf('B')));
    expect(await copy.registry.accounts(WHOLE_FLEET)).toHaveLength(2);
    await copy.close();
  });

  test('leaves one file and nothing beside it, and does not overwrite one without being told to', async () => {
    const { store, dir } = await openTempStore();
    const folder = await makeTempDir();
    const file = join(folder, 'copy.sqlite');
    await run('--data', dir, '--to', file);
    const before = await readFile(file);
    await store.commit(changeSet(worldOf('A')));
    await expect(run('--data', dir, '--to', file)).rejects.toMatchObject({
      code: 'conflict',
      message: expect.stringContaining('--replace'),
    });
    expect((await readFile(file)).equals(before)).toBe(true);
    await run('--data', dir, '--to', file, '--replace');
    expect((await readFile(file)).equals(before)).toBe(false);
    expect(await readdir(folder)).toEqual(['copy.sqlite']);
  });

  test('takes the keys of web push along, where there are some, for nobody else to read', async () => {
    const { dir } = await openTempStore();
    await writeFile(join(dir, 'push-keys.json'), '{"made":"up"}');
    const file = join(await makeTempDir(), 'copy.sqlite');
    const terminal = await run('--data', dir, '--to', file);
    expect(await readFile(`${file}.push-keys.json`, 'utf8')).toBe('{"made":"up"}');
    expect((await stat(`${file}.push-keys.json`)).mode & 0o777).toBe(0o600);
    expect(terminal.lines.join('\n')).toContain('copy.sqlite.push-keys.json');
  });

  test('makes no file of a damaged store, and keeps the older backup', async () => {
    const { store, dir } = await openTempStore();
    await store.commit(changeSet(worldOf('A')));
    await store.close();
    const folder = await makeTempDir();
    const file = join(folder, 'copy.sqlite');
    await writeFile(file, 'an older backup');
    const bytes = await readFile(join(dir, FILE_NAME));
    bytes.fill(0x5a, 4096 * 10, 4096 * 60);
    await writeFile(join(dir, FILE_NAME), bytes);
    await expect(run('--data', dir, '--to', file, '--replace')).rejects.toMatchObject({ code: 'store_damaged' });
    expect(await readdir(folder)).toEqual(['copy.sqlite']);
    expect(await readFile(file, 'utf8')).toBe('an older backup');
  });

  test('says in words what it cannot do', async () => {
    const { dir } = await openTempStore();
    const folder = await makeTempDir();
    await expect(run('--data', join(folder, 'none'), '--to', join(folder, 'x'))).rejects.toMatchObject({
      code: 'not_found',
    });
    await expect(run('--data', dir, '--to', join(folder, 'missing', 'x'))).rejects.toMatchObject({
      code: 'file_unreadable',
      message: expect.stringContaining('no folder'),
    });
    await mkdir(join(folder, 'taken'));
    await expect(run('--data', dir, '--to', join(folder, 'taken'), '--replace')).rejects.toMatchObject({
      code: 'file_unreadable',
    });
    await expect(run('--data', dir, '--to', join(dir, FILE_NAME), '--replace')).rejects.toMatchObject({
      code: 'invalid_input',
    });
    expect((await readdir(folder)).sort()).toEqual(['taken']);
  });

  test.each([
    [['--to', 'x'], '--data DIR'],
    [['--data', 'x'], '--to FILE'],
    [['--data', 'x', '--to', 'y', 'z'], 'z'],
    [['--data', 'x', '--to', 'y', '--frequency', '2'], '--frequency'],
    [['--data'], '--data'],
  ])('is refused for the usage %j, naming what is wrong', async (args, named) => {
    const failure = run(...args);
    await expect(failure).rejects.toThrow(UsageError);
    await expect(failure).rejects.toThrow(named);
  });

  test('has help that names every option and how to restore', () => {
    for (const text of ['--data DIR', '--to FILE', '--replace', 'To restore', 'Example'])
      expect(backup.help).toContain(text);
  });
});

describe('brimline drill', () => {
  const practise = async (...args: string[]) => {
    const terminal = listener();
    await drill.run(args, terminal, {});
    return terminal.lines.join('\n');
  };

  async function backedUp(): Promise<{ readonly dir: string; readonly file: string }> {
    const { store, dir } = await openTempStore();
    const owner = { ...OWNER, login: 'ada' };
    const access = { siteId: idsOf('A').site, notes: 'Gate code 4711', contacts: [] };
    await store.commit(
      changeSet([...worldOf('A'), { kind: 'person', row: owner }, { kind: 'site_access', row: access }]),
    );
    const file = join(await makeTempDir(), 'copy.sqlite');
    await run('--data', dir, '--to', file);
    return { dir, file };
  }

  test('restores a backup aside, says what is in it, and leaves nothing behind', async () => {
    const { dir, file } = await backedUp();
    const before = await readFile(file);
    const temp = await makeTempDir();
    vi.stubEnv('TMPDIR', temp);
    onTestFinished(() => void vi.unstubAllEnvs());
    const said = await practise('--from', file, '--keys', join(dir, 'brimline-keys.json'));
    expect(said).toMatch(/container +1\n/);
    expect(said).toMatch(/sealed +1, 1 opened\n/);
    expect(said).toContain('This backup would do.');
    expect(await readFile(file)).toEqual(before);
    expect(await readdir(temp)).toEqual([]);
  });

  test('brings a backup of an older layout up to date, as a server would', async () => {
    const file = join(await makeTempDir(), 'old.sqlite');
    const migrations = readMigrations().slice(0, 5);
    const older = await openDatabase({ file, readOnly: false, busyTimeoutMs: 1_000, migrations, log: silentLog });
    older.exec(`INSERT INTO person VALUES ('ada', 'Ada', 'ada', 'owner', NULL, 'en', 'L', 'mm', 'Cel', NULL)`);
    older.pragma('journal_mode = DELETE');
    older.close();
    expect(await practise('--from', file)).toContain(`5, brought to ${readMigrations().length}`);
  });

  test.each([
    [
      'a day of the ledger that does not close',
      'UPDATE ledger_day SET closing_litres = closing_litres + 1',
      /do not close/,
    ],
    ['nobody who could sign in', `UPDATE person SET disabled_at_ms = 1 WHERE role = 'owner'`, /no owner/],
    ['a sealed text that was altered', 'UPDATE site_access SET sealed = zeroblob(40)', /altered/],
  ])('says of a backup with %s that it would not do', async (_what, fault, words) => {
    const { dir, file } = await backedUp();
    const db = new Database(file);
    expect(db.prepare(fault).run().changes).toBeGreaterThan(0);
    db.close();
    await expect(practise('--from', file, '--keys', join(dir, 'brimline-keys.json'))).rejects.toThrow(words);
  });

  test('says which key is missing, and what to name where there is no such file', async () => {
    const { file } = await backedUp();
    await expect(practise('--from', file, '--keys', '/nowhere/keys.json')).rejects.toThrow(/nowhere\/keys\.json/);
    await expect(practise('--from', '/nowhere/copy.sqlite')).rejects.toMatchObject({ code: 'not_found' });
  });
});
