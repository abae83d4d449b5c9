import { chmod, copyFile, readFile, rm, stat, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import Database from 'better-sqlite3';
import { describe, expect, test } from 'vitest';
import type { Log } from '../../../src/domain/ports/log.js';
import { FILE_NAME, openDatabase } from '../../../src/store/database.js';
import { readMigrations } from '../../../src/store/migrations.js';
import { openStore, rekeyStore } from '../../../src/store/open.js';
import { KEY_FILE_NAME, Vault } from '../../../src/store/vault.js';
import { makeTempDir, openTempStore, silentLog } from '../../support/temp-store.js';
import { changeSet, idsOf, registryOf } from './worlds.js';

const SITE = idsOf('A').site;
const CODE = 'Gate code 4711#';
const ACCESS = {
  siteId: SITE,
  notes: CODE,
  contacts: [{ name: 'Ines Vidal', phone: '+34 600 000 000', email: null }],
};

async function sealedStore() {
  const temp = await openTempStore();
  await temp.store.commit(changeSet([...registryOf('A'), { kind: 'site_access', row: ACCESS }]));
  return { ...temp, keyFile: join(temp.dir, KEY_FILE_NAME) };
}

describe('how to get into a site', () => {
  test('comes back as it was written, and stands nowhere in the files of the database', async () => {
    const { store, dir } = await sealedStore();
    expect(await store.access.siteAccess(SITE)).toEqual(ACCESS);
    for (const suffix of ['', '-wal']) {
      const bytes = await readFile(join(dir, `${FILE_NAME}${suffix}`));
      expect(bytes.includes(CODE)).toBe(false);
      expect(bytes.includes('Ines Vidal')).toBe(false);
    }
  });

  test('is sealed with a key that only its owner may read', async () => {
    const { keyFile } = await sealedStore();
    expect((await stat(keyFile)).mode & 0o777).toBe(0o600);
  });

  test('written again as it is changes nothing, and written empty it is gone', async () => {
    const { store } = await sealedStore();
    const before = await store.changes.lastSeq();
    await store.commit(changeSet([{ kind: 'site_access', row: ACCESS }]));
    expect(await store.changes.lastSeq()).toBe(before);
    await store.commit(changeSet([{ kind: 'site_access', row: { siteId: SITE, notes: null, contacts: [] } }]));
    expect(await store.access.siteAccess(SITE)).toBeNull();
  });

  test('does not open in the row of another site', async () => {
    const { store, dir } = await sealedStore();
    await store.commit(
      changeSet([...registryOf('B'), { kind: 'site_access', row: { ...ACCESS, siteId: idsOf('B').site } }]),
    );
    const db = new Database(join(dir, FILE_NAME));
    db.prepare(
      'UPDATE site_access SET sealed = (SELECT sealed FROM site_access WHERE site_id = ?) WHERE site_id = ?',
    ).run(idsOf('B').site, SITE);
    db.close();
    await expect(store.access.siteAccess(SITE)).rejects.toMatchObject({ code: 'store_damaged' });
  });

  test('is refused in words where the key file is lost, no other key takes its place, and all else goes on', async () => {
    const { store, dir, keyFile } = await sealedStore();
    await store.close();
    await rm(keyFile);
    const again = await openStore({ dir, log: silentLog });
    await expect(again.access.siteAccess(SITE)).rejects.toMatchObject({
      code: 'key_missing',
      message: expect.stringContaining(keyFile),
    });
    await expect(
      again.commit(changeSet([{ kind: 'site_access', row: { ...ACCESS, notes: 'other' } }])),
    ).rejects.toMatchObject({ code: 'key_missing' });
    expect(await again.registry.site({ kind: 'all' }, SITE)).toMatchObject({ id: SITE });
    await again.close();
  });

  test('survives a new key, which a server that runs already takes up by itself', async () => {
    const { store, dir, keyFile } = await sealedStore();
    expect(await store.access.siteAccess(SITE)).toEqual(ACCESS);
    const old = join(dir, 'old-keys.json');
    await copyFile(keyFile, old);
    expect(await rekeyStore({ dir, log: silentLog, forgetOlder: true })).toMatchObject({ keyId: 'k2', resealed: 1 });
    expect(await store.access.siteAccess(SITE)).toEqual(ACCESS);
    const withOldKey = await openStore({ dir, keyFile: old, log: silentLog });
    await expect(withOldKey.access.siteAccess(SITE)).rejects.toMatchObject({ code: 'key_missing' });
    await withOldKey.close();
  });

  test('that an older layout kept open is sealed at the next start, and its bytes are overwritten', async () => {
    const dir = await makeTempDir();
    const file = join(dir, FILE_NAME);
    const older = await openDatabase({
      file,
      readOnly: false,
      busyTimeoutMs: 1_000,
      migrations: readMigrations().slice(0, 5),
      log: silentLog,
    });
    older.exec(`INSERT INTO account VALUES ('A', 'Harbour House', 0.05);
      INSERT INTO site VALUES ('S', 'A', 'Terrace', 41, 2, 5, 'UTC', 1, '${CODE}');`);
    older.close();
    const store = await openStore({ dir, log: silentLog });
    expect(await store.access.siteAccess('S')).toEqual({ siteId: 'S', notes: CODE, contacts: [] });
    await store.close();
    expect((await readFile(file)).includes(CODE)).toBe(false);
  });
});

test('a key file that others may read is warned of at the start', async () => {
  const { store, dir, keyFile } = await sealedStore();
  await store.close();
  await chmod(keyFile, 0o644);
  const warned: string[] = [];
  const log: Log = { ...silentLog, warn: (_fields, text) => warned.push(text) };
  await (await openStore({ dir, log })).close();
  expect(warned).toEqual([expect.stringContaining(`chmod 600 ${keyFile}`)]);
});

test('a key file with something else in it is refused in words and left as it is', async () => {
  const file = join(await makeTempDir(), 'keys.json');
  await writeFile(file, '{"current":"k1","keys":{}}');
  const vault = new Vault(file, () => false);
  expect(() => vault.seal('place', 'text')).toThrow(/does not hold the keys/);
  expect(await readFile(file, 'utf8')).toBe('{"current":"k1","keys":{}}');
});
