import { strappingFaults } from '../analytics/strapping.js';
import type { Principal } from '../domain/access.js';
import { WHOLE_FLEET } from '../domain/access.js';
import type { Write } from '../domain/change-set.js';
import { DomainError } from '../domain/errors.js';
import type { Page, PageRequest } from '../domain/ports/store.js';
import type { Account, Container, Gateway, SensorNode, Site } from '../domain/registry.js';
import { type App, allowed } from './context.js';
import { pageById } from './paging.js';

/** How a row is written: `create` refuses an id that is there, `replace` one that is not. */
export type SaveMode = 'create' | 'replace';

export async function accounts(app: App, who: Principal, page: PageRequest): Promise<Page<Account>> {
  return pageById(await app.store.registry.accounts(allowed(who, 'registry.read')), page);
}

export async function sites(app: App, who: Principal, page: PageRequest): Promise<Page<Site>> {
  return pageById(await app.store.registry.sites(allowed(who, 'registry.read')), page);
}

export async function gateways(app: App, who: Principal, page: PageRequest): Promise<Page<Gateway>> {
  return pageById(await app.store.registry.gateways(allowed(who, 'registry.read')), page);
}

export async function nodes(app: App, who: Principal, page: PageRequest): Promise<Page<SensorNode>> {
  return pageById(await app.store.registry.nodes(allowed(who, 'registry.read')), page);
}

export async function saveAccount(app: App, who: Principal, mode: SaveMode, row: Account): Promise<Account> {
  allowed(who, 'registry.write');
  const known = await app.store.registry.accounts({ kind: 'account', accountId: row.id });
  checkMode(mode, 'account', row.id, known.length > 0);
  await commit(app, who, { kind: 'account', row });
  return row;
}

export async function saveSite(app: App, who: Principal, mode: SaveMode, row: Site): Promise<Site> {
  allowed(who, 'registry.write');
  const before = await app.store.registry.site(WHOLE_FLEET, row.id);
  checkMode(mode, 'site', row.id, before !== null);
  const account = await app.store.registry.accounts({ kind: 'account', accountId: row.accountId });
  if (account.length === 0) throw missing('/accountId', 'account', row.accountId);
  await commit(app, who, { kind: 'site', row });
  return row;
}

export async function saveContainer(app: App, who: Principal, mode: SaveMode, row: Container): Promise<Container> {
  allowed(who, 'container.commission');
  const before = await app.store.registry.container(WHOLE_FLEET, row.id);
  checkMode(mode, 'container', row.id, before !== null);
  if ((await app.store.registry.site(WHOLE_FLEET, row.siteId)) === null) throw missing('/siteId', 'site', row.siteId);
  if (row.removedOn !== null && row.removedOn < row.installedOn) {
    throw invalid('/removedOn', 'lies before the day of installation');
  }
  const faults = strappingFaults(row.reservoir);
  if (faults.length > 0) {
    throw new DomainError('invalid_input', 'The reservoir cannot be as it is described.', { faults });
  }
  await commit(app, who, { kind: 'container', row });
  return row;
}

/** Whoever installs nodes also adds the gateway that speaks for them. */
export async function saveGateway(app: App, who: Principal, mode: SaveMode, row: Gateway): Promise<Gateway> {
  allowed(who, mode === 'create' ? 'container.commission' : 'registry.write');
  const known = await app.store.registry.gateways(WHOLE_FLEET);
  checkMode(
    mode,
    'gateway',
    row.id,
    known.some((gateway) => gateway.id === row.id),
  );
  if ((await app.store.registry.site(WHOLE_FLEET, row.siteId)) === null) throw missing('/siteId', 'site', row.siteId);
  await commit(app, who, { kind: 'gateway', row });
  return row;
}

export async function saveNode(app: App, who: Principal, mode: SaveMode, row: SensorNode): Promise<SensorNode> {
  allowed(who, 'container.commission');
  checkMode(mode, 'node', row.id, (await app.store.registry.node(row.id)) !== null);
  if (row.gatewayId !== null) {
    const known = await app.store.registry.gateways(WHOLE_FLEET);
    if (!known.some((gateway) => gateway.id === row.gatewayId)) throw missing('/gatewayId', 'gateway', row.gatewayId);
  }
  await commit(app, who, { kind: 'node', row });
  return row;
}

function checkMode(mode: SaveMode, what: string, id: string, exists: boolean): void {
  if (mode === 'create' && exists) {
    throw new DomainError(
      'conflict',
      `There is a ${what} with the id “${id}” already. Choose another id, or change that one.`,
    );
  }
  if (mode === 'replace' && !exists) {
    throw new DomainError('not_found', `There is no ${what} with the id “${id}”. Create it first.`);
  }
}

function missing(pointer: string, what: string, id: string): DomainError {
  return invalid(pointer, `there is no ${what} “${id}”`);
}

function invalid(pointer: string, detail: string): DomainError {
  return new DomainError('invalid_input', `${pointer.slice(1)}: ${detail}.`, { faults: [{ pointer, detail }] });
}

async function commit(app: App, who: Principal, write: Write): Promise<void> {
  await app.store.commit({
    atMs: app.clock.nowMs(),
    actor: { kind: 'person', id: who.personId },
    writes: [write],
    cursor: null,
  });
}
