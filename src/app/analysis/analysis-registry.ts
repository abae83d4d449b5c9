import { sharingSites } from '../../analytics/weather-sharing.js';
import { WHOLE_FLEET } from '../../domain/access.js';
import type { FleetCalibration, PotContext } from '../../domain/analysis.js';
import type { ContainerId, EpochMs, NodeId, SiteId } from '../../domain/ids.js';
import type { Store } from '../../domain/ports/store.js';
import type { Assignment, Container, Site } from '../../domain/registry.js';
import { holdsAt, localDaysOf } from '../fleet-view.js';

/** The registry as the analysis needs it; read anew when the change log says that it changed. */
export interface AnalysisRegistry {
  readonly assignments: readonly Assignment[];
  readonly promisedIntervalS: ReadonlyMap<NodeId, number | null>;
  readonly sites: ReadonlyMap<SiteId, Site>;
  readonly containersOfSite: ReadonlyMap<SiteId, readonly ContainerId[]>;
  /** For each site the sites that fill the gaps of their weather with its own. */
  readonly sharersOfSite: ReadonlyMap<SiteId, readonly SiteId[]>;
  /** Every container, also those taken away: a late reading of theirs is booked too. */
  readonly containers: ReadonlyMap<ContainerId, Container>;
}

export async function loadAnalysisRegistry(store: Store): Promise<AnalysisRegistry> {
  const [sites, containers, assignments, nodes] = await Promise.all([
    store.registry.sites(WHOLE_FLEET),
    store.registry.containers(WHOLE_FLEET),
    store.registry.assignments(WHOLE_FLEET),
    store.registry.nodes(WHOLE_FLEET),
  ]);
  const containersOfSite = new Map<SiteId, ContainerId[]>();
  for (const container of containers) {
    const list = containersOfSite.get(container.siteId) ?? [];
    list.push(container.id);
    containersOfSite.set(container.siteId, list);
  }
  return {
    assignments,
    promisedIntervalS: new Map(nodes.map((node) => [node.id, node.promisedIntervalS])),
    sites: new Map(sites.map((site) => [site.id, site])),
    containersOfSite,
    sharersOfSite: sharersOf(sites),
    containers: new Map(containers.map((container) => [container.id, container])),
  };
}

function sharersOf(sites: readonly Site[]): ReadonlyMap<SiteId, readonly SiteId[]> {
  const sharers = new Map<SiteId, SiteId[]>();
  for (const site of sites) {
    for (const { id } of sharingSites(site, sites)) {
      const known = sharers.get(id);
      if (known === undefined) sharers.set(id, [site.id]);
      else known.push(site.id);
    }
  }
  return sharers;
}

/** @returns null for a container that is not in the registry */
export function contextOf(
  registry: AnalysisRegistry,
  calibration: FleetCalibration | null,
  containerId: ContainerId,
): PotContext | null {
  const container = registry.containers.get(containerId);
  const site = container === undefined ? undefined : registry.sites.get(container.siteId);
  return container === undefined || site === undefined ? null : { container, site, calibration };
}

/** The interval that the node now on the pot promised; null while none is known. */
export function promisedIntervalOf(registry: AnalysisRegistry, containerId: ContainerId, atMs: EpochMs): number | null {
  const current = registry.assignments.find((one) => one.containerId === containerId && holdsAt(one, atMs));
  return current === undefined ? null : (registry.promisedIntervalS.get(current.nodeId) ?? null);
}

/** Pots that stand somewhere at an instant. */
export function standingContainers(registry: AnalysisRegistry, atMs: EpochMs): readonly ContainerId[] {
  const standing: ContainerId[] = [];
  for (const container of registry.containers.values()) {
    const site = registry.sites.get(container.siteId);
    if (site === undefined) continue;
    const gone = container.removedOn !== null && container.removedOn <= localDaysOf(site.timeZone).dayOf(atMs);
    if (!gone) standing.push(container.id);
  }
  return standing.sort();
}
