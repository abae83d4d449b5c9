import { createHash } from 'node:crypto';
import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import type Database from 'better-sqlite3';
import { DomainError } from '../domain/errors.js';

export interface Migration {
  /** 1, 2, 3, ...: the schema's version after it. */
  readonly version: number;
  readonly name: string;
  readonly sql: string;
  /** SHA-256 of the text, hex. A migration that was released is never edited. */
  readonly checksum: string;
}

const FILE_NAME = /^(\d{4})_([a-z0-9_]+)\.sql$/;

/** The folder of the SQL files, the same for the sources and for what was built from them. */
export function migrationsFolder(fromDir: string = import.meta.dirname): string {
  for (let dir = fromDir; ; dir = dirname(dir)) {
    if (existsSync(join(dir, 'package.json'))) return join(dir, 'src', 'store', 'migrations');
    if (dir === dirname(dir)) throw new Error(`no package.json above ${fromDir}: the installation is incomplete`);
  }
}

/**
 * Reads the migrations of a folder in order.
 * @throws Error for a stray file or a gap in the numbers: a fault of the program
 */
export function readMigrations(folder: string = migrationsFolder()): readonly Migration[] {
  const migrations = readdirSync(folder)
    .sort()
    .map((file): Migration => {
      const match = FILE_NAME.exec(file);
      if (match === null) throw new Error(`${join(folder, file)} is no migration: name it 0001_what_it_does.sql`);
      // A checkout that turns line ends must not look like an edit.
      const sql = readFileSync(join(folder, file), 'utf8').replaceAll('\r\n', '\n');
      const checksum = createHash('sha256').update(sql).digest('hex');
      return { version: Number(match[1]), name: String(match[2]), sql, checksum };
    });
  migrations.forEach((migration, index) => {
    if (migration.version !== index + 1) throw new Error(`migration ${index + 1} is missing in ${folder}`);
  });
  return migrations;
}

export interface AppliedMigration {
  readonly version: number;
  readonly checksum: string;
}

/** What the database says that it has been through; empty for a new one. */
export function appliedMigrations(db: Database.Database): readonly AppliedMigration[] {
  const table = db.prepare("SELECT 1 FROM sqlite_schema WHERE type = 'table' AND name = 'schema_migration'").get();
  if (table === undefined) return [];
  return db.prepare('SELECT version, checksum FROM schema_migration ORDER BY version').all() as AppliedMigration[];
}

/**
 * Refuses a database that this program must not touch: a newer one, or one laid out by other migrations.
 * @throws DomainError `store_newer`
 */
export function checkSchema(
  applied: readonly AppliedMigration[],
  migrations: readonly Migration[],
  file: string,
): void {
  const last = applied.at(-1)?.version ?? 0;
  if (last > migrations.length) {
    throw new DomainError(
      'store_newer',
      `${file} was written by a newer version of this program (its layout is number ${last}; this version knows ${migrations.length}). Update the program. To go back instead, use the copy that was kept beside the file before the update.`,
    );
  }
  for (const { version, checksum } of applied) {
    if (migrations[version - 1]?.checksum !== checksum) {
      throw new DomainError(
        'store_newer',
        `${file} was laid out by another build of this program (step ${version} differs). Use the build that wrote it, or a released version.`,
      );
    }
  }
}

/**
 * Brings the database to the newest layout, one transaction a step. Two processes may do this at once: each step looks
 * again inside its transaction.
 */
export function migrate(db: Database.Database, migrations: readonly Migration[], nowMs: number): void {
  for (const migration of migrations) {
    db.transaction(() => {
      db.exec(`CREATE TABLE IF NOT EXISTS schema_migration (
        version INTEGER NOT NULL PRIMARY KEY,
        name TEXT NOT NULL,
        checksum TEXT NOT NULL,
        applied_ms INTEGER NOT NULL
      ) STRICT`);
      if (db.prepare('SELECT 1 FROM schema_migration WHERE version = ?').get(migration.version) !== undefined) return;
      db.exec(migration.sql);
      db.prepare('INSERT INTO schema_migration (version, name, checksum, applied_ms) VALUES (?, ?, ?, ?)').run(
        migration.version,
        migration.name,
        migration.checksum,
        nowMs,
      );
    }).immediate();
  }
}
