import type { AccountId } from './ids.js';

/** What an account is called once nobody is to know any more whose it was. */
export function lastingName(accountId: AccountId): string {
  return `Erased account ${accountId}`;
}
