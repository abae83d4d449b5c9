import { closeSync, existsSync, fsyncSync, openSync, renameSync, rmSync, statSync } from 'node:fs';
import { dirname, join, resolve } from 'node:path';
import Database from 'better-sqlite3';
import { DomainError } from '../domain/errors.js';
import type { Log } from '../domain/ports/log.js';
import { FILE_NAME, openDatabase } from './database.js';
import { appliedMigrations, readMigrations } from './migrations.js';
import { inWords } from './refusals.js';

export interface BackupOptions {
  /** The data folder. */
  readonly dir: string;
  /** The file to write. */
  readonly to: string;
  /** Takes the place of a file that is there already; without it that is refused. */
  readonly replace: boolean;
  readonly log: Log;
  readonly onProgress: (doneFraction: number) => void;
}

/** What the copy holds, counted in the copy after it was checked. */
export interface BackupReport {
  readonly file: string;
  readonly bytes: number;
  readonly schemaVersion: number;
  readonly containers: number;
  readonly readings: number;
  readonly firstReadingMs: number | null;
  readonly lastReadingMs: number | null;
  readonly lastSeq: number;
}

/** Pages copied between two looks at what else is to be done: 16 MB. */
const PAGES_A_STEP = 4_000;

const BUSY_TIMEOUT_MS = 10_000;

/**
 * Copies the store while it is in use, then opens the copy and checks it whole. The copy gets its name only after that,
 * so that a backup which is there is a good one.
 * @throws DomainError for what {@link openDatabase} refuses, `conflict` where the file is there already,
 *   `file_unreadable` where the file cannot be made there, `store_damaged`
 *   where the copy does not pass the check
 */
export async function backupStore(options: BackupOptions): Promise<BackupReport> {
  const source = join(resolve(options.dir), FILE_NAME);
  const target = resolve(options.to);
  if (target === source) {
    throw new DomainError('invalid_input', 'A backup cannot take the place of the store itself. Choose another file.');
  }
  refuseTarget(target);
  if (existsSync(target) && !options.replace) {
    throw new DomainError('conflict', `${target} is there already. Choose another name, or add --replace.`);
  }
  const part = `${target}.part`;
  removeWithCompanions(part);
  try {
    await copy(source, part, options);
    const report = inspect(part, target);
    flush(part);
    renameSync(part, target);
    flush(dirname(target));
    return report;
  } catch (error) {
    removeWithCompanions(part);
    throw inWords(error, { file: target });
  }
}

function refuseTarget(target: string): void {
  if (!existsSync(dirname(target))) {
    throw new DomainError(
      'file_unreadable',
      `There is no folder ${dirname(target)}. Make it first, or choose another.`,
    );
  }
  if (existsSync(target) && !statSync(target).isFile()) {
    throw new DomainError('file_unreadable', `${target} is a folder. Name a file in it.`);
  }
}

async function copy(source: string, part: string, { log, onProgress }: BackupOptions): Promise<void> {
  const db = await openDatabase({
    file: source,
    readOnly: true,
    busyTimeoutMs: BUSY_TIMEOUT_MS,
    migrations: readMigrations(),
    log,
  });
  try {
    let leastLeft = Number.POSITIVE_INFINITY;
    await db.backup(part, {
      progress: ({ totalPages, remainingPages }) => {
        onProgress(totalPages === 0 ? 1 : 1 - remainingPages / totalPages);
        // A commit by another process makes SQLite begin again. Against one that commits without a pause, the rest is
        // copied in one go, which nothing can disturb.
        const beganAgain = remainingPages >= leastLeft;
        leastLeft = Math.min(leastLeft, remainingPages);
        return beganAgain ? totalPages : PAGES_A_STEP;
      },
    });
    onProgress(1);
  } finally {
    db.close();
  }
}

function inspect(part: string, target: string): BackupReport {
  const db = new Database(part);
  try {
    // One file, with nothing beside it that could be forgotten.
    db.pragma('journal_mode = DELETE');
    const found = db.pragma('integrity_check(1)', { simple: true });
    const orphans = db.pragma('foreign_key_check') as unknown[];
    if (found !== 'ok' || orphans.length > 0) {
      const detail = found === 'ok' ? `${orphans.length} rows refer to nothing` : String(found);
      throw new DomainError(
        'store_damaged',
        `The copy of the store does not pass the check (${detail}), so no backup was made. The store itself is damaged: keep older backups, and put the newest good one in its place.`,
      );
    }
    const count = (text: string): number => (db.prepare(text).pluck().get() as number | null) ?? 0;
    const bound = (text: string): number | null => db.prepare(text).pluck().get() as number | null;
    return {
      file: target,
      bytes: statSync(part).size,
      schemaVersion: appliedMigrations(db).at(-1)?.version ?? 0,
      containers: count('SELECT count(*) FROM container'),
      readings: count('SELECT count(*) FROM reading'),
      firstReadingMs: bound('SELECT min(time_ms) FROM reading'),
      lastReadingMs: bound('SELECT max(time_ms) FROM node_latest'),
      lastSeq: count('SELECT max(seq) FROM change'),
    };
  } finally {
    db.close();
  }
}

/** On the disk before anybody is told that there is a backup. */
function flush(path: string): void {
  const handle = openSync(path, 'r');
  try {
    fsyncSync(handle);
  } finally {
    closeSync(handle);
  }
}

function removeWithCompanions(file: string): void {
  for (const suffix of ['', '-journal', '-wal', '-shm']) rmSync(`${file}${suffix}`, { force: true });
}
