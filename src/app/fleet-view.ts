import { type Scope, WHOLE_FLEET } from '../domain/access.js';
import type { AccountId, ContainerId, EpochMs, GatewayId, NodeId, SiteId } from '../domain/ids.js';
import { LocalDays } from '../domain/local-day.js';
import type { Store } from '../domain/ports/store.js';
import type { Account, Assignment, Container, SensorNode, Site } from '../domain/registry.js';

/** The registry as the work of the crew needs it, looked up by id. */
export interface FleetView {
  readonly accounts: ReadonlyMap<AccountId, Account>;
  readonly sites: ReadonlyMap<SiteId, Site>;
  /** Pots that stand there at `nowMs`. */
  readonly containers: ReadonlyMap<ContainerId, Container>;
  readonly containersOfSite: ReadonlyMap<SiteId, readonly Container[]>;
  readonly nodeOf: ReadonlyMap<ContainerId, NodeId>;
  /** Since when anything at all has measured a pot. */
  readonly measuredSinceMs: ReadonlyMap<ContainerId, EpochMs>;
  readonly gatewayOfNode: ReadonlyMap<NodeId, GatewayId>;
  /** Days of the site's zone. */
  daysOf(site: Site): LocalDays;
}

const zones = new Map<string, LocalDays>();

export function localDaysOf(timeZone: string): LocalDays {
  const known = zones.get(timeZone) ?? new LocalDays(timeZone);
  zones.set(timeZone, known);
  return known;
}

/** The registry's rows that a view is made of. */
export interface RegistryRows {
  readonly accounts: readonly Account[];
  readonly sites: readonly Site[];
  readonly containers: readonly Container[];
  readonly assignments: readonly Assignment[];
  readonly nodes: readonly SensorNode[];
}

export async function registryRows(store: Store, scope: Scope): Promise<RegistryRows> {
  const [accounts, sites, containers, assignments, nodes] = await Promise.all([
    store.registry.accounts(scope),
    store.registry.sites(scope),
    store.registry.containers(scope),
    store.registry.assignments(scope),
    store.registry.nodes(WHOLE_FLEET),
  ]);
  return { accounts, sites, containers, assignments, nodes };
}

export async function fleetView(store: Store, scope: Scope, nowMs: EpochMs): Promise<FleetView> {
  return viewOfRows(await registryRows(store, scope), nowMs);
}

/** The rows as they hold at an instant: pots that stand there, and the nodes that are on them. */
export function viewOfRows(rows: RegistryRows, nowMs: EpochMs): FleetView {
  const { accounts, sites, containers, assignments, nodes } = rows;
  const siteById = new Map(sites.map((site) => [site.id, site]));
  const standing = containers.filter((container) => {
    const site = siteById.get(container.siteId);
    if (site === undefined || container.removedOn === null) return site !== undefined;
    return container.removedOn > localDaysOf(site.timeZone).dayOf(nowMs);
  });
  const ofSite = new Map<SiteId, Container[]>();
  for (const container of standing) {
    const list = ofSite.get(container.siteId) ?? [];
    list.push(container);
    ofSite.set(container.siteId, list);
  }
  return {
    accounts: new Map(accounts.map((account) => [account.id, account])),
    sites: siteById,
    containers: new Map(standing.map((container) => [container.id, container])),
    containersOfSite: ofSite,
    nodeOf: new Map(assignments.filter((one) => holdsAt(one, nowMs)).map((one) => [one.containerId, one.nodeId])),
    measuredSinceMs: firstMeasured(assignments),
    gatewayOfNode: new Map(nodes.flatMap((node) => (node.gatewayId === null ? [] : [[node.id, node.gatewayId]]))),
    daysOf: (site) => localDaysOf(site.timeZone),
  };
}

function firstMeasured(assignments: readonly Assignment[]): ReadonlyMap<ContainerId, EpochMs> {
  const first = new Map<ContainerId, EpochMs>();
  for (const { containerId, fromMs } of assignments) {
    first.set(containerId, Math.min(fromMs, first.get(containerId) ?? fromMs));
  }
  return first;
}

export function holdsAt(assignment: Assignment, atMs: EpochMs): boolean {
  return assignment.fromMs <= atMs && (assignment.toMs === null || atMs < assignment.toMs);
}
