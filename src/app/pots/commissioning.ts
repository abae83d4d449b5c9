import { randomUUID } from 'node:crypto';
import { firstTable, type ShapeFault, type VesselShape, type VesselSize } from '../../analytics/first-table.js';
import { calibratePours, cumulativePours, type PourFault } from '../../analytics/pour-calibration.js';
import type { Principal } from '../../domain/access.js';
import type { MeasuredPour, PourRecord, TableBandPoint } from '../../domain/commissioning.js';
import { DomainError } from '../../domain/errors.js';
import type { AccountId, ContainerId, EpochMs, NodeId, SiteId } from '../../domain/ids.js';
import { DAY_MS } from '../../domain/local-day.js';
import type { Finding } from '../../domain/pot.js';
import type { Assignment, Container, StrappingPair } from '../../domain/registry.js';
import { type App, allowed } from '../context.js';
import { holdsAt, localDaysOf } from '../fleet-view.js';
import { containerOf } from './containers.js';
import { type WickState, wickOfPot } from './wick-of-pot.js';

/** How far a pot's commissioning has come. */
export interface Commissioning {
  readonly containerId: ContainerId;
  /** The pours behind the table that holds now; null where it came from shape and size, a drawing or a file. */
  readonly poured: PourRecord | null;
  /** The node that is on the pot now. */
  readonly assignment: Assignment | null;
  readonly lastReadingMs: EpochMs | null;
  readonly wick: WickState;
  /** The open finding that says that two nodes look swapped. */
  readonly swapped: Finding | null;
}

export type CommissioningStep = 'node' | 'table' | 'plants' | 'weight' | 'wick';

/** A pot that is not finished, or that seems to bear another pot's node. */
export interface CommissioningItem {
  readonly containerId: ContainerId;
  readonly name: string;
  readonly place: string | null;
  readonly siteId: SiteId;
  readonly siteName: string;
  readonly accountId: AccountId;
  readonly accountName: string;
  readonly nodeId: NodeId | null;
  readonly lacks: readonly CommissioningStep[];
  readonly swapped: Finding | null;
}

/** Pots installed longer ago than this are no longer asked about their table, plants and weight. */
const NEW_DAYS = 60;
/** A table that ends this far below the port is drawn out beyond what was measured. */
const LEAST_REACH = 0.9;
/** Proofs cost reading weeks of each pot. */
const MOST_PROOFS = 40;

export async function commissioningOf(app: App, who: Principal, id: ContainerId): Promise<Commissioning> {
  const scope = allowed(who, 'container.commission');
  const container = await containerOf(app, who, id);
  const nowMs = app.clock.nowMs();
  const { registry, pots, commissioning, readings } = app.store;
  const [records, assignments, site, findings] = await Promise.all([
    commissioning.pourRecords(scope, id),
    registry.assignmentsOfContainer(scope, id),
    registry.site(scope, container.siteId),
    pots.findings(scope, { containerId: id, openOnly: true, fromMs: null }),
  ]);
  if (site === null) throw new Error(`container ${id} stands on site ${container.siteId}, which is not there`);
  const assignment = assignments.find((row) => holdsAt(row, nowMs)) ?? null;
  const latest = assignment === null ? null : await readings.latestOfNode(assignment.nodeId);
  return {
    containerId: id,
    poured: records.filter((record) => isTableOf(record, container)).at(-1) ?? null,
    assignment,
    lastReadingMs: latest?.timeMs ?? null,
    wick: await wickOfPot(app.store, scope, container, site, nowMs),
    swapped: findings.find((finding) => finding.kind === 'nodes_swapped') ?? null,
  };
}

/** The pours behind a container's table, for whoever may see the container; null where it was not poured. */
export async function pouredTable(app: App, who: Principal, id: ContainerId): Promise<PourRecord | null> {
  const scope = allowed(who, 'containers.read');
  const container = await containerOf(app, who, id);
  const records = await app.store.commissioning.pourRecords(scope, id);
  return records.filter((record) => isTableOf(record, container)).at(-1) ?? null;
}

const isTableOf = (record: PourRecord, container: Container): boolean =>
  JSON.stringify(record.strapping) === JSON.stringify(container.reservoir.strapping);

