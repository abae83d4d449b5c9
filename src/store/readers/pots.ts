import type { Scope } from '../../domain/access.js';
import type { PotReader } from '../../domain/ports/store.js';
import type {
  DayRollup,
  EventCorrection,
  EventKind,
  Finding,
  Forecast,
  HourRollup,
  Knowledge,
  LedgerDay,
  LedgerPosting,
  PotEvent,
  PotStatus,
  Quantiles,
} from '../../domain/pot.js';
import { POT_STATUS_COLUMNS } from '../columns.js';
import { forecastJson, messageJson, messagesJson, numbersJson, parseJson } from '../json.js';
import { type Sql, selectList } from '../sql.js';
import { EVENT_COLUMNS, LEDGER_VALUES, ROLLUP_VALUES } from '../writes/derived.js';
import { FINDING_COLUMNS, FORECAST_COLUMNS } from '../writes/pots.js';
import { horizonOf } from '../writes/retention.js';
import { accountOf, IN_SCOPE, type ReadContext } from './context.js';
import { ledgerSums } from './ledger-sums.js';

const STATUS = selectList(['container_id', ...POT_STATUS_COLUMNS], 'x');
const EVENT = selectList(EVENT_COLUMNS, 'x');
const FINDING = selectList(FINDING_COLUMNS, 'x');
const FORECAST = selectList(FORECAST_COLUMNS, 'x');
const HOUR = selectList(['container_id', 'hour_ms', ...ROLLUP_VALUES], 'x');
const DAY = selectList(['container_id', 'day', ...ROLLUP_VALUES], 'x');
const LEDGER = selectList(['container_id', 'day', ...LEDGER_VALUES], 'x');
/** Joins what belongs to a container to its account. */
const OF_ACCOUNT = 'JOIN container c ON c.id = x.container_id JOIN site s ON s.id = c.site_id';

type StatusRow = Omit<PotStatus, 'forecast'> & { readonly forecastJson: string };
type EventRow = Omit<PotEvent, 'atLeast'> & { readonly atLeast: number };
type CorrectionRow = Omit<EventCorrection, 'before'> & {
  readonly beforeKind: EventKind | null;
  readonly beforeLitres: number | null;
  readonly beforeStartMs: number | null;
};
type FindingRow = Omit<Finding, 'evidence' | 'toConfirm'> & {
  readonly evidenceJson: string;
  readonly toConfirmJson: string | null;
};

function toCorrection({ beforeKind, beforeLitres, beforeStartMs, ...row }: CorrectionRow): EventCorrection {
  const stood = beforeKind !== null && beforeLitres !== null && beforeStartMs !== null;
  return { ...row, before: stood ? { kind: beforeKind, litres: beforeLitres, startMs: beforeStartMs } : null };
}

function toStatus({ forecastJson: text, ...row }: StatusRow): PotStatus {
  const place = { table: 'pot_status', column: 'forecast_json', key: row.containerId };
  return { ...row, forecast: parseJson(forecastJson, text, place) };
}

function toFinding({ evidenceJson, toConfirmJson, ...row }: FindingRow): Finding {
  const place = { table: 'finding', key: row.id };
  return {
    ...row,
    evidence: parseJson(messagesJson, evidenceJson, { ...place, column: 'evidence_json' }),
    toConfirm:
      toConfirmJson === null ? null : parseJson(messageJson, toConfirmJson, { ...place, column: 'to_confirm_json' }),
  };
}

interface ForecastRow {
  readonly containerId: string;
  readonly originMs: number;
  readonly knowledge: Knowledge;
  readonly levelMm: number | null;
  readonly litres: number | null;
  readonly rateLitresPerDay: number | null;
  readonly rateSdLitresPerDay: number | null;
  readonly hasDry: number;
  readonly dryP10Ms: number | null;
  readonly dryP50Ms: number | null;
  readonly dryP90Ms: number | null;
  readonly hasStress: number;
  readonly stressP10Ms: number | null;
  readonly stressP50Ms: number | null;
  readonly stressP90Ms: number | null;
  readonly dataDays: number;
  readonly basisJson: string;
}

