import type Database from 'better-sqlite3';

/** What SQLite takes and gives: booleans travel as 0 and 1. */
export type SqlValue = string | number | bigint | Uint8Array | null;

/**
 * One connection with its prepared statements, by their text. The text is always a constant of the program; what varies
 * is bound. Columns are named in the SQL as the domain names them, and STRICT tables with CHECKs guarantee their types,
 * so that a row's type is stated where it is read; only JSON columns are parsed (see json.ts).
 */
export class Sql {
  readonly db: Database.Database;
  readonly #statements = new Map<string, Database.Statement<unknown[], unknown>>();

  constructor(db: Database.Database) {
    this.db = db;
  }

  prepare(text: string): Database.Statement<unknown[], unknown> {
    const known = this.#statements.get(text);
    if (known !== undefined) return known;
    const statement = this.db.prepare<unknown[], unknown>(text);
    this.#statements.set(text, statement);
    return statement;
  }

  /** @returns how many rows changed */
  run(text: string, ...values: readonly SqlValue[]): number {
    return this.prepare(text).run(...bound(text, values)).changes;
  }

  get<Row>(text: string, ...values: readonly SqlValue[]): Row | undefined {
    return this.prepare(text).get(...bound(text, values)) as Row | undefined;
  }

  all<Row>(text: string, ...values: readonly SqlValue[]): Row[] {
    return this.prepare(text).all(...bound(text, values)) as Row[];
  }
}

/** better-sqlite3 takes `?1`, `?2` for names, and wants an object; a value that the text leaves out is passed over. */
function bound(text: string, values: readonly SqlValue[]): readonly unknown[] {
  if (!text.includes('?1')) return values;
  return [Object.fromEntries(values.map((value, index) => [index + 1, value]))];
}

/**
 * The SQL that inserts a row, or changes the row with the same key if it differs: a row that is already so is not
 * touched, and `changes` is 0.
 */
export function upsertText(table: string, keys: readonly string[], columns: readonly string[]): string {
  const all = [...keys, ...columns];
  const marks = all.map(() => '?').join(', ');
  const insert = `INSERT INTO ${table} (${all.join(', ')}) VALUES (${marks}) ON CONFLICT (${keys.join(', ')})`;
  if (columns.length === 0) return `${insert} DO NOTHING`;
  const assignments = columns.map((column) => `${column} = excluded.${column}`).join(', ');
  // Row values of one column are no row values to SQLite.
  const differs = columns.map((column) => `${table}.${column} IS NOT excluded.${column}`).join(' OR ');
  return `${insert} DO UPDATE SET ${assignments} WHERE ${differs}`;
}

/** `level_mm AS "levelMm", ...`: columns as the domain names them, optionally of a table's alias. */
export function selectList(columns: readonly string[], alias?: string): string {
  const prefix = alias === undefined ? '' : `${alias}.`;
  return columns.map((column) => `${prefix}${column} AS "${camel(column)}"`).join(', ');
}

function camel(column: string): string {
  return column.replace(/_([a-z0-9])/g, (_all, letter: string) => letter.toUpperCase());
}

export const toSql = (value: boolean): number => (value ? 1 : 0);
