import type { Finding, Forecast } from '../../domain/pot.js';
import { POT_STATUS_COLUMNS } from '../columns.js';
import { type SqlValue, toSql, upsertText } from '../sql.js';
import { type Applier, siteOfContainer } from './context.js';
import { horizonOf } from './retention.js';

const STATUS = upsertText('pot_status', ['container_id'], POT_STATUS_COLUMNS);

export const FINDING_COLUMNS = [
  'id',
  'container_id',
  'node_id',
  'kind',
  'onset_ms',
  'size',
  'unit',
  'height_mm',
  'confidence',
  'severity',
  'evidence_json',
  'to_confirm_json',
  'opened_ms',
  'closed_ms',
] as const;

const FINDING = upsertText(
  'finding',
  ['id'],
  FINDING_COLUMNS.filter((column) => column !== 'id'),
);
const FINDING_HISTORY = `INSERT INTO finding_history (${FINDING_COLUMNS.join(', ')}, recorded_ms)
  SELECT ${FINDING_COLUMNS.join(', ')}, ? FROM finding WHERE id = ?`;

export const FORECAST_COLUMNS = [
  'container_id',
  'origin_ms',
  'knowledge',
  'level_mm',
  'litres',
  'rate_litres_per_day',
  'rate_sd_litres_per_day',
  'has_dry',
  'dry_p10_ms',
  'dry_p50_ms',
  'dry_p90_ms',
  'has_stress',
  'stress_p10_ms',
  'stress_p50_ms',
  'stress_p90_ms',
  'data_days',
  'basis_json',
] as const;

const FORECAST = `INSERT INTO forecast (${FORECAST_COLUMNS.join(', ')})
  VALUES (${FORECAST_COLUMNS.map(() => '?').join(', ')}) ON CONFLICT DO NOTHING`;

const CHECKPOINT = upsertText('checkpoint', ['container_id', 'at_ms'], ['state_json']);
const CALIBRATION = upsertText('calibration', ['frozen_ms'], ['lead_days_json', 'spread_factors_json']);

export const status: Applier<'status'> = ({ sql, lines }, { kind, row }) => {
  const changed = sql.run(
    STATUS,
    row.containerId,
    row.atMs,
    row.nodeId,
    row.lastReadingMs,
    row.levelMm,
    row.litres,
    row.capacityLitres,
    row.deadLitres,
    row.moistureFraction,
    row.temperatureC,
    row.batteryV,
    JSON.stringify(row.forecast),
  );
  if (changed === 0) return;
  const { containerId } = row;
  lines.add(kind, containerId, { siteId: siteOfContainer(sql, containerId), containerId });
};

/** A forecast that was made stays as it was made: a second one with the same origin is not taken. */
export const forecast: Applier<'forecast'> = ({ sql, lines }, { kind, row }) => {
  if (sql.run(FORECAST, ...forecastValues(row)) === 0) return;
  const { containerId } = row;
  lines.add(kind, containerId, { siteId: siteOfContainer(sql, containerId), containerId });
};

function forecastValues(row: Forecast): SqlValue[] {
  return [
    row.containerId,
    row.originMs,
    row.knowledge,
    row.levelMm,
    row.litres,
    row.rateLitresPerDay,
    row.rateSdLitresPerDay,
    toSql(row.dry !== null),
    row.dry?.p10Ms ?? null,
    row.dry?.p50Ms ?? null,
    row.dry?.p90Ms ?? null,
    toSql(row.stress !== null),
    row.stress?.p10Ms ?? null,
    row.stress?.p50Ms ?? null,
    row.stress?.p90Ms ?? null,
    row.dataDays,
    JSON.stringify(row.basis),
  ];
}

export const finding: Applier<'finding'> = ({ sql, lines, atMs }, { kind, row }) => {
  if (sql.run(FINDING, ...findingValues(row)) === 0) return;
  sql.run(FINDING_HISTORY, atMs, row.id);
  const { containerId } = row;
  lines.add(kind, row.id, { siteId: siteOfContainer(sql, containerId), containerId });
};