function toForecast(row: ForecastRow): Forecast {
  const dry: Quantiles = { p10Ms: row.dryP10Ms, p50Ms: row.dryP50Ms, p90Ms: row.dryP90Ms };
  const stress: Quantiles = { p10Ms: row.stressP10Ms, p50Ms: row.stressP50Ms, p90Ms: row.stressP90Ms };
  return {
    containerId: row.containerId,
    originMs: row.originMs,
    knowledge: row.knowledge,
    levelMm: row.levelMm,
    litres: row.litres,
    rateLitresPerDay: row.rateLitresPerDay,
    rateSdLitresPerDay: row.rateSdLitresPerDay,
    dry: row.hasDry === 1 ? dry : null,
    stress: row.hasStress === 1 ? stress : null,
    dataDays: row.dataDays,
    basis: parseJson(messagesJson, row.basisJson, {
      table: 'forecast',
      column: 'basis_json',
      key: `${row.containerId} ${row.originMs}`,
    }),
  };
}

export function potReader({ read }: ReadContext): PotReader {
  return {
    statuses: (scope) =>
      read((sql) =>
        sql
          .all<StatusRow>(
            `SELECT ${STATUS} FROM pot_status x ${OF_ACCOUNT} WHERE ${IN_SCOPE} ORDER BY x.container_id`,
            { account: accountOf(scope) },
          )
          .map(toStatus),
      ),
    status: (scope, id) =>
      read((sql) => {
        const row = sql.get<StatusRow>(
          `SELECT ${STATUS} FROM pot_status x ${OF_ACCOUNT} WHERE x.container_id = @id AND ${IN_SCOPE}`,
          { account: accountOf(scope), id },
        );
        return row === undefined ? null : toStatus(row);
      }),
    events: (scope, id, fromMs, toMs) =>
      read((sql) =>
        sql
          .all<EventRow>(
            `SELECT ${EVENT} FROM pot_event x ${OF_ACCOUNT}
             WHERE x.container_id = @id AND x.start_ms >= @fromMs AND x.start_ms < @toMs AND x.superseded_ms IS NULL
               AND ${IN_SCOPE} ORDER BY x.start_ms, x.id`,
            { account: accountOf(scope), id, fromMs, toMs },
          )
          .map((row) => ({ ...row, atLeast: row.atLeast === 1 })),
      ),
    eventCorrections: (id) =>
      read((sql) =>
        sql
          .all<CorrectionRow>(
            `SELECT event_id AS "eventId", container_id AS "containerId", corrected_kind AS "correctedKind", litres,
               start_ms AS "startMs", before_kind AS "beforeKind", before_litres AS "beforeLitres",
               before_start_ms AS "beforeStartMs", at_ms AS "atMs", actor_id AS "actorId"
             FROM event_correction WHERE container_id = ? ORDER BY seq`,
            id,
          )
          .map(toCorrection),
      ),
    findings: (scope, filter) => read((sql) => findings(sql, scope, filter)),
    forecasts: (scope, id, fromMs, toMs) =>
      read((sql) =>
        sql
          .all<ForecastRow>(
            `SELECT ${FORECAST} FROM forecast x ${OF_ACCOUNT}
             WHERE x.container_id = @id AND x.origin_ms >= @fromMs AND x.origin_ms < @toMs AND ${IN_SCOPE}
             ORDER BY x.origin_ms`,
            { account: accountOf(scope), id, fromMs, toMs },
          )
          .map(toForecast),
      ),
    hourRollups: (scope, id, fromMs, toMs) =>
      read((sql) =>
        sql.all<HourRollup>(
          `SELECT ${HOUR} FROM hour_rollup x ${OF_ACCOUNT}
           WHERE x.container_id = @id AND x.hour_ms >= @fromMs AND x.hour_ms < @toMs AND ${IN_SCOPE} ORDER BY x.hour_ms`,
          { account: accountOf(scope), id, fromMs, toMs },
        ),
      ),
    dayRollups: (scope, id, fromDay, toDay) =>
      read((sql) =>
        sql.all<DayRollup>(
          `SELECT ${DAY} FROM day_rollup x ${OF_ACCOUNT}
           WHERE x.container_id = @id AND x.day BETWEEN @fromDay AND @toDay AND ${IN_SCOPE} ORDER BY x.day`,
          { account: accountOf(scope), id, fromDay, toDay },
        ),
      ),
    ledgerDays: (scope, { containerId, fromDay, toDay }) =>
      read((sql) =>
        // CROSS JOIN keeps the order: one range of days for each container, not all days of all years.
        sql.all<LedgerDay>(
          `SELECT ${LEDGER} FROM container c JOIN site s ON s.id = c.site_id
             CROSS JOIN ledger_day x ON x.container_id = c.id
           WHERE ${containerId === null ? 'TRUE' : 'c.id = @id'} AND x.day BETWEEN @fromDay AND @toDay
             AND ${IN_SCOPE} ORDER BY c.id, x.day`,
          { account: accountOf(scope), id: containerId, fromDay, toDay },
        ),
      ),
    ledgerPostings: (scope, id, day) =>
      read((sql) =>
        sql.all<LedgerPosting>(
          `SELECT ${LEDGER}, x.posted_ms AS "postedMs", x.superseded_ms AS "supersededMs"
           FROM (
             SELECT container_id, day, ${LEDGER_VALUES.join(', ')}, posted_ms, NULL AS superseded_ms FROM ledger_day
             UNION ALL SELECT container_id, day, ${LEDGER_VALUES.join(', ')}, posted_ms, superseded_ms
             FROM ledger_day_history
           ) x ${OF_ACCOUNT}
           WHERE x.container_id = @id AND x.day = @day AND ${IN_SCOPE}
           ORDER BY x.superseded_ms IS NOT NULL, x.superseded_ms DESC, x.posted_ms DESC`,
          { account: accountOf(scope), id, day },
        ),
      ),
    ledgerSums: (scope, query) => read((sql) => ledgerSums(sql, accountOf(scope), query)),
    checkpoint: (id, atMs) =>
      read(
        (sql) =>
          sql.get<{ atMs: number; stateJson: string }>(
            `SELECT at_ms AS "atMs", state_json AS "stateJson" FROM checkpoint
             WHERE container_id = ? AND at_ms <= ? ORDER BY at_ms DESC LIMIT 1`,
            id,
            Math.max(atMs, horizonOf(sql, id) ?? atMs),
          ) ?? null,
      ),
    calibration: () => read(calibration),
  };
}

