import { mkdir, readdir, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import Database from 'better-sqlite3';
import { describe, expect, test } from 'vitest';
import { FILE_NAME, openDatabase } from '../../../src/store/database.js';
import { type Migration, migrate, migrationsFolder, readMigrations } from '../../../src/store/migrations.js';
import { makeTempDir, silentLog } from '../../support/temp-store.js';

const released = readMigrations();

/**
 * A step that went out with a release is never edited, since stores out there were laid out by it and are refused where
 * its checksum differs: a change of the layout is a new step. A new step is added here.
 */
const RELEASED = {
  foundation: 'cd5c61a468756cdb6c5f12bdb74779447f29a09c3d6c26c808415653cd75087c',
  outbox: 'ae967291505251ed1d7860053c6ba533d3d927c4a211b7ad17f5e5add6347b38',
  calendar: 'ab1ecb0ae449c23e47f2d56fe2613b733b3501c2b21f07e032ef415539d87303',
  alarm_times: 'cb1e569be618c13fa748536c0a5dbac30dda8dc42dcc402c36281ed82b40573e',
  alarm_overrides: 'bdb741c18376d1cab669abbf202121cce912935a2be2084fb59404883a633cb0',
  crew: '6128afe30bd527ddf0fe25aa817183f5c8a4bd4e46d24e1ae39d6611c854fd01',
  site_access: '6210a46ecb4957eee4860b5db9748d9055b508616e3d503b6acd71c5f65584cf',
  planning: 'd1d14f204b238c9356f441511e74d3f409de068902fa8f0752952714b88ae0c4',
  event_corrections: 'baeefc18745d5f548431e1f1087dd29290d1e92fcf05f03d9379e6efbe6e5c24',
  doors: 'e45a282e812c73db1c3628c65c019be097e7d84b12c6ea64bea2772deaa31355',
  commissioning: '21832100d86a23855b455c0fdc3cbb8a66032e25f2351687fa66e680654196bc',
  alarm_priority: 'a6191bf1f707791262f53e15cc894ed84c5bf928a07ee9921d41baa8c72bd635',
  credential_overlap: 'de94b95f2b6733388a874b58d728031de8938a9a45765d3b5ae68bf80e604553',
  reading_horizon: '3e615c76a0798f2e20e5498a302345490f586e22dbb473b26fe393ee2cbfd4da',
  edits: '4157917750ad27311e63e11b6d7ec836e59a7c535fdcf902ee769fe9ee3dbde0',
  crew_alarm: 'f55362a20c502e7680f3455b8b1e2a694a0d7c66a2e2fe66db4de0c1aa986403',
};

const step = (version: number, sql: string): Migration => ({ version, name: 'step', sql, checksum: `sum of ${sql}` });
const open = (file: string, migrations: readonly Migration[], readOnly = false) =>
  openDatabase({ file, readOnly, busyTimeoutMs: 1_000, migrations, log: silentLog });

function schemaOf(db: Database.Database): unknown[] {
  return db.prepare("SELECT name, sql FROM sqlite_schema WHERE name NOT LIKE 'sqlite_%' ORDER BY name").raw().all();
}

describe('the migrations', () => {
  test('lie in the sources, and are found from there and from what is built of them', () => {
    const folder = migrationsFolder();
    expect(folder.endsWith(join('src', 'store', 'migrations'))).toBe(true);
    const root = join(folder, '..', '..', '..');
    expect(migrationsFolder(join(root, 'dist', 'src', 'store'))).toBe(folder);
    expect(() => migrationsFolder('/')).toThrow('no package.json');
  });

  test('are numbered without a gap, and a stray file is a fault', async () => {
    expect(released.map(({ version }) => version)).toEqual(released.map((_step, index) => index + 1));
    const dir = await makeTempDir();
    await writeFile(join(dir, '0001_one.sql'), '');
    await writeFile(join(dir, '0003_three.sql'), '');
    expect(() => readMigrations(dir)).toThrow('migration 2 is missing');
    await writeFile(join(dir, 'notes.txt'), '');
    expect(() => readMigrations(dir)).toThrow('notes.txt is no migration');
  });

  test('that were released are as they were released', () => {
    expect(Object.fromEntries(released.map(({ name, checksum }) => [name, checksum]))).toMatchObject(RELEASED);
  });

  test('have the same checksum whatever line ends a checkout gives them', async () => {
    const [unix, windows] = [await makeTempDir(), await makeTempDir()];
    await writeFile(join(unix, '0001_one.sql'), 'SELECT 1;\nSELECT 2;\n');
    await writeFile(join(windows, '0001_one.sql'), 'SELECT 1;\r\nSELECT 2;\r\n');
    expect(readMigrations(windows)).toEqual(readMigrations(unix));
  });

  test('run twice leave the same schema as run once', async () => {
    const file = join(await makeTempDir(), FILE_NAME);
    const db = await open(file, released);
    const once = schemaOf(db);
    migrate(db, released, 0);
    expect(schemaOf(db)).toEqual(once);
    db.close();
    const again = await open(file, released);
    expect(schemaOf(again)).toEqual(once);
    again.close();
  });

  test('lead from every earlier layout to the same schema', async () => {
    const db = new Database(':memory:');
    migrate(db, released, 0);
    const newest = schemaOf(db);
    db.close();
    for (let count = 1; count <= released.length; count += 1) {
      const file = join(await makeTempDir(), FILE_NAME);
      (await open(file, released.slice(0, count))).close();
      const migrated = await open(file, released);
      expect(schemaOf(migrated)).toEqual(newest);
      migrated.close();
    }
  });

  test('make every table strict', async () => {
    const db = new Database(':memory:');
    migrate(db, released, 0);
    const loose = db
      .prepare(
        "SELECT name FROM pragma_table_list WHERE schema = 'main' AND type = 'table' AND NOT strict AND name NOT LIKE 'sqlite_%'",
      )
      .pluck()
      .all();
    expect(loose).toEqual([]);
    db.close();
  });
});

describe('an older store', () => {
  const first = step(1, 'CREATE TABLE pot (id TEXT PRIMARY KEY) STRICT');
  const second = step(2, "ALTER TABLE pot ADD COLUMN name TEXT NOT NULL DEFAULT 'pot'");

  async function older(): Promise<{ dir: string; file: string }> {
    const dir = await makeTempDir();
    const file = join(dir, FILE_NAME);
    const db = await open(file, [first]);
    db.exec("INSERT INTO pot VALUES ('A')");
    db.close();
    return { dir, file };
  }

  test('is brought up to date, and a copy of it as it was is kept beside it', async () => {
    const { dir, file } = await older();
    const db = await open(file, [first, second]);
    expect(db.prepare('SELECT * FROM pot').all()).toEqual([{ id: 'A', name: 'pot' }]);
    db.close();
    expect((await readdir(dir)).sort()).toEqual(['brimline-before-0002.sqlite', FILE_NAME]);
    const copy = await open(join(dir, 'brimline-before-0002.sqlite'), [first]);
    expect(copy.prepare('SELECT * FROM pot').all()).toEqual([{ id: 'A' }]);
    copy.close();
  });

  test('stays as it was where a step fails', async () => {
    const { file } = await older();
    const broken = step(3, 'CREATE TABLE half (id TEXT) STRICT; CREATE TABLE pot (id TEXT) STRICT');
    await expect(open(file, [first, second, broken])).rejects.toThrow('pot already exists');
    const db = await open(file, [first, second]);
    expect(schemaOf(db).flat()).not.toContain('half');
    db.close();
  });

  test('is not read only halfway: it says to bring it up to date first', async () => {
    const { file } = await older();
    await expect(open(file, [first, second], true)).rejects.toMatchObject({
      code: 'store_read_only',
      message: expect.stringContaining('older layout'),
    });
  });

  test('laid out by another build is refused', async () => {
    const { file } = await older();
    await expect(open(file, [step(1, 'CREATE TABLE pot (id TEXT)')])).rejects.toMatchObject({
      code: 'store_newer',
      message: expect.stringContaining('another build'),
    });
  });

  test('is not touched where no copy of it can be kept', async () => {
    const { dir, file } = await older();
    await mkdir(join(dir, 'brimline-before-0002.sqlite.part'));
    await expect(open(file, [first, second])).rejects.toThrow();
    const db = await open(file, [first]);
    expect(db.prepare('SELECT * FROM pot').all()).toEqual([{ id: 'A' }]);
    db.close();
  });
});
