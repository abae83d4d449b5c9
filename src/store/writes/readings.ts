import { DomainError } from '../../domain/errors.js';
import type { EpochMs, NodeId } from '../../domain/ids.js';
import { READING_QUANTITIES, type Reading } from '../../domain/reading.js';
import { decodeReceipts, encodeReceipts, merge, type Standing } from '../merge.js';
import type { Sql } from '../sql.js';
import type { Applier, WriteContext } from './context.js';

const INSERT = `INSERT INTO reading
  (node_id, time_ms, received_ms, level_mm, moisture_fraction, temperature_c, battery_v, battery_fraction, signal_dbm)
  VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT DO NOTHING`;
const SELECT = `SELECT received_ms AS "receivedMs", level_mm AS "levelMm", moisture_fraction AS "moistureFraction",
  temperature_c AS "temperatureC", battery_v AS "batteryV", battery_fraction AS "batteryFraction",
  signal_dbm AS "signalDbm", receipts FROM reading WHERE node_id = ? AND time_ms = ?`;
const UPDATE = `UPDATE reading SET received_ms = ?, level_mm = ?, moisture_fraction = ?, temperature_c = ?,
  battery_v = ?, battery_fraction = ?, signal_dbm = ?, receipts = ? WHERE node_id = ? AND time_ms = ?`;
const SUPERSEDE = `INSERT INTO reading_superseded (node_id, time_ms, quantity, value, received_ms)
  VALUES (?, ?, ?, ?, ?)
  ON CONFLICT DO UPDATE SET received_ms = excluded.received_ms WHERE excluded.received_ms > received_ms`;
const REINSTATE = 'DELETE FROM reading_superseded WHERE node_id = ? AND time_ms = ? AND quantity = ? AND value = ?';
const LATEST = `INSERT INTO node_latest (node_id, time_ms, heard_ms) VALUES (?, ?, ?)
  ON CONFLICT DO UPDATE SET time_ms = max(time_ms, excluded.time_ms), heard_ms = max(heard_ms, excluded.heard_ms)
  WHERE excluded.time_ms > time_ms OR excluded.heard_ms > heard_ms`;

type Outcome = 'added' | 'completed' | 'corrected' | 'repeated';

/** What one commit heard from one node; the span covers only what changed the values that stand. */
interface Heard {
  latestMs: EpochMs;
  heardMs: EpochMs;
  fromMs: EpochMs;
  toMs: EpochMs;
}

export const readings: Applier<'readings'> = (context, { rows }) => {
  const { sql, counts } = context;
  const insert = sql.prepare(INSERT);
  const heardByNode = new Map<NodeId, Heard>();
  for (const row of inKeyOrder(rows)) {
    refuseNonNumbers(row);
    const inserted = insert.run(
      row.nodeId,
      row.timeMs,
      row.receivedMs,
      row.levelMm,
      row.moistureFraction,
      row.temperatureC,
      row.batteryV,
      row.batteryFraction,
      row.signalDbm,
    ).changes;
    const outcome = inserted === 1 ? 'added' : mergeInto(sql, row);
    counts[outcome] += 1;
    note(heardByNode, row, outcome !== 'repeated');
  }
  for (const [nodeId, heard] of heardByNode) {
    sql.run(LATEST, nodeId, heard.latestMs, heard.heardMs);
    if (heard.fromMs <= heard.toMs) addLines(context, nodeId, heard.fromMs, heard.toMs);
  }
};

/** A node's rows lie side by side in the file, so a batch in key order touches each page once. */
function inKeyOrder(rows: readonly Reading[]): readonly Reading[] {
  if (rows.length < 2) return rows;
  return [...rows].sort((a, b) => (a.nodeId < b.nodeId ? -1 : a.nodeId > b.nodeId ? 1 : a.timeMs - b.timeMs));
}

/** SQLite would take NaN for "not sent", and so lose it without a word. */
function refuseNonNumbers(row: Reading): void {
  for (const quantity of READING_QUANTITIES) {
    const value = row[quantity];
    if (value !== null && !Number.isFinite(value)) {
      throw new DomainError(
        'invalid_input',
        `${quantity} of node ${row.nodeId} at ${new Date(row.timeMs).toISOString()} is ${value}, which is no number to store.`,
      );
    }
  }
}

