import type { Scope } from '../../domain/access.js';
import type { Sql } from '../sql.js';

export interface ReadContext {
  readonly sql: Sql;
  /** Runs one read and gives what SQLite refuses in words. */
  readonly read: <Value>(query: (sql: Sql) => Value) => Promise<Value>;
}

/** The account that a query is bound to; null reads all of them. Used as `(?1 IS NULL OR s.account_id = ?1)`. */
export function accountOf(scope: Scope): string | null {
  return scope.kind === 'account' ? scope.accountId : null;
}
