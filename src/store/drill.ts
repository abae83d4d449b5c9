import { copyFileSync, existsSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import Database from 'better-sqlite3';
import { DomainError } from '../domain/errors.js';
import type { Log } from '../domain/ports/log.js';
import { FILE_NAME, openDatabase } from './database.js';
import { appliedMigrations, readMigrations } from './migrations.js';
import { inWords } from './refusals.js';
import { openAll, SEALED_TABLES } from './sealed-rows.js';
import { Sql } from './sql.js';
import { Vault } from './vault.js';

export interface DrillOptions {
  /** A file that a backup made. */
  readonly file: string;
  /** The keys of what is sealed in it; null: what is sealed is not opened. */
  readonly keyFile: string | null;
  readonly log: Log;
}

/** What a restored backup holds, and what is wrong with it. */
export interface DrillReport {
  /** Of the layout in the backup, and after it was brought up to date. */
  readonly layouts: readonly [before: number, after: number];
  readonly counts: Readonly<Record<string, number>>;
  readonly lastReadingMs: number | null;
  /** Texts that are sealed, and how many of them the keys open; null: no keys were given. */
  readonly sealed: number;
  readonly opened: number | null;
  /** In words; empty where the backup would do. */
  readonly faults: readonly string[];
}

const BUSY_TIMEOUT_MS = 5_000;
/** A ledger day is a sum of numbers that were rounded to the millilitre. */
const CLOSES_WITHIN_LITRES = 0.01;

const COUNTED = ['account', 'site', 'container', 'node', 'person', 'reading', 'visit', 'alarm', 'ledger_day', 'change'];

/**
 * Restores a backup into a folder of its own, brings it to the newest layout as a server would, checks it from end to end,
 * and removes the folder. The backup itself is not touched.
 * @throws DomainError `not_found` for a file that is not there, and for what {@link openDatabase} refuses
 */
export async function drillBackup({ file, keyFile, log }: DrillOptions): Promise<DrillReport> {
  const source = resolve(file);
  if (!existsSync(source)) throw new DomainError('not_found', `There is no ${source}. Name a file that a backup made.`);
  const dir = mkdtempSync(join(tmpdir(), 'brimline-drill-'));
  try {
    const target = join(dir, FILE_NAME);
    copyFileSync(source, target);
    const migrations = readMigrations();
    const before = layoutOf(target);
    const db = await openDatabase({ file: target, readOnly: false, busyTimeoutMs: BUSY_TIMEOUT_MS, migrations, log });
    try {
      const sql = new Sql(db);
      const faults = faultsOf(sql);
      const vault = new Vault(resolve(keyFile ?? join(dir, 'no-keys')), () => true);
      const { opened, trouble } = keyFile === null ? { opened: null, trouble: null } : openAll(sql, vault);
      if (trouble !== null) faults.push(trouble);
      return {
        layouts: [before, migrations.length],
        counts: Object.fromEntries(COUNTED.map((table) => [table, count(sql, `SELECT count(*) AS n FROM ${table}`)])),
        lastReadingMs: sql.get<{ n: number | null }>('SELECT max(time_ms) AS n FROM node_latest')?.n ?? null,
        sealed: countSealed(sql),
        opened,
        faults,
      };
    } finally {
      db.close();
    }
  } catch (error) {
    throw inWords(error, { file: source });
  } finally {
    rmSync(dir, { recursive: true, force: true });
  }
}

/** The number of the layout as it lies in the file, before anything brings it up to date; 0 where it is none of ours. */
function layoutOf(file: string): number {
  const db = new Database(file, { readonly: true });
  try {
    return appliedMigrations(db).length;
  } finally {
    db.close();
  }
}

function faultsOf(sql: Sql): string[] {
  const faults: string[] = [];
  const whole = sql.db.pragma('integrity_check(5)', { simple: true });
  if (whole !== 'ok') faults.push(`The file is damaged: ${String(whole)}.`);
  const orphans = (sql.db.pragma('foreign_key_check') as unknown[]).length;
  if (orphans > 0) faults.push(`${orphans} rows refer to nothing.`);
  const open = count(
    sql,
    `SELECT count(*) AS n FROM ledger_day WHERE abs(opening_litres + refill_crew_litres + refill_other_litres + rain_litres
       - uptake_litres - leak_litres - overflow_litres - drained_litres - unexplained_litres - closing_litres)
       > ${CLOSES_WITHIN_LITRES}`,
  );
  if (open > 0) faults.push(`${open} days of the ledger do not close.`);
  if (count(sql, `SELECT count(*) AS n FROM person WHERE role = 'owner' AND disabled_at_ms IS NULL`) === 0) {
    faults.push('There is no owner who could sign in. “brimline owner add” makes one after restoring.');
  }
  return faults;
}

function countSealed(sql: Sql): number {
  return SEALED_TABLES.reduce((sum, { table }) => sum + count(sql, `SELECT count(*) AS n FROM ${table}`), 0);
}

const count = (sql: Sql, text: string): number => sql.get<{ n: number }>(text)?.n ?? 0;