function findingValues(row: Finding): SqlValue[] {
  return [
    row.id,
    row.containerId,
    row.nodeId,
    row.kind,
    row.onsetMs,
    row.size,
    row.unit,
    row.heightMm,
    row.confidence,
    row.severity,
    JSON.stringify(row.evidence),
    row.toConfirm === null ? null : JSON.stringify(row.toConfirm),
    row.openedMs,
    row.closedMs,
  ];
}

export const eventCorrection: Applier<'event_correction'> = ({ sql, lines, atMs, actor }, write) => {
  const { kind, eventId, containerId, correctedKind, litres, startMs, before } = write;
  const last = sql.get<{ correctedKind: string; litres: number | null; startMs: number | null }>(
    `SELECT corrected_kind AS "correctedKind", litres, start_ms AS "startMs" FROM event_correction
     WHERE container_id = ? AND event_id = ? ORDER BY seq DESC LIMIT 1`,
    containerId,
    eventId,
  );
  if (last?.correctedKind === correctedKind && last.litres === litres && last.startMs === startMs) return;
  sql.run(
    `INSERT INTO event_correction (event_id, container_id, corrected_kind, litres, start_ms, before_kind, before_litres,
       before_start_ms, at_ms, actor_id)
     VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
    eventId,
    containerId,
    correctedKind,
    litres,
    startMs,
    before?.kind ?? null,
    before?.litres ?? null,
    before?.startMs ?? null,
    atMs,
    actor.id,
  );
  const span = sql.get<{ fromMs: number; toMs: number }>(
    'SELECT start_ms AS "fromMs", end_ms AS "toMs" FROM pot_event WHERE id = ?',
    eventId,
  );
  // The event may be moved, or moved back to where it was first seen: the change reaches over all of these.
  const seen = /(\d+)$/.exec(eventId)?.[1];
  const seenMs = seen === undefined ? null : Number(seen);
  const known = [seenMs, startMs, last?.startMs, before?.startMs, span?.fromMs].filter((ms) => ms != null);
  const instants = known.length === 0 ? [atMs] : known;
  lines.add(kind, eventId, {
    siteId: siteOfContainer(sql, containerId),
    containerId,
    fromMs: Math.min(...instants),
    toMs: Math.max(...instants, span?.toMs ?? 0),
  });
};

/** How many of the newest checkpoints stay; of older ones the first of each week does. */
const DAILY_CHECKPOINTS = 8;
const WEEK_MS = 7 * 86_400_000;

/** The fold's memory is no news to anyone, so the change log does not speak of it. */
export const checkpoints: Applier<'checkpoints'> = ({ sql }, { containerId, validUntilMs, rows }) => {
  // What lies before the horizon cannot be folded again, so the checkpoint there is kept whatever was made void.
  const horizonMs = horizonOf(sql, containerId) ?? Number.MIN_SAFE_INTEGER;
  sql.run(
    'DELETE FROM checkpoint WHERE container_id = ? AND at_ms > ?',
    containerId,
    Math.max(validUntilMs, horizonMs),
  );
  for (const { atMs, stateJson } of rows) {
    if (atMs >= horizonMs) sql.run(CHECKPOINT, containerId, atMs, stateJson);
  }
  const older = sql.all<{ atMs: number }>(
    'SELECT at_ms AS "atMs" FROM checkpoint WHERE container_id = ? ORDER BY at_ms DESC LIMIT -1 OFFSET ?',
    containerId,
    DAILY_CHECKPOINTS,
  );
  const weeks = new Set<number>();
  for (const { atMs } of older.reverse()) {
    const week = Math.floor(atMs / WEEK_MS);
    if (weeks.has(week) && atMs !== horizonMs)
      sql.run('DELETE FROM checkpoint WHERE container_id = ? AND at_ms = ?', containerId, atMs);
    weeks.add(week);
  }
};

export const calibration: Applier<'calibration'> = ({ sql, lines }, { kind, row }) => {
  const changed = sql.run(CALIBRATION, row.frozenMs, JSON.stringify(row.leadDays), JSON.stringify(row.spreadFactors));
  if (changed > 0) lines.add(kind, 'fleet');
};