function mergeInto(sql: Sql, row: Reading): Outcome {
  const stored = sql.get<Omit<Reading, 'nodeId' | 'timeMs'> & { receipts: string | null }>(
    SELECT,
    row.nodeId,
    row.timeMs,
  );
  if (stored === undefined) throw new Error(`reading of ${row.nodeId} at ${row.timeMs} was there and is not`);
  const standing: Standing = {
    receivedMs: stored.receivedMs,
    values: READING_QUANTITIES.map((quantity) => stored[quantity]),
    receipts: decodeReceipts(stored.receipts, stored.receivedMs, READING_QUANTITIES.length),
  };
  const offered = READING_QUANTITIES.map((quantity) => row[quantity]);
  const merged = merge(standing, offered, row.receivedMs);

  for (const { index, value } of merged.reinstated) {
    sql.run(REINSTATE, row.nodeId, row.timeMs, quantityAt(index), value);
  }
  let audited = 0;
  for (const { index, value, receivedMs } of merged.superseded) {
    audited += sql.run(SUPERSEDE, row.nodeId, row.timeMs, quantityAt(index), value, receivedMs);
  }
  if (merged.touched) {
    const { receivedMs, values } = merged.standing;
    sql.run(UPDATE, receivedMs, ...values, encodeReceipts(merged.standing), row.nodeId, row.timeMs);
  }
  if (merged.corrected || audited > 0) return 'corrected';
  return merged.completed ? 'completed' : 'repeated';
}

function quantityAt(index: number): string {
  const quantity = READING_QUANTITIES[index];
  if (quantity === undefined) throw new Error(`no quantity ${index}`);
  return quantity;
}

function note(heardByNode: Map<NodeId, Heard>, row: Reading, changed: boolean): void {
  let heard = heardByNode.get(row.nodeId);
  if (heard === undefined) {
    heard = {
      latestMs: row.timeMs,
      heardMs: row.receivedMs,
      fromMs: Number.POSITIVE_INFINITY,
      toMs: Number.NEGATIVE_INFINITY,
    };
    heardByNode.set(row.nodeId, heard);
  }
  heard.latestMs = Math.max(heard.latestMs, row.timeMs);
  heard.heardMs = Math.max(heard.heardMs, row.receivedMs);
  if (!changed) return;
  heard.fromMs = Math.min(heard.fromMs, row.timeMs);
  heard.toMs = Math.max(heard.toMs, row.timeMs);
}

interface Place {
  readonly containerId: string;
  readonly siteId: string;
  readonly fromMs: EpochMs;
  readonly toMs: EpochMs | null;
}

/** One line for each container that the span belongs to; one without a container where it belongs to none. */
function addLines({ sql, lines }: WriteContext, nodeId: NodeId, fromMs: EpochMs, toMs: EpochMs): void {
  const places = sql.all<Place>(
    `SELECT a.container_id AS "containerId", c.site_id AS "siteId", a.from_ms AS "fromMs", a.to_ms AS "toMs"
     FROM assignment a JOIN container c ON c.id = a.container_id
     WHERE a.node_id = ? AND a.from_ms <= ? AND (a.to_ms IS NULL OR a.to_ms > ?) ORDER BY a.from_ms`,
    nodeId,
    toMs,
    fromMs,
  );
  for (const place of places) {
    lines.add('readings', nodeId, {
      siteId: place.siteId,
      containerId: place.containerId,
      fromMs: Math.max(fromMs, place.fromMs),
      toMs: place.toMs === null ? toMs : Math.min(toMs, place.toMs),
    });
  }
  if (places.length > 0) return;
  const siteId = sql.get<{ siteId: string }>(
    'SELECT g.site_id AS "siteId" FROM node n JOIN gateway g ON g.id = n.gateway_id WHERE n.id = ?',
    nodeId,
  )?.siteId;
  lines.add('readings', nodeId, { siteId: siteId ?? null, fromMs, toMs });
}
