import type { DerivedRecords } from '../../domain/analysis.js';
import type { ContainerId, EpochMs, LocalDay } from '../../domain/ids.js';
import { addDays, HOUR_MS, type LocalDays } from '../../domain/local-day.js';
import type { DayRollup, HourRollup, LedgerDay, PotEvent, RollupValues } from '../../domain/pot.js';
import { type Sql, type SqlValue, selectList, toSql, upsertText } from '../sql.js';
import { type Applier, calendarOfSite, siteOfContainer } from './context.js';
import { withinHorizon } from './retention.js';

export const EVENT_COLUMNS = [
  'id',
  'container_id',
  'kind',
  'start_ms',
  'end_ms',
  'start_level_mm',
  'end_level_mm',
  'litres',
  'at_least',
  'confidence',
] as const;

export const LEDGER_VALUES = [
  'opening_litres',
  'refill_crew_litres',
  'refill_other_litres',
  'rain_litres',
  'uptake_litres',
  'leak_litres',
  'overflow_litres',
  'drained_litres',
  'unexplained_litres',
  'closing_litres',
  'sd_litres',
  'coverage',
] as const;

export const ROLLUP_VALUES = [
  'readings',
  'level_min_mm',
  'level_mean_mm',
  'level_max_mm',
  'litres_mean',
  'moisture_mean',
  'temperature_mean_c',
  'battery_min_v',
] as const;

const EVENT = upsertText('pot_event', ['id'], [...EVENT_COLUMNS.filter((column) => column !== 'id'), 'superseded_ms']);
const HOUR = upsertText('hour_rollup', ['container_id', 'hour_ms'], ROLLUP_VALUES);
const DAY = upsertText('day_rollup', ['container_id', 'day'], ROLLUP_VALUES);
const LEDGER_INSERT = `INSERT INTO ledger_day (container_id, day, ${LEDGER_VALUES.join(', ')}, posted_ms)
  VALUES (?, ?, ${LEDGER_VALUES.map(() => '?').join(', ')}, ?)`;
const LEDGER_KEEP = `INSERT INTO ledger_day_history
    (container_id, day, ${LEDGER_VALUES.join(', ')}, posted_ms, superseded_ms)
  SELECT container_id, day, ${LEDGER_VALUES.join(', ')}, posted_ms, ? FROM ledger_day
  WHERE container_id = ? AND day = ?`;

/** Replaces what was derived from `fromMs` on. What is already so is not written, and then nothing is logged. */
export const derived: Applier<'derived'> = ({ sql, lines, atMs }, { kind, containerId, derived: given }) => {
  const siteId = siteOfContainer(sql, containerId);
  const calendar = calendarOfSite(sql, siteId);
  const records = withinHorizon(sql, containerId, given, calendar);
  const changed =
    replaceEvents(sql, containerId, records, atMs) +
    replaceLedger(sql, containerId, records, calendar, atMs) +
    replaceHours(sql, containerId, records) +
    replaceDays(sql, containerId, records, calendar);
  if (changed > 0) lines.add(kind, containerId, { siteId, containerId, fromMs: records.fromMs });
};

function replaceEvents(sql: Sql, containerId: ContainerId, records: DerivedRecords, atMs: EpochMs): number {
  const { fromMs, events, withdrawnEvents } = records;
  let changed = 0;
  const kept = new Set(events.map((event) => event.id));
  const standing = sql.all<{ id: string }>(
    'SELECT id FROM pot_event WHERE container_id = ? AND start_ms >= ? AND superseded_ms IS NULL',
    containerId,
    fromMs,
  );
  for (const { id } of standing) {
    if (!kept.has(id)) changed += sql.run('UPDATE pot_event SET superseded_ms = ? WHERE id = ?', atMs, id);
  }
  for (const id of withdrawnEvents) {
    changed += sql.run('UPDATE pot_event SET superseded_ms = ? WHERE id = ? AND superseded_ms IS NULL', atMs, id);
  }
  for (const event of events) changed += sql.run(EVENT, ...eventValues(event));
  return changed;
}

function eventValues(event: PotEvent): SqlValue[] {
  return [
    event.id,
    event.containerId,
    event.kind,
    event.startMs,
    event.endMs,
    event.startLevelMm,
    event.endLevelMm,
    event.litres,
    toSql(event.atLeast),
    event.confidence,
    null,
  ];
}

/** The first local day that lies wholly at or after an instant. */
function firstWholeDay(calendar: LocalDays, fromMs: EpochMs): LocalDay {
  const day = calendar.dayOf(fromMs);
  return calendar.startOfDayMs(fromMs) === fromMs ? day : addDays(day, 1);
}

