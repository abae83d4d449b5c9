import { type Principal, type Scope, WHOLE_FLEET } from '../../domain/access.js';
import { DomainError } from '../../domain/errors.js';
import type { AccountId, EpochMs } from '../../domain/ids.js';
import type { Address } from '../../domain/notify.js';
import type { Account, Container, Person, Site } from '../../domain/registry.js';
import type { SiteAccess } from '../../domain/site-access.js';
import type { Visit } from '../../domain/work.js';
import { type App, allowed } from '../context.js';

/** Everything that is kept about a client account and its people, as it is handed to them. */
export interface PersonalData {
  readonly exportedMs: EpochMs;
  readonly account: Account;
  readonly sites: readonly Site[];
  readonly access: readonly SiteAccess[];
  readonly containers: readonly Container[];
  readonly people: readonly Person[];
  /** Without the secrets that sign what is sent there. */
  readonly addresses: readonly Omit<Address, 'secret'>[];
  readonly visits: readonly Visit[];
}

const FROM_THE_BEGINNING_MS = 0;

/**
 * Gathers what is kept about an account.
 * @throws DomainError `not_found`
 */
export async function exportAccount(app: App, who: Principal, accountId: AccountId): Promise<PersonalData> {
  allowed(who, 'personal.write');
  const scope: Scope = { kind: 'account', accountId };
  const account = await accountOf(app, accountId);
  const { registry, people, access, notify, work } = app.store;
  const sites = await registry.sites(scope);
  const clients = (await people.people()).filter((person) => person.accountId === accountId);
  const cards: SiteAccess[] = [];
  for (const { id } of sites) {
    const card = await access.siteAccess(id);
    if (card !== null) cards.push(card);
  }
  const addresses: Omit<Address, 'secret'>[] = [];
  for (const { id } of clients) {
    addresses.push(...(await notify.addresses(id)).map(({ secret: _secret, ...address }) => address));
  }
  const nowMs = app.clock.nowMs();
  const filter = { containerId: null, siteId: null, fromMs: FROM_THE_BEGINNING_MS, toMs: nowMs + 1 };
  return {
    exportedMs: nowMs,
    account,
    sites,
    access: cards,
    containers: await registry.containers(scope),
    people: clients,
    addresses,
    visits: await work.visits(scope, filter),
  };
}

/**
 * Takes out all that tells who a client is: names, places, contacts, log-ins, notes, messages, and the values in the record
 * of edits. Readings, rollups and the ledger stay under the account's id, so that the firm's water still adds up. It cannot
 * be undone; backups from before hold it until they are overwritten.
 * @throws DomainError `not_found`; `conflict` while a container of the account still stands
 */
export async function eraseAccount(app: App, who: Principal, accountId: AccountId): Promise<void> {
  allowed(who, 'personal.write');
  await accountOf(app, accountId);
  const containers = await app.store.registry.containers({ kind: 'account', accountId });
  const standing = containers.filter(({ removedOn }) => removedOn === null);
  if (standing.length > 0) {
    throw new DomainError(
      'conflict',
      `${standing.length} containers of account “${accountId}” still stand (${standing[0]?.id}, …). Give each its day of removal first: nobody could be sent to them after this.`,
    );
  }
  await app.store.commit({
    atMs: app.clock.nowMs(),
    actor: { kind: 'person', id: who.personId },
    writes: [{ kind: 'account_erased', accountId, atMs: app.clock.nowMs() }],
    cursor: null,
  });
}

async function accountOf(app: App, accountId: AccountId): Promise<Account> {
  const account = (await app.store.registry.accounts(WHOLE_FLEET)).find(({ id }) => id === accountId);
  if (account === undefined) throw new DomainError('not_found', `There is no account “${accountId}”. Check the id.`);
  return account;
}
