import { closeSync, existsSync, fstatSync, mkdirSync, openSync, readSync, renameSync, statSync } from 'node:fs';
import { dirname, join } from 'node:path';
import Database from 'better-sqlite3';
import { DomainError } from '../domain/errors.js';
import type { Log } from '../domain/ports/log.js';
import { appliedMigrations, checkSchema, type Migration, migrate } from './migrations.js';
import { damagedText, inWords } from './refusals.js';

export const FILE_NAME = 'brimline.sqlite';

/** 'BRML': tells our files from other SQLite files (sqlite.org/fileformat2.html, offset 68). */
const APPLICATION_ID = 0x42_52_4d_4c;

/** Up to this size a file is checked page by page when it is opened; a larger one would hold up the start. */
const CHECKED_UP_TO_BYTES = 256 * 1024 * 1024;

export interface DatabaseOptions {
  readonly file: string;
  readonly readOnly: boolean;
  /** How long to wait for another process's transaction. */
  readonly busyTimeoutMs: number;
  readonly migrations: readonly Migration[];
  readonly log: Log;
}

/**
 * The one way to open the file: checks that it is ours, whole and not newer, keeps a copy of an older one, and brings it
 * to the newest layout.
 * @throws DomainError `store_damaged`, `store_newer`, `store_locked`, `store_read_only`, `store_full`
 */
export async function openDatabase(options: DatabaseOptions): Promise<Database.Database> {
  const { file } = options;
  let db: Database.Database | null = null;
  try {
    if (!options.readOnly) mkdirSync(dirname(file), { recursive: true });
    refuseForeignFile(file);
    if (options.readOnly && !existsSync(file)) {
      throw new DomainError('not_found', `There is no ${file}. Check --data, or start the server once to make it.`);
    }
    db = new Database(file, { readonly: options.readOnly, timeout: options.busyTimeoutMs });
    await prepare(db, options);
    return db;
  } catch (error) {
    db?.close();
    throw inWords(error, { file });
  }
}

async function prepare(db: Database.Database, options: DatabaseOptions): Promise<void> {
  const { file, readOnly, migrations, log } = options;
  db.pragma('foreign_keys = ON');
  db.pragma('synchronous = FULL');
  db.pragma('cache_size = -65536');
  db.pragma('temp_store = MEMORY');
  // What is changed or removed is overwritten in the pages that are written anyway, so that erasing erases
  // (sqlite.org/pragma.html#pragma_secure_delete).
  db.pragma('secure_delete = FAST');
  refuseOtherApplication(db, file);
  refuseDamaged(db, file);
  const applied = appliedMigrations(db);
  checkSchema(applied, migrations, file);
  if (readOnly) {
    if (applied.length < migrations.length) {
      throw new DomainError(
        'store_read_only',
        `${file} has an older layout and is opened for reading only. Open it once with \`brimline serve\`, which brings it up to date.`,
      );
    }
    return;
  }
  useWriteAheadLog(db);
  if (applied.length === migrations.length) return;
  if (applied.length > 0) await keepCopy(db, file, applied.length, log);
  db.pragma(`application_id = ${APPLICATION_ID}`);
  migrate(db, migrations, Date.now());
  log.info({ file, from: applied.length, to: migrations.length }, 'store brought to the newest layout');
}

/** The switch needs the file to itself, so a file that is switched already is left alone. */
function useWriteAheadLog(db: Database.Database): void {
  const mode = db.pragma('journal_mode', { simple: true });
  if (mode !== 'wal') db.pragma('journal_mode = WAL');
  // 16 MB: an import's batch then seldom has to write the pages back in the same breath.
  db.pragma('wal_autocheckpoint = 4000');
  // After a large import the log shrinks again.
  db.pragma('journal_size_limit = 67108864');
}

const HEADER = 'SQLite format 3\0';

/** Looks before SQLite does: given a file that is none of its own, it may say anything from "locked" to "full". */
function refuseForeignFile(file: string): void {
  if (!existsSync(file)) return;
  if (!statSync(file).isFile()) {
    throw new DomainError('store_damaged', damagedText(file, 'it is no file'));
  }
  const handle = openSync(file, 'r');
  try {
    if (fstatSync(handle).size === 0) return;
    const bytes = Buffer.alloc(HEADER.length);
    readSync(handle, bytes, 0, bytes.length, 0);
    if (bytes.toString('latin1') !== HEADER) {
      throw new DomainError('store_damaged', damagedText(file, 'it does not begin as an SQLite file does'));
    }
  } finally {
    closeSync(handle);
  }
}

function refuseOtherApplication(db: Database.Database, file: string): void {
  const id = db.pragma('application_id', { simple: true });
  if (id === APPLICATION_ID) return;
  const tables = db.prepare('SELECT count(*) AS tables FROM sqlite_schema').get() as { tables: number };
  if (id === 0 && tables.tables === 0) return;
  throw new DomainError(
    'store_damaged',
    `${file} is an SQLite file of another program. Choose another folder with --data, or move the file away.`,
  );
}

function refuseDamaged(db: Database.Database, file: string): void {
  if (statSync(file).size > CHECKED_UP_TO_BYTES) return;
  const found = db.pragma('quick_check(1)', { simple: true });
  if (found !== 'ok') throw new DomainError('store_damaged', damagedText(file, String(found)));
}

/** The copy gets its name once it is whole; a copy that is there already was made by a start that failed after it. */
async function keepCopy(db: Database.Database, file: string, version: number, log: Log): Promise<void> {
  const copy = join(dirname(file), `brimline-before-${String(version + 1).padStart(4, '0')}.sqlite`);
  if (existsSync(copy)) return;
  await db.backup(`${copy}.part`);
  renameSync(`${copy}.part`, copy);
  log.info({ copy }, 'kept a copy of the store as it was before its layout changes');
}