/**
 * Posts the days that differ. A day that was over when it was posted is an entry of the account, so the entry that it
 * replaces is kept; a day still running is posted with each reading, and those states are not kept.
 */
function replaceLedger(
  sql: Sql,
  containerId: ContainerId,
  { fromMs, ledgerDays }: DerivedRecords,
  calendar: LocalDays,
  atMs: EpochMs,
): number {
  const firstGone = firstWholeDay(calendar, fromMs);
  const firstRead = [firstGone, ...ledgerDays.map(({ day }) => day)].sort()[0] ?? firstGone;
  const stored = new Map(
    sql
      .all<LedgerDay & { postedMs: EpochMs }>(
        `SELECT container_id AS "containerId", day, ${selectList(LEDGER_VALUES)}, posted_ms AS "postedMs"
         FROM ledger_day WHERE container_id = ? AND day >= ?`,
        containerId,
        firstRead,
      )
      .map((row) => [row.day, row]),
  );
  const withdraw = (day: LocalDay, postedMs: EpochMs): void => {
    if (postedMs >= calendar.endMs(day)) sql.run(LEDGER_KEEP, atMs, containerId, day);
    sql.run('DELETE FROM ledger_day WHERE container_id = ? AND day = ?', containerId, day);
  };
  let changed = 0;
  for (const row of ledgerDays) {
    const before = stored.get(row.day);
    stored.delete(row.day);
    if (before !== undefined && sameLedgerDay(before, row)) continue;
    if (before !== undefined) withdraw(row.day, before.postedMs);
    sql.run(LEDGER_INSERT, containerId, row.day, ...ledgerValues(row), atMs);
    changed += 1;
  }
  for (const { day, postedMs } of stored.values()) {
    if (day < firstGone) continue;
    withdraw(day, postedMs);
    changed += 1;
  }
  return changed;
}

function ledgerValues(row: LedgerDay): number[] {
  return [
    row.openingLitres,
    row.refillCrewLitres,
    row.refillOtherLitres,
    row.rainLitres,
    row.uptakeLitres,
    row.leakLitres,
    row.overflowLitres,
    row.drainedLitres,
    row.unexplainedLitres,
    row.closingLitres,
    row.sdLitres,
    row.coverage,
  ];
}

function sameLedgerDay(one: LedgerDay, other: LedgerDay): boolean {
  const otherValues = ledgerValues(other);
  return ledgerValues(one).every((value, index) => value === otherValues[index]);
}

function rollupValues(row: RollupValues): SqlValue[] {
  return [
    row.readings,
    row.levelMinMm,
    row.levelMeanMm,
    row.levelMaxMm,
    row.litresMean,
    row.moistureMean,
    row.temperatureMeanC,
    row.batteryMinV,
  ];
}

/** The hour or day that holds `fromMs` in its middle stays unless it is given anew; what begins later goes. */
function replaceHours(sql: Sql, containerId: ContainerId, { fromMs, hourRollups }: DerivedRecords): number {
  let changed = 0;
  const given = new Set(hourRollups.map((row) => row.hourMs));
  const stored = sql.all<Pick<HourRollup, 'hourMs'>>(
    'SELECT hour_ms AS "hourMs" FROM hour_rollup WHERE container_id = ? AND hour_ms >= ?',
    containerId,
    Math.ceil(fromMs / HOUR_MS) * HOUR_MS,
  );
  for (const { hourMs } of stored) {
    if (given.has(hourMs)) continue;
    changed += sql.run('DELETE FROM hour_rollup WHERE container_id = ? AND hour_ms = ?', containerId, hourMs);
  }
  for (const row of hourRollups) changed += sql.run(HOUR, containerId, row.hourMs, ...rollupValues(row));
  return changed;
}

function replaceDays(
  sql: Sql,
  containerId: ContainerId,
  { fromMs, dayRollups }: DerivedRecords,
  calendar: LocalDays,
): number {
  let changed = 0;
  const given = new Set(dayRollups.map((row) => row.day));
  const stored = sql.all<Pick<DayRollup, 'day'>>(
    'SELECT day FROM day_rollup WHERE container_id = ? AND day >= ?',
    containerId,
    firstWholeDay(calendar, fromMs),
  );
  for (const { day } of stored) {
    if (given.has(day)) continue;
    changed += sql.run('DELETE FROM day_rollup WHERE container_id = ? AND day = ?', containerId, day);
  }
  for (const row of dayRollups) changed += sql.run(DAY, containerId, row.day, ...rollupValues(row));
  return changed;
}
