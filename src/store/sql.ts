import type Database from 'better-sqlite3';

/** What SQLite takes and gives: booleans travel as 0 and 1. */
export type SqlValue = string | number | bigint | Uint8Array | null;

/** Values for `?` in order, or one object for `@name`; a name that the text does not use is passed over. */
export type Bound = readonly SqlValue[] | readonly [Readonly<Record<string, SqlValue>>];

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

  /**
   * @returns how many rows changed
   * @throws Error for NaN or an infinity, which are a fault of whoever computed them: SQLite would take NaN for "unknown"
   */
  run(text: string, ...values: readonly SqlValue[]): number {
    for (const value of values) {
      if (typeof value === 'number' && !Number.isFinite(value))
        throw new Error(`${value} cannot be stored by: ${text}`);
    }
    return this.prepare(text).run(...values).changes;
  }

  get<Row>(text: string, ...values: Bound): Row | undefined {
    return this.prepare(text).get(...values) as Row | undefined;
  }

  all<Row>(text: string, ...values: Bound): Row[] {
    return this.prepare(text).all(...values) as Row[];
  }
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
