import type { DerivedRecords } from '../../domain/analysis.js';
import type { ContainerId, EpochMs } from '../../domain/ids.js';
import type { LocalDays } from '../../domain/local-day.js';
import { lastSeq } from '../readers/changes.js';
import type { Sql } from '../sql.js';
import type { Applier } from './context.js';

/** Browsers that were away resume within so many lines; none of these may be missing. */
export const ALWAYS_KEPT_LINES = 20_000;

/** Before this instant nothing of a container is derived anew; null: its raw readings are all there. */
export function horizonOf(sql: Sql, containerId: ContainerId): EpochMs | null {
  return (
    sql.get<{ fromMs: EpochMs }>('SELECT from_ms AS "fromMs" FROM reading_horizon WHERE container_id = ?', containerId)
      ?.fromMs ?? null
  );
}

/** What a run of the analysis derived, without what lies before the horizon: that stays as it was posted. */
export function withinHorizon(
  sql: Sql,
  containerId: ContainerId,
  records: DerivedRecords,
  calendar: LocalDays,
): DerivedRecords {
  const horizonMs = horizonOf(sql, containerId);
  if (horizonMs === null) return records;
  const isAfter = ({ day }: { readonly day: string }): boolean => calendar.startMs(day) >= horizonMs;
  const stands = sql.prepare('SELECT 1 FROM pot_event WHERE id = ? AND start_ms >= ?');
  return {
    ...records,
    fromMs: Math.max(records.fromMs, horizonMs),
    events: records.events.filter(({ startMs }) => startMs >= horizonMs),
    withdrawnEvents: records.withdrawnEvents.filter((id) => stands.get(id, horizonMs) !== undefined),
    ledgerDays: records.ledgerDays.filter(isAfter),
    dayRollups: records.dayRollups.filter(isAfter),
    hourRollups: records.hourRollups.filter(({ hourMs }) => hourMs >= horizonMs),
  };
}

/** A horizon only moves on. The fold's memory is no news to anyone, so the change log does not speak of it. */
export const readingHorizon: Applier<'reading_horizon'> = ({ sql }, { containerId, fromMs }) => {
  sql.run(
    `INSERT INTO reading_horizon (container_id, from_ms) VALUES (?, ?)
     ON CONFLICT (container_id) DO UPDATE SET from_ms = max(from_ms, excluded.from_ms)`,
    containerId,
    fromMs,
  );
};

/** The latest reading of a node stays however old it is, and so does what was corrected: that is the audit trail. */
export const readingsExpired: Applier<'readings_expired'> = ({ sql }, { nodeId, beforeMs }) => {
  sql.run(
    `DELETE FROM reading WHERE node_id = ? AND time_ms < min(?, coalesce(
       (SELECT time_ms FROM node_latest WHERE node_id = ?), 0))`,
    nodeId,
    beforeMs,
    nodeId,
  );
};

/**
 * Lines of the program and of nodes go; those of people and commands stay, being the audit trail, and so does all that a
 * stage or a browser may still ask for.
 */
export const changesExpired: Applier<'changes_expired'> = ({ sql }, { fromSeq, throughSeq }) => {
  const slowest = sql.get<{ seq: number | null }>('SELECT min(seq) AS seq FROM cursor')?.seq ?? 0;
  sql.run(
    `DELETE FROM change WHERE seq BETWEEN ? AND ? AND actor_kind IN ('stage', 'principal')`,
    fromSeq,
    Math.min(throughSeq, slowest, lastSeq(sql) - ALWAYS_KEPT_LINES),
  );
};
