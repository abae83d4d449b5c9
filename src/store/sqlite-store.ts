import type { ChangeSet, CommitResult, CursorMove } from '../domain/change-set.js';
import { DomainError } from '../domain/errors.js';
import type { Log } from '../domain/ports/log.js';
import type {
  AccessReader,
  ChangeReader,
  CommissioningReader,
  CrewReader,
  DoorsReader,
  NotifyReader,
  PeopleReader,
  PlanReader,
  PotReader,
  ReadingsReader,
  RegistryReader,
  Store,
  WeatherReader,
  WorkReader,
} from '../domain/ports/store.js';
import { ChangeLines } from './change-lines.js';
import { accessReader } from './readers/access.js';
import { changeReader, lastSeq, stageSeq } from './readers/changes.js';
import { commissioningReader } from './readers/commissioning.js';
import { crewReader } from './readers/crew.js';
import { doorsReader } from './readers/doors.js';
import { notifyReader } from './readers/notify.js';
import { peopleReader } from './readers/people.js';
import { planReader } from './readers/plans.js';
import { potReader } from './readers/pots.js';
import { readingsReader } from './readers/readings.js';
import { registryReader } from './readers/registry.js';
import { weatherReader } from './readers/weather.js';
import { workReader } from './readers/work.js';
import { inWords } from './refusals.js';
import type { Sql } from './sql.js';
import type { Vault } from './vault.js';
import type { WriteContext } from './writes/context.js';
import { applyWrite } from './writes/index.js';
import { refuseOverlaps } from './writes/registry.js';

const CHANGE = `INSERT INTO change (at_ms, kind, key, actor_kind, actor_id, site_id, container_id, from_ms, to_ms)
  VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)`;
const CURSOR = `INSERT INTO cursor (stage, seq) VALUES (?, ?) ON CONFLICT DO UPDATE SET seq = excluded.seq`;

/** How often to look whether another process has committed. */
const WATCH_MS = 1_000;

export class SqliteStore implements Store {
  readonly registry: RegistryReader;
  readonly people: PeopleReader;
  readonly crew: CrewReader;
  readonly access: AccessReader;
  readonly doors: DoorsReader;
  readonly readings: ReadingsReader;
  readonly weather: WeatherReader;
  readonly pots: PotReader;
  readonly work: WorkReader;
  readonly plans: PlanReader;
  readonly notify: NotifyReader;
  readonly changes: ChangeReader;
  readonly commissioning: CommissioningReader;
  readonly #sql: Sql;
  readonly #vault: Vault;
  readonly #file: string;
  readonly #log: Log;
  readonly #listeners = new Set<(result: CommitResult) => void>();
  readonly #watch: NodeJS.Timeout;
  #dataVersion: unknown;
  #seq: number;

  constructor(sql: Sql, vault: Vault, file: string, log: Log) {
    this.#sql = sql;
    this.#vault = vault;
    this.#file = file;
    this.#log = log;
    const context = { sql: this.#sql, vault, read: <Value>(query: (sql: Sql) => Value) => this.#read(query) };
    this.registry = registryReader(context);
    this.people = peopleReader(context);
    this.crew = crewReader(context);
    this.access = accessReader(context);
    this.doors = doorsReader(context);
    this.readings = readingsReader(context);
    this.weather = weatherReader(context);
    this.pots = potReader(context);
    this.work = workReader(context);
    this.plans = planReader(context);
    this.notify = notifyReader(context);
    this.changes = changeReader(context);
    this.commissioning = commissioningReader(context);
    this.#dataVersion = this.#readDataVersion();
    this.#seq = lastSeq(this.#sql);
    this.#watch = setInterval(() => this.#lookForOthers(), WATCH_MS);
    this.#watch.unref();
  }

  async commit(changeSet: ChangeSet): Promise<CommitResult> {
    let result: CommitResult;
    try {
      result = this.#sql.db.transaction(() => apply(this.#sql, this.#vault, changeSet)).immediate();
    } catch (error) {
      throw inWords(error, { file: this.#file });
    }
    this.#tell(result);
    return result;
  }

  onCommit(listener: (result: CommitResult) => void): () => void {
    this.#listeners.add(listener);
    return () => this.#listeners.delete(listener);
  }

  async close(): Promise<void> {
    clearInterval(this.#watch);
    this.#listeners.clear();
    this.#sql.db.close();
  }

  async #read<Value>(query: (sql: Sql) => Value): Promise<Value> {
    try {
      return query(this.#sql);
    } catch (error) {
      throw inWords(error, { file: this.#file });
    }
  }

  #tell(result: CommitResult): void {
    this.#seq = result.seq;
    for (const listener of this.#listeners) {
      try {
        listener(result);
      } catch (error) {
        // The commit stands whatever a listener makes of it.
        this.#log.error({ err: error }, 'a listener to commits failed');
      }
    }
  }

  /** The number changes when another connection has committed, and only then (sqlite.org/pragma.html#pragma_data_version). */
  #readDataVersion(): unknown {
    return this.#sql.db.pragma('data_version', { simple: true });
  }

  #lookForOthers(): void {
    try {
      const version = this.#readDataVersion();
      if (version === this.#dataVersion) return;
      this.#dataVersion = version;
      const seq = lastSeq(this.#sql);
      if (seq === this.#seq) return;
      this.#tell({ seq, readings: { added: 0, completed: 0, corrected: 0, repeated: 0 } });
    } catch (error) {
      this.#log.error(
        { err: inWords(error, { file: this.#file }) },
        'cannot see whether another process has committed',
      );
    }
  }
}

function apply(sql: Sql, vault: Vault, { atMs, actor, writes, cursor }: ChangeSet): CommitResult {
  if (cursor !== null) refuseMovedCursor(sql, cursor);
  const counts = { added: 0, completed: 0, corrected: 0, repeated: 0 };
  const context: WriteContext = {
    sql,
    vault,
    atMs,
    actor,
    lines: new ChangeLines(),
    counts,
    reassignedNodes: new Set(),
  };
  for (const write of writes) applyWrite(context, write);
  refuseOverlaps(context);
  for (const { kind, key, siteId, containerId, fromMs, toMs } of context.lines.lines()) {
    sql.run(CHANGE, atMs, kind, key, actor.kind, actor.id, siteId, containerId, fromMs, toMs);
  }
  if (cursor !== null) sql.run(CURSOR, cursor.stage, cursor.nextSeq);
  return { seq: lastSeq(sql), readings: counts };
}

function refuseMovedCursor(sql: Sql, { stage, expectedSeq }: CursorMove): void {
  const standsAt = stageSeq(sql, stage);
  if (standsAt === expectedSeq) return;
  throw new DomainError(
    'cursor_moved',
    `Stage ${stage} stands at change ${standsAt}, not at ${expectedSeq}: another process did this work. Read again from there.`,
  );
}
