import { DomainError } from '../../domain/errors.js';
import type { EpochMs, NodeId } from '../../domain/ids.js';
import type { Assignment } from '../../domain/registry.js';
import { CONTAINER_COLUMNS, SITE_COLUMNS } from '../columns.js';
import { type Sql, selectList, toSql, upsertText } from '../sql.js';
import { type Applier, siteOfContainer, type WriteContext } from './context.js';

const ACCOUNT = upsertText('account', ['id'], ['name', 'dry_risk']);
const SITE = upsertText('site', ['id'], SITE_COLUMNS);
const CONTAINER = upsertText('container', ['id'], CONTAINER_COLUMNS);
const GATEWAY = upsertText('gateway', ['id'], ['site_id', 'name']);
const NODE = upsertText('node', ['id'], ['gateway_id', 'promised_interval_s']);
const ASSIGNMENT = upsertText('assignment', ['id'], ['node_id', 'container_id', 'from_ms', 'to_ms', 'zero_mm']);
const DEPOT = upsertText('depot', ['id'], ['name', 'latitude', 'longitude']);
const TRUCK = upsertText('truck', ['id'], ['name', 'tank_litres', 'depot_id']);

export const ASSIGNMENT_COLUMNS = ['id', 'node_id', 'container_id', 'from_ms', 'to_ms', 'zero_mm'] as const;

export const account: Applier<'account'> = ({ sql, lines }, { kind, row }) => {
  if (sql.run(ACCOUNT, row.id, row.name, row.dryRisk) > 0) lines.add(kind, row.id);
};

export const site: Applier<'site'> = ({ sql, lines }, { kind, row }) => {
  const changed = sql.run(
    SITE,
    row.id,
    row.accountId,
    row.name,
    row.latitude,
    row.longitude,
    row.elevationM,
    row.timeZone,
    toSql(row.tap),
  );
  if (changed > 0) lines.add(kind, row.id, { siteId: row.id });
};

export const container: Applier<'container'> = ({ sql, lines }, { kind, row }) => {
  const changed = sql.run(
    CONTAINER,
    row.id,
    row.siteId,
    row.name,
    row.place,
    toSql(row.covered),
    row.installedOn,
    row.removedOn,
    JSON.stringify(row.reservoir.strapping),
    row.reservoir.overflowMm,
    row.reservoir.wickFootMm,
    row.soil?.litres ?? null,
    row.soil?.surfaceM2 ?? null,
    row.potKg,
    JSON.stringify(row.plants),
  );
  if (changed > 0) lines.add(kind, row.id, { siteId: row.siteId, containerId: row.id });
};

export const gateway: Applier<'gateway'> = ({ sql, lines }, { kind, row }) => {
  if (sql.run(GATEWAY, row.id, row.siteId, row.name) > 0) lines.add(kind, row.id, { siteId: row.siteId });
};

export const node: Applier<'node'> = ({ sql, lines }, { kind, row }) => {
  if (sql.run(NODE, row.id, row.gatewayId, row.promisedIntervalS) === 0) return;
  const place = sql.get<{ siteId: string; containerId: string }>(
    `SELECT c.site_id AS "siteId", c.id AS "containerId"
     FROM assignment a JOIN container c ON c.id = a.container_id
     WHERE a.node_id = ? ORDER BY a.from_ms DESC LIMIT 1`,
    row.id,
  );
  lines.add(kind, row.id, place ?? { siteId: siteOfGateway(sql, row.gatewayId) });
};

function siteOfGateway(sql: Sql, gatewayId: string | null): string | null {
  if (gatewayId === null) return null;
  return sql.get<{ siteId: string }>('SELECT site_id AS "siteId" FROM gateway WHERE id = ?', gatewayId)?.siteId ?? null;
}

