import { mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { onTestFinished } from 'vitest';
import type { Log } from '../../src/domain/ports/log.js';
import type { Store } from '../../src/domain/ports/store.js';
import { FILE_NAME } from '../../src/store/database.js';
import { openStore } from '../../src/store/open.js';
import { silentLog } from './silent-log.js';

export { silentLog };

export interface TempStore {
  /** The data folder, as `--data` takes it. */
  readonly dir: string;
  readonly store: Store;
  /** Closes the store and removes the folder; may be called twice. */
  readonly remove: () => Promise<void>;
}

/** A new folder, removed when the test that called it ends. */
export async function makeTempDir(): Promise<string> {
  const dir = await mkdtemp(join(tmpdir(), 'brimline-'));
  onTestFinished(() => rm(dir, { recursive: true, force: true }));
  return dir;
}

let emptyStore: Promise<Buffer> | null = null;

/** The file of a new store. Laying one out costs some forty milliseconds and hundreds of tests want one. */
async function layOutOnce(): Promise<Buffer> {
  const dir = await mkdtemp(join(tmpdir(), 'brimline-'));
  await (await openStore({ dir, log: silentLog })).close();
  const bytes = await readFile(join(dir, FILE_NAME));
  await rm(dir, { recursive: true, force: true });
  return bytes;
}

/** A store of its own on disk in a new folder, for hooks that close it themselves with `remove`. */
export async function makeTempStore(log: Log = silentLog): Promise<TempStore> {
  const dir = await mkdtemp(join(tmpdir(), 'brimline-'));
  emptyStore ??= layOutOnce();
  await writeFile(join(dir, FILE_NAME), await emptyStore);
  const store = await openStore({ dir, log });
  return {
    dir,
    store,
    remove: async () => {
      await store.close();
      await rm(dir, { recursive: true, force: true });
    },
  };
}

/** A store of its own on disk in a new folder; closed and removed when the test that called it ends. */
export async function openTempStore(log: Log = silentLog): Promise<TempStore> {
  const temp = await makeTempStore(log);
  onTestFinished(temp.remove);
  return temp;
}
