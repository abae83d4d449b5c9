import { join } from 'node:path';
import { beforeAll, describe, expect, test } from 'vitest';
import { WHOLE_FLEET } from '../../../src/domain/access.js';
import { FILE_NAME, openDatabase } from '../../../src/store/database.js';
import { readMigrations } from '../../../src/store/migrations.js';
import { Sql } from '../../../src/store/sql.js';
import { SqliteStore } from '../../../src/store/sqlite-store.js';
import { Vault } from '../../../src/store/vault.js';
import { makeTempStore, silentLog } from '../../support/temp-store.js';
import { SCOPED, UNSCOPED } from './asks.js';
import { changeSet, idsOf, worldOf } from './worlds.js';

/** What grows with the years, and so must never be read from end to end. */
const GROWING = [
  'reading',
  'reading_superseded',
  'weather_sample',
  'weather_forecast',
  'weather_observed',
  'pot_event',
  'ledger_day',
  'ledger_day_history',
  'hour_rollup',
  'day_rollup',
  'forecast',
  'finding_history',
  'alarm_transition',
  'task_transition',
  'visit',
  'visit_action',
  'alert',
  'quarantine',
  'outbox',
  'checkpoint',
  'change',
  'access_look',
  'edit',
];

interface Step {
  readonly detail: string;
}

/** The tables by their aliases, as the readers write them: `FROM reading`, `JOIN site s`, `FROM visit_action y`. */
function tablesOf(text: string): Map<string, string> {
  const names = [
    ...text.matchAll(/\b(?:FROM|JOIN|INTO|UPDATE)\s+(\w+)(?:\s+(?!ON\b|WHERE\b|SET\b|ORDER\b|JOIN\b)(\w+))?/g),
  ];
  return new Map(names.map((match) => [match[2] ?? String(match[1]), String(match[1])]));
}

/** Nulls for all that a text binds; the plan is made before any value is known. */
function nulls(text: string): unknown[] {
  const names = [...text.matchAll(/@(\w+)/g)].map((match) => [match[1], null]);
  return names.length > 0 ? [Object.fromEntries(names)] : [...text.matchAll(/\?/g)].map(() => null);
}

describe('the plans that SQLite makes', () => {
  const plans: { text: string; steps: readonly Step[] }[] = [];

  beforeAll(async () => {
    const temp = await makeTempStore();
    await temp.store.close();
    const file = join(temp.dir, FILE_NAME);
    const migrations = readMigrations();
    const db = await openDatabase({ file, readOnly: false, busyTimeoutMs: 1_000, migrations, log: silentLog });
    const texts = new Set<string>();
    const prepare = db.prepare.bind(db);
    db.prepare = ((text: string) => {
      texts.add(text);
      return prepare(text);
    }) as typeof db.prepare;
    const store = new SqliteStore(new Sql(db), new Vault(`${file}.keys`, () => false), file, silentLog);
    await store.commit(changeSet([...worldOf('A'), ...worldOf('B')]));
    for (const [, ask] of [...SCOPED, ...UNSCOPED]) await ask(store, WHOLE_FLEET, idsOf('A'));
    for (const text of texts) {
      plans.push({ text, steps: prepare(`EXPLAIN QUERY PLAN ${text}`).all(...nulls(text)) as Step[] });
    }
    await store.close();
    await temp.remove();
  });

  test('were looked at for every reader and write', () => {
    expect(plans.length).toBeGreaterThan(80);
    expect(plans.some(({ steps }) => steps.some(({ detail }) => detail.startsWith('SCAN')))).toBe(true);
  });

  test('never read a table that grows with the years from end to end', () => {
    // An INSERT lists the tables that refer to its own, but SQLite enters those only where a reference was broken before
    // in the same transaction (OP_FkIfZero), which immediate foreign keys rule out.
    const reads = plans.filter(({ text }) => !text.startsWith('INSERT'));
    const scans = reads.flatMap(({ text, steps }) => {
      const tables = tablesOf(text);
      return steps
        .map(({ detail }) => ({
          detail,
          alias: /^(?:SCAN (\w+)|SEARCH (\w+) USING AUTOMATIC)/.exec(detail)?.slice(1).find(Boolean) ?? '',
        }))
        .filter(({ alias }) => GROWING.includes(tables.get(alias) ?? alias))
        .map(({ detail }) => `${detail} in: ${text}`);
    });
    expect(scans).toEqual([]);
  });

  test('read a node by one range of the key, without sorting', () => {
    const ofNode = plans.filter(({ text }) => /FROM reading WHERE node_id = \? AND time_ms >= \?/.test(text));
    expect(ofNode.length).toBeGreaterThanOrEqual(2);
    for (const { steps } of ofNode) {
      expect(steps.map(({ detail }) => detail)).toEqual([
        'SEARCH reading USING PRIMARY KEY (node_id=? AND time_ms>? AND time_ms<?)',
      ]);
    }
  });
});