export const assignment: Applier<'assignment'> = (context, { kind, row }) => {
  const before = readAssignment(context.sql, row.id);
  const changed = context.sql.run(ASSIGNMENT, row.id, row.nodeId, row.containerId, row.fromMs, row.toMs, row.zeroMm);
  if (changed === 0) return;
  context.reassignedNodes.add(row.nodeId);
  const span = before === undefined ? { fromMs: row.fromMs, toMs: row.toMs } : touchedSpan(before, row);
  for (const containerId of new Set([row.containerId, before?.containerId ?? row.containerId])) {
    context.lines.add(kind, row.id, { siteId: siteOfContainer(context.sql, containerId), containerId, ...span });
  }
};

export const assignmentRemoved: Applier<'assignment_removed'> = ({ sql, lines }, { kind, id }) => {
  const before = readAssignment(sql, id);
  if (before === undefined) return;
  sql.run('DELETE FROM assignment WHERE id = ?', id);
  const { containerId, fromMs, toMs } = before;
  lines.add(kind, id, { siteId: siteOfContainer(sql, containerId), containerId, fromMs, toMs });
};

function readAssignment(sql: Sql, id: string): Assignment | undefined {
  return sql.get<Assignment>(`SELECT ${selectList(ASSIGNMENT_COLUMNS)} FROM assignment WHERE id = ?`, id);
}

/** The time for which readings belong elsewhere than before; `toMs` null: from then on. */
function touchedSpan(before: Assignment, after: Assignment): { fromMs: EpochMs; toMs: EpochMs | null } {
  const beforeEnd = before.toMs ?? Number.POSITIVE_INFINITY;
  const afterEnd = after.toMs ?? Number.POSITIVE_INFINITY;
  const elsewhere =
    before.nodeId !== after.nodeId || before.containerId !== after.containerId || before.zeroMm !== after.zeroMm;
  const startMoved = before.fromMs !== after.fromMs;
  const endMoved = beforeEnd !== afterEnd;
  const fromMs = elsewhere || startMoved ? Math.min(before.fromMs, after.fromMs) : Math.min(beforeEnd, afterEnd);
  const endMs = elsewhere || endMoved ? Math.max(beforeEnd, afterEnd) : Math.max(before.fromMs, after.fromMs);
  return { fromMs, toMs: Number.isFinite(endMs) ? endMs : null };
}

/**
 * A reading belongs to one container at most.
 * @throws DomainError `conflict` where two periods of one node overlap
 */
export function refuseOverlaps({ sql, reassignedNodes }: WriteContext): void {
  for (const nodeId of reassignedNodes) refuseOverlap(sql, nodeId);
}

function refuseOverlap(sql: Sql, nodeId: NodeId): void {
  const overlap = sql.get<{ one: string; other: string; fromMs: number }>(
    `SELECT a.container_id AS one, b.container_id AS other, max(a.from_ms, b.from_ms) AS "fromMs"
     FROM assignment a JOIN assignment b ON b.node_id = a.node_id AND a.id < b.id
     WHERE a.node_id = ?
       AND (a.to_ms IS NULL OR a.to_ms > b.from_ms) AND (b.to_ms IS NULL OR b.to_ms > a.from_ms) LIMIT 1`,
    nodeId,
  );
  if (overlap === undefined) return;
  const places =
    overlap.one === overlap.other ? `twice to ${overlap.one}` : `to both ${overlap.one} and ${overlap.other}`;
  throw new DomainError(
    'conflict',
    `Node ${nodeId} would belong ${places} at ${new Date(overlap.fromMs).toISOString()}. End one assignment before the other begins.`,
  );
}

export const depot: Applier<'depot'> = ({ sql, lines }, { kind, row }) => {
  if (sql.run(DEPOT, row.id, row.name, row.latitude, row.longitude) > 0) lines.add(kind, row.id);
};

export const truck: Applier<'truck'> = ({ sql, lines }, { kind, row }) => {
  if (sql.run(TRUCK, row.id, row.name, row.tankLitres, row.depotId) > 0) lines.add(kind, row.id);
};
