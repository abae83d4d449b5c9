import type { Write } from '../../src/domain/change-set.js';
import type { Account, Assignment, Container, Gateway, SensorNode, Site } from '../../src/domain/registry.js';

/** A small firm with two accounts, so that a test can tell one's own from somebody else's. */
export const TWO_ACCOUNTS = {
  accounts: [
    { id: 'A1', name: 'Larkspur House', dryRisk: 0.05 },
    { id: 'A2', name: 'Quay Hotel', dryRisk: 0.02 },
  ] satisfies Account[],
  sites: [
    siteOf('S1', 'A1', 'Larkspur terrace'),
    siteOf('S2', 'A1', 'Larkspur roof'),
    siteOf('S3', 'A2', 'Quay entrance'),
  ],
  containers: [
    containerOf('C1', 'S1', 'Olive by the door'),
    containerOf('C2', 'S2', 'Grasses, north rail'),
    containerOf('C3', 'S3', 'Bay tree, left'),
  ],
  gateways: [{ id: 'G1', siteId: 'S1', name: 'Larkspur cellar' }] satisfies Gateway[],
  nodes: [
    { id: 'N1', gatewayId: 'G1', promisedIntervalS: 900 },
    { id: 'N2', gatewayId: null, promisedIntervalS: null },
    { id: 'N3', gatewayId: null, promisedIntervalS: null },
  ] satisfies SensorNode[],
  assignments: [
    { id: 'AS1', nodeId: 'N1', containerId: 'C1', fromMs: Date.UTC(2026, 4, 1), toMs: null, zeroMm: 0 },
    { id: 'AS3', nodeId: 'N3', containerId: 'C3', fromMs: Date.UTC(2026, 4, 1), toMs: null, zeroMm: 5 },
  ] satisfies Assignment[],
};

/** The same as writes, in the order in which rows refer to one another. */
export function twoAccountsWrites(): readonly Write[] {
  const { accounts, sites, containers, gateways, nodes, assignments } = TWO_ACCOUNTS;
  return [
    ...accounts.map((row): Write => ({ kind: 'account', row })),
    ...sites.map((row): Write => ({ kind: 'site', row })),
    ...containers.map((row): Write => ({ kind: 'container', row })),
    ...gateways.map((row): Write => ({ kind: 'gateway', row })),
    ...nodes.map((row): Write => ({ kind: 'node', row })),
    ...assignments.map((row): Write => ({ kind: 'assignment', row })),
  ];
}

function siteOf(id: string, accountId: string, name: string): Site {
  return {
    id,
    accountId,
    name,
    latitude: 41.2,
    longitude: 2.1,
    elevationM: 5,
    timeZone: 'Europe/Madrid',
    tap: true,
  };
}

function containerOf(id: string, siteId: string, name: string): Container {
  return {
    id,
    siteId,
    name,
    place: null,
    covered: false,
    installedOn: '2026-03-01',
    removedOn: null,
    reservoir: {
      strapping: [
        [0, 0],
        [60, 9.4],
        [120, 20.1],
      ],
      overflowMm: 120,
      wickFootMm: 8,
    },
    soil: { litres: 55, surfaceM2: 0.28 },
    potKg: 31,
    plants: [],
  };
}
