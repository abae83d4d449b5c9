import { isoSecond } from '../calendar.js';
import type { FleetPlan, SiteWorld } from '../fleet/world.js';
import { round } from '../pot/volume-curve.js';

export function siteRow(site: SiteWorld): unknown {
  const { plan, calendar } = site;
  return {
    id: plan.id,
    accountId: plan.accountId,
    name: plan.name,
    latitude: round(plan.latitude, 5),
    longitude: round(plan.longitude, 5),
    elevationM: plan.elevationM,
    timeZone: calendar.timeZone,
    tap: plan.tap,
  };
}

const THIRST = (factor: number): 'low' | 'moderate' | 'high' =>
  factor < 0.6 ? 'low' : factor < 1.4 ? 'moderate' : 'high';

/** True where the container's `nodeId` says it all: its one node since its installation, with the zero at the floor. */
export function isShort(
  plan: FleetPlan,
  assignment: FleetPlan['statedAssignments'][number],
  installedDay: string,
): boolean {
  if (assignment.zeroMm !== 0 || assignment.toMs !== null || installedDay !== plan.firstDay) return false;
  return plan.statedAssignments.every((a) => a === assignment || a.containerId !== assignment.containerId);
}

export function containerRow(site: SiteWorld, index: number, plan: FleetPlan): unknown {
  const spec = site.pots[index]!;
  const stated = plan.statedAssignments.find((a) => a.containerId === spec.id);
  const only = stated !== undefined && isShort(plan, stated, spec.installedDay) ? stated : null;
  return {
    id: spec.id,
    siteId: site.plan.id,
    name: spec.name,
    place: spec.place,
    covered: spec.covered,
    installedOn: spec.installedDay,
    reservoir: { strapping: spec.strapping, overflowMm: spec.statedOverflowMm, wickFootMm: spec.statedFootMm },
    soil: { litres: round(spec.model.soil.litres, 1), surfaceM2: round(spec.soilSurfaceM2, 3) },
    potKg: spec.potKg,
    plants: [
      {
        name: spec.planting.kind,
        demandClass: THIRST(spec.planting.plantFactor * spec.planting.canopyRatio),
        plantedOn: spec.plantedDay,
      },
    ],
    ...(only === null ? {} : { nodeId: only.nodeId }),
  };
}

/** The nodes of a site as the fleet file lists them. */
export function nodeRows(site: SiteWorld): readonly unknown[] {
  return site.nodes.map(({ plan }) => ({
    id: plan.id,
    gatewayId: site.plan.gatewayId,
    promisedIntervalS: plan.traits.intervalS,
  }));
}

/** Assignments that a container's `nodeId` does not say already. */
export function assignmentRows(plan: FleetPlan, sites: readonly SiteWorld[]): readonly unknown[] {
  const installed = new Map(sites.flatMap((site) => site.pots.map((pot) => [pot.id, pot.installedDay])));
  return plan.statedAssignments
    .filter((assignment) => !isShort(plan, assignment, installed.get(assignment.containerId) ?? ''))
    .map(({ nodeId, containerId, fromMs, toMs, zeroMm }) => ({
      nodeId,
      containerId,
      from: isoSecond(fromMs),
      to: toMs === null ? null : isoSecond(toMs),
      zeroMm,
    }));
}

/** The whole of fleet.json. */
export function fleetFile(plan: FleetPlan, sites: readonly SiteWorld[]): unknown {
  return {
    ...plan.extras,
    accounts: plan.accounts,
    sites: sites.map(siteRow),
    nodes: sites.flatMap(nodeRows),
    containers: sites.flatMap((site) => site.pots.map((_, index) => containerRow(site, index, plan))),
    assignments: assignmentRows(plan, sites),
  };
}

/** Who will speak over MQTT, for whoever makes their credentials: nodes, gateways and weather stations. */
export function principalsOf(
  plan: FleetPlan,
): { id: string; kind: 'node' | 'gateway' | 'station'; siteId: string | null; gatewayId: string | null }[] {
  return plan.sites.flatMap((site) => {
    const { gatewayId, id: siteId } = site;
    const nodes = site.nodes.map((node) => ({ id: node.id, kind: 'node' as const, siteId: null, gatewayId }));
    const gateway = gatewayId === null ? [] : [{ id: gatewayId, kind: 'gateway' as const, siteId, gatewayId: null }];
    const station = site.ownStation
      ? [{ id: stationIdOf(siteId), kind: 'station' as const, siteId, gatewayId: null }]
      : [];
    return [...nodes, ...gateway, ...station];
  });
}

export const stationIdOf = (siteId: string): string => `station-${siteId}`;