function findings(
  sql: Sql,
  scope: Scope,
  filter: { readonly containerId: string | null; readonly openOnly: boolean; readonly fromMs: number | null },
): Finding[] {
  const ofContainer = filter.containerId === null ? 'TRUE' : 'x.container_id = @id';
  const open = filter.openOnly ? 'x.closed_ms IS NULL' : '(x.closed_ms IS NULL OR x.closed_ms >= @fromMs)';
  return sql
    .all<FindingRow>(
      `SELECT ${FINDING} FROM finding x ${OF_ACCOUNT}
       WHERE ${ofContainer} AND ${open} AND ${IN_SCOPE}
       ORDER BY x.opened_ms, x.id`,
      { account: accountOf(scope), id: filter.containerId, fromMs: filter.fromMs ?? Number.MIN_SAFE_INTEGER },
    )
    .map(toFinding);
}

function calibration(sql: Sql) {
  const row = sql.get<{ frozenMs: number; leadDaysJson: string; spreadFactorsJson: string }>(
    `SELECT frozen_ms AS "frozenMs", lead_days_json AS "leadDaysJson", spread_factors_json AS "spreadFactorsJson"
     FROM calibration ORDER BY frozen_ms DESC LIMIT 1`,
  );
  if (row === undefined) return null;
  const place = { table: 'calibration', key: String(row.frozenMs) };
  return {
    frozenMs: row.frozenMs,
    leadDays: parseJson(numbersJson, row.leadDaysJson, { ...place, column: 'lead_days_json' }),
    spreadFactors: parseJson(numbersJson, row.spreadFactorsJson, { ...place, column: 'spread_factors_json' }),
  };
}
