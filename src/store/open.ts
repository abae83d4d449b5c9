import { join, resolve } from 'node:path';
import type { Log } from '../domain/ports/log.js';
import type { Store } from '../domain/ports/store.js';
import { FILE_NAME, openDatabase } from './database.js';
import { readMigrations } from './migrations.js';
import { SqliteStore } from './sqlite-store.js';

export interface OpenOptions {
  /** The data folder; made where it does not exist. */
  readonly dir: string;
  readonly readOnly?: boolean;
  /** How long a read or commit waits for another process's transaction before it is refused. */
  readonly busyTimeoutMs?: number;
  readonly log: Log;
}

const BUSY_TIMEOUT_MS = 5_000;

/**
 * Opens the store of a data folder, and makes or updates it where needed.
 * @throws DomainError `store_damaged`, `store_newer`, `store_locked`, `store_read_only` or `store_full`, each with words
 *   that say what to do; `not_found` where it is to be read only and does not exist
 */
export async function openStore(options: OpenOptions): Promise<Store> {
  const file = join(resolve(options.dir), FILE_NAME);
  const db = await openDatabase({
    file,
    readOnly: options.readOnly ?? false,
    busyTimeoutMs: options.busyTimeoutMs ?? BUSY_TIMEOUT_MS,
    migrations: readMigrations(),
    log: options.log,
  });
  return new SqliteStore(db, file, options.log);
}
