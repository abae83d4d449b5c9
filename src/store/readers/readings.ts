import type { ReadingsReader } from '../../domain/ports/store.js';
import type { PotReading } from '../../domain/pot.js';
import type { QuarantinedRecord, Reading } from '../../domain/reading.js';
import type { Assignment } from '../../domain/registry.js';
import { decodeCursor, pageOf, rowsToRead } from '../paging.js';
import { type Sql, selectList } from '../sql.js';
import { accountOf, IN_SCOPE, type ReadContext } from './context.js';

const READING = selectList([
  'node_id',
  'time_ms',
  'received_ms',
  'level_mm',
  'moisture_fraction',
  'temperature_c',
  'battery_v',
  'battery_fraction',
  'signal_dbm',
]);
const POT_READING = `node_id AS "nodeId", time_ms AS "timeMs", received_ms AS "receivedMs",
  level_mm + ? AS "levelMm", moisture_fraction AS "moistureFraction", temperature_c AS "temperatureC",
  battery_v AS "batteryV", battery_fraction AS "batteryFraction"`;
const QUARANTINE = selectList([
  'id',
  'received_ms',
  'source',
  'node_id',
  'refusal',
  'detail',
  'raw',
  'content_type',
  'record_index',
  'resolved_ms',
]);

export function readingsReader({ read }: ReadContext): ReadingsReader {
  return {
    ofNode: (nodeId, fromMs, toMs) =>
      read((sql) =>
        sql.all<Reading>(
          `SELECT ${READING} FROM reading WHERE node_id = ? AND time_ms >= ? AND time_ms < ? ORDER BY time_ms`,
          nodeId,
          fromMs,
          toMs,
        ),
      ),
    ofContainer: (scope, containerId, fromMs, toMs) =>
      read((sql) => ofContainer(sql, accountOf(scope), containerId, fromMs, toMs)),
    latestOfNode: (nodeId) =>
      read(
        (sql) =>
          sql.get<Reading>(
            `SELECT ${READING} FROM reading
             WHERE node_id = @nodeId AND time_ms = (SELECT time_ms FROM node_latest WHERE node_id = @nodeId)`,
            { nodeId },
          ) ?? null,
      ),
    oldestMs: (nodeId) =>
      read(
        (sql) =>
          sql.get<{ timeMs: number }>(
            'SELECT time_ms AS "timeMs" FROM reading WHERE node_id = ? ORDER BY time_ms LIMIT 1',
            nodeId,
          )?.timeMs ?? null,
      ),
    lastHeard: () =>
      read((sql) => {
        const rows = sql.all<{ nodeId: string; heardMs: number }>(
          'SELECT node_id AS "nodeId", heard_ms AS "heardMs" FROM node_latest',
        );
        return new Map(rows.map((row) => [row.nodeId, row.heardMs]));
      }),
    quarantine: (page, filter) =>
      read((sql) => {
        const after = decodeCursor(page, ['number', 'string']);
        const rows = sql.all<QuarantinedRecord>(
          `SELECT ${QUARANTINE} FROM quarantine
           WHERE (received_ms, id) < (?, ?) ${filter?.unresolvedOnly === true ? 'AND resolved_ms IS NULL' : ''}
           ORDER BY received_ms DESC, id DESC LIMIT ?`,
          after?.[0] ?? Number.MAX_SAFE_INTEGER,
          after?.[1] ?? '',
          rowsToRead(page),
        );
        const { rows: shown, nextCursor } = pageOf(rows, page, (row) => [row.receivedMs, row.id]);
        return { rows: shown, nextCursor };
      }),
    quarantined: (id) =>
      read((sql) => sql.get<QuarantinedRecord>(`SELECT ${QUARANTINE} FROM quarantine WHERE id = ?`, id) ?? null),
  };
}

/** Reads node by node, each one range of the key, so that the cost is that of the rows given back. */
function ofContainer(
  sql: Sql,
  accountId: string | null,
  containerId: string,
  fromMs: number,
  toMs: number,
): readonly PotReading[] {
  const assignments = sql.all<Pick<Assignment, 'nodeId' | 'fromMs' | 'toMs' | 'zeroMm'>>(
    `SELECT a.node_id AS "nodeId", a.from_ms AS "fromMs", a.to_ms AS "toMs", a.zero_mm AS "zeroMm"
     FROM assignment a JOIN container c ON c.id = a.container_id JOIN site s ON s.id = c.site_id
     WHERE a.container_id = @containerId AND ${IN_SCOPE}
       AND a.from_ms < @toMs AND (a.to_ms IS NULL OR a.to_ms > @fromMs)
     ORDER BY a.from_ms, a.node_id`,
    { account: accountId, containerId, fromMs, toMs },
  );
  const parts = assignments.map((assignment) =>
    sql.all<PotReading>(
      `SELECT ${POT_READING} FROM reading WHERE node_id = ? AND time_ms >= ? AND time_ms < ? ORDER BY time_ms`,
      assignment.zeroMm,
      assignment.nodeId,
      Math.max(fromMs, assignment.fromMs),
      Math.min(toMs, assignment.toMs ?? toMs),
    ),
  );
  const readings = parts.flat();
  // Two nodes may stand in one pot for a while.
  const inOrder = readings.every((reading, index) => index === 0 || reading.timeMs >= readings[index - 1]!.timeMs);
  if (inOrder) return readings;
  return readings.sort((a, b) => a.timeMs - b.timeMs || (a.nodeId < b.nodeId ? -1 : 1));
}