/** New pots that are not finished, pots without a node, and those that seem to bear another's, by site and name. */
export async function commissioningList(app: App, who: Principal): Promise<readonly CommissioningItem[]> {
  const scope = allowed(who, 'container.commission');
  const nowMs = app.clock.nowMs();
  const { registry, pots, commissioning } = app.store;
  const [containers, sites, accounts, assignments, findings, poured] = await Promise.all([
    registry.containers(scope),
    registry.sites(scope),
    registry.accounts(scope),
    registry.assignments(scope),
    pots.findings(scope, { containerId: null, openOnly: true, fromMs: null }),
    commissioning.pouredContainers(),
  ]);
  const siteOf = new Map(sites.map((site) => [site.id, site]));
  const accountNames = new Map(accounts.map((account) => [account.id, account.name]));
  const nodeOf = new Map(assignments.filter((row) => holdsAt(row, nowMs)).map((row) => [row.containerId, row.nodeId]));
  const swappedOf = new Map(
    findings.filter(({ kind }) => kind === 'nodes_swapped').map((finding) => [finding.containerId, finding]),
  );
  const items: CommissioningItem[] = [];
  let proofs = 0;
  for (const container of containers) {
    const site = siteOf.get(container.siteId);
    if (container.removedOn !== null || site === undefined) continue;
    const installedMs = localDaysOf(site.timeZone).startMs(container.installedOn);
    const isNew = nowMs - installedMs < NEW_DAYS * DAY_MS;
    const swapped = swappedOf.get(container.id) ?? null;
    const lacks: CommissioningStep[] = nodeOf.has(container.id) ? [] : ['node'];
    if (isNew) {
      if (!poured.has(container.id)) lacks.push('table');
      if (container.plants.length === 0) lacks.push('plants');
      if (container.potKg === null) lacks.push('weight');
      if (proofs < MOST_PROOFS) {
        proofs++;
        const { proof } = await wickOfPot(app.store, scope, container, site, nowMs);
        if (proof.kind !== 'proved') lacks.push('wick');
      }
    }
    if (lacks.length === 0 && swapped === null) continue;
    items.push({
      containerId: container.id,
      name: container.name,
      place: container.place,
      siteId: site.id,
      siteName: site.name,
      accountId: site.accountId,
      accountName: accountNames.get(site.accountId) ?? site.accountId,
      nodeId: nodeOf.get(container.id) ?? null,
      lacks,
      swapped,
    });
  }
  return items.sort((a, b) => a.siteName.localeCompare(b.siteName) || a.name.localeCompare(b.name));
}

export type TableOfShape =
  | { readonly kind: 'table'; readonly strapping: readonly StrappingPair[] }
  | { readonly kind: 'refused'; readonly faults: readonly ShapeFault[] };

/** A first table from shape and size; nothing is kept. */
export function tableOfShape(who: Principal, shape: VesselShape, size: VesselSize): TableOfShape {
  allowed(who, 'container.commission');
  return firstTable(shape, size);
}

export type PourResult =
  | {
      readonly kind: 'table';
      readonly strapping: readonly StrappingPair[];
      readonly band: readonly TableBandPoint[];
      readonly overflowMm: number | null;
      /** Pours that ran over, by index. */
      readonly ranOver: readonly number[];
      /** The table now holds for the container. */
      readonly kept: boolean;
    }
  | { readonly kind: 'refused'; readonly faults: readonly PourFault[] };

/**
 * A strapping table from measured pours into the empty reservoir. With `keep` it becomes the container's, and all that
 * was derived with the old table is derived anew.
 * @throws DomainError `invalid_input` where the wick's foot would stand above the overflow
 */
export async function pour(
  app: App,
  who: Principal,
  id: ContainerId,
  input: { readonly pours: readonly MeasuredPour[]; readonly keep: boolean },
): Promise<PourResult> {
  allowed(who, 'container.commission');
  const container = await containerOf(app, who, id);
  const result = calibratePours(cumulativePours(input.pours));
  if (result.kind === 'refused') return result;
  const { strapping, band, overflowMm, ranOver } = result;
  if (input.keep) await keep(app, who, container, input.pours, { strapping, band, overflowMm });
  return { kind: 'table', strapping, band, overflowMm, ranOver, kept: input.keep };
}

async function keep(
  app: App,
  who: Principal,
  container: Container,
  pours: readonly MeasuredPour[],
  table: Pick<PourRecord, 'strapping' | 'band' | 'overflowMm'>,
): Promise<void> {
  const topMm = table.strapping[table.strapping.length - 1]![0];
  // Where the port was not reached, the height that was measured stays; the table has to reach it.
  const overflowMm = table.overflowMm ?? container.reservoir.overflowMm;
  const short = topMm < LEAST_REACH * overflowMm;
  if (short || container.reservoir.wickFootMm >= overflowMm) {
    const detail = short
      ? `the pours end at ${topMm} mm, below the overflow at ${overflowMm} mm; pour on until water shows at the port`
      : `the wick’s foot at ${container.reservoir.wickFootMm} mm would stand above the overflow at ${overflowMm} mm; correct it first`;
    throw new DomainError('invalid_input', `${detail}.`, { faults: [{ pointer: '/pours', detail }] });
  }
  const atMs = app.clock.nowMs();
  const reservoir = { ...container.reservoir, strapping: table.strapping, overflowMm };
  const record: PourRecord = {
    id: `PR-${randomUUID()}`,
    containerId: container.id,
    atMs,
    actorId: who.personId,
    pours,
    ...table,
  };
  await app.store.commit({
    atMs,
    actor: { kind: 'person', id: who.personId },
    writes: [
      { kind: 'container', row: { ...container, reservoir } },
      { kind: 'pour_record', row: record },
    ],
    cursor: null,
  });
}
