import type { Scope } from '../../domain/access.js';
import type { Sql } from '../sql.js';
import type { Vault } from '../vault.js';

export interface ReadContext {
  readonly sql: Sql;
  readonly vault: Vault;
  /** Runs one read and gives what SQLite refuses in words. */
  readonly read: <Value>(query: (sql: Sql) => Value) => Promise<Value>;
}

/** The account that a query is bound to; null reads all of them. Bound as `@account` in {@link IN_SCOPE}. */
export function accountOf(scope: Scope): string | null {
  return scope.kind === 'account' ? scope.accountId : null;
}

/** The condition on the site `s` of a row that every query with a scope bears. */
export const IN_SCOPE = '(@account IS NULL OR s.account_id = @account)';
