import { join } from 'node:path';
import Database from 'better-sqlite3';
import { FILE_NAME } from '../../src/store/database.js';
import type { StormReading } from '../support/storm-client.js';

/** Opens what a killed server left behind, as its next start would: SQLite recovers its journal first. */
export function openLeft(dir: string): Database.Database {
  return new Database(join(dir, FILE_NAME), { fileMustExist: true });
}

/** Faults in words; none where every reading is there with its value. That none is there twice is the key's doing. */
export function readingFaults(db: Database.Database, acknowledged: Iterable<StormReading>): readonly string[] {
  const find = db.prepare<[string, number], { readonly level_mm: number | null }>(
    'SELECT level_mm FROM reading WHERE node_id = ? AND time_ms = ?',
  );
  const faults: string[] = [];
  for (const { nodeId, timeMs, levelMm } of acknowledged) {
    const row = find.get(nodeId, timeMs);
    if (row === undefined) faults.push(`${nodeId} at ${timeMs}: acknowledged, and lost`);
    else if (row.level_mm !== levelMm)
      faults.push(`${nodeId} at ${timeMs}: ${levelMm} was sent, ${row.level_mm} stands`);
  }
  return faults;
}

/** A repeat after a restart must neither correct a reading nor go to quarantine. */
export function repeatFaults(db: Database.Database): readonly string[] {
  const superseded = count(db, 'SELECT count(*) FROM reading_superseded');
  const quarantined = count(db, 'SELECT count(*) FROM quarantine');
  return [
    ...(superseded === 0 ? [] : [`${superseded} readings were taken for corrections of themselves`]),
    ...(quarantined === 0 ? [] : [`${quarantined} records are in quarantine`]),
  ];
}

export function visitFaults(db: Database.Database, acknowledged: Iterable<string>): readonly string[] {
  const visits = db.prepare('SELECT count(*) FROM visit WHERE id = ?').pluck();
  const actions = db.prepare('SELECT count(*) FROM visit_action WHERE visit_id = ?').pluck();
  const changes = db.prepare("SELECT count(*) FROM change WHERE kind = 'visit' AND key = ?").pluck();
  const faults: string[] = [];
  for (const id of acknowledged) {
    const found = [visits.get(id), actions.get(id), changes.get(id)].join('/');
    if (found !== '1/1/1') faults.push(`${id}: ${found} rows of visit, work and change log instead of 1/1/1`);
  }
  return faults;
}

export function damage(db: Database.Database, depth: 'quick' | 'full'): readonly string[] {
  const found = db.pragma(depth === 'quick' ? 'quick_check(3)' : 'integrity_check(3)', { simple: true });
  const orphans = depth === 'quick' ? [] : (db.pragma('foreign_key_check') as unknown[]);
  return [
    ...(found === 'ok' ? [] : [`the check of the store says: ${String(found)}`]),
    ...(orphans.length === 0 ? [] : [`${orphans.length} rows refer to nothing`]),
  ];
}

const LEDGER_TOLERANCE_LITRES = 1e-6;

/** Every day closes: what was there and what came is what went and what is left. And each opens as the last one closed. */
export function ledgerFaults(db: Database.Database): readonly string[] {
  const open = count(
    db,
    `SELECT count(*) FROM ledger_day WHERE abs(opening_litres + refill_crew_litres + refill_other_litres + rain_litres
       - uptake_litres - leak_litres - overflow_litres - drained_litres - unexplained_litres - closing_litres)
       > ${LEDGER_TOLERANCE_LITRES}`,
  );
  const broken = count(
    db,
    `SELECT count(*) FROM (SELECT opening_litres, lag(closing_litres) OVER (PARTITION BY container_id ORDER BY day) AS before
       FROM ledger_day) WHERE abs(opening_litres - before) > ${LEDGER_TOLERANCE_LITRES}`,
  );
  return [
    ...(open === 0 ? [] : [`${open} days of the ledger do not close`]),
    ...(broken === 0 ? [] : [`${broken} days of the ledger do not open as the day before closed`]),
  ];
}

/**
 * What was derived, without the instants at which it was written. A day of the ledger counts once it is over: one that
 * still runs is posted as far as it was known when somebody last looked.
 */
export function derivedRows(db: Database.Database): readonly string[] {
  const tables = [
    ['ledger_day', 'posted_ms'],
    ['hour_rollup', null],
    ['day_rollup', null],
    ['pot_event', 'superseded_ms'],
  ] as const;
  return tables.flatMap(([table, dropped]) => {
    const where = WHICH[table] ?? '';
    return db
      .prepare<[], Record<string, unknown>>(`SELECT * FROM ${table} ${where} ORDER BY 1, 2, 3`)
      .all()
      .map((row) => {
        const kept = Object.entries(row).filter(([name]) => name !== dropped);
        return `${table} ${JSON.stringify(Object.fromEntries(kept))}`;
      });
  });
}

const WHICH: Readonly<Record<string, string>> = {
  pot_event: 'WHERE superseded_ms IS NULL',
  ledger_day: `WHERE day < (SELECT max(day) FROM day_rollup WHERE day_rollup.container_id = ledger_day.container_id)`,
};

export interface OutboxCounts {
  readonly waiting: number;
  readonly dead: number;
  /** Ids of those that went to webhooks. */
  readonly delivered: readonly string[];
}

export function outboxCounts(db: Database.Database): OutboxCounts {
  return {
    waiting: count(db, "SELECT count(*) FROM outbox WHERE state = 'waiting'"),
    dead: count(db, "SELECT count(*) FROM outbox WHERE state = 'dead'"),
    delivered: db
      .prepare<[], string>("SELECT id FROM outbox WHERE state = 'delivered' AND channel = 'webhook'")
      .pluck()
      .all() as string[],
  };
}

export function count(db: Database.Database, sql: string): number {
  return Number(db.prepare(sql).pluck().get());
}
