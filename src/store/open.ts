import { join, resolve } from 'node:path';
import type { Log } from '../domain/ports/log.js';
import type { Store } from '../domain/ports/store.js';
import { FILE_NAME, openDatabase } from './database.js';
import { readMigrations } from './migrations.js';
import { inWords } from './refusals.js';
import { holdsSealed, resealAll, sealOpenNotes } from './sealed-rows.js';
import { Sql } from './sql.js';
import { SqliteStore } from './sqlite-store.js';
import { KEY_FILE_NAME, keyFileTrouble, Vault } from './vault.js';

export interface OpenOptions {
  /** The data folder; made where it does not exist. */
  readonly dir: string;
  readonly readOnly?: boolean;
  /** How long a read or commit waits for another process's transaction before it is refused. */
  readonly busyTimeoutMs?: number;
  /** The keys of what is kept sealed; in the data folder, where it is left out. */
  readonly keyFile?: string | null;
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
  const sql = new Sql(db);
  const vault = new Vault(resolve(options.keyFile ?? join(options.dir, KEY_FILE_NAME)), () => holdsSealed(sql));
  try {
    if (options.readOnly !== true) sealOpen(sql, vault, options.log);
  } catch (error) {
    db.close();
    throw inWords(error, { file });
  }
  return new SqliteStore(sql, vault, file, options.log);
}

/**
 * Makes a new key and seals everything with it, also beside a running server, which reads the file again when it meets
 * the new key.
 * @param forgetOlder drops the older keys; backups that were made before can then not be opened in full
 */
export async function rekeyStore(
  options: OpenOptions & { readonly forgetOlder: boolean },
): Promise<{ readonly keyId: string; readonly resealed: number; readonly file: string }> {
  const file = join(resolve(options.dir), FILE_NAME);
  const db = await openDatabase({
    file,
    readOnly: false,
    busyTimeoutMs: options.busyTimeoutMs ?? BUSY_TIMEOUT_MS,
    migrations: readMigrations(),
    log: options.log,
  });
  try {
    const sql = new Sql(db);
    const vault = new Vault(resolve(options.keyFile ?? join(options.dir, KEY_FILE_NAME)), () => holdsSealed(sql));
    const keyId = vault.addKey();
    const resealed = resealAll(sql, vault, keyId);
    if (options.forgetOlder) vault.forgetOlderKeys();
    return { keyId, resealed, file: vault.file };
  } catch (error) {
    throw inWords(error, { file });
  } finally {
    db.close();
  }
}

function sealOpen(sql: Sql, vault: Vault, log: Log): void {
  const trouble = keyFileTrouble(vault.file);
  if (trouble !== null) log.warn({ file: vault.file }, trouble);
  const sealed = sealOpenNotes(sql, vault);
  if (sealed === 0) return;
  log.info(
    { sealed, keys: vault.file },
    'access notes of sites are kept encrypted from now on; keep the key file safe',
  );
}
