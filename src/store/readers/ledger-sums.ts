import type { LedgerSum, LedgerSumQuery } from '../../domain/ports/store.js';
import type { Sql } from '../sql.js';
import { IN_SCOPE } from './context.js';

const GROUPS: Readonly<Record<LedgerSumQuery['by'], string>> = {
  account: 's.account_id',
  site: 's.id',
  container: 'c.id',
};

type SumRow = Omit<LedgerSum, 'sdLitres'> & { readonly varianceLitres2: number };

/**
 * Sums ledger days. First each container's days of a period are summed and its first and last day found; then the
 * containers of a group are added up. Days are taken as independent, so their variances add.
 */
export function ledgerSums(sql: Sql, accountId: string | null, query: LedgerSumQuery): LedgerSum[] {
  const month = query.byMonth ? 'substr(x.day, 1, 7)' : 'NULL';
  return sql
    .all<SumRow>(
      `WITH pot AS (
         SELECT ${GROUPS[query.by]} AS id, x.container_id, ${month} AS month,
           min(x.day) AS first_day, max(x.day) AS last_day, count(*) AS days,
           sum(x.refill_crew_litres) AS refill_crew, sum(x.refill_other_litres) AS refill_other,
           sum(x.rain_litres) AS rain, sum(x.uptake_litres) AS uptake, sum(x.leak_litres) AS leak,
           sum(x.overflow_litres) AS overflow, sum(x.drained_litres) AS drained,
           sum(x.unexplained_litres) AS unexplained, sum(x.sd_litres * x.sd_litres) AS variance
         FROM site s JOIN container c ON c.site_id = s.id CROSS JOIN ledger_day x ON x.container_id = c.id
         WHERE ${IN_SCOPE} AND x.day BETWEEN @fromDay AND @toDay
         GROUP BY x.container_id, month
       )
       SELECT pot.id, pot.month, count(DISTINCT pot.container_id) AS containers, sum(pot.days) AS "containerDays",
         sum(opening.opening_litres) AS "openingLitres", sum(pot.refill_crew) AS "refillCrewLitres",
         sum(pot.refill_other) AS "refillOtherLitres", sum(pot.rain) AS "rainLitres", sum(pot.uptake) AS "uptakeLitres",
         sum(pot.leak) AS "leakLitres", sum(pot.overflow) AS "overflowLitres", sum(pot.drained) AS "drainedLitres",
         sum(pot.unexplained) AS "unexplainedLitres", sum(closing.closing_litres) AS "closingLitres",
         sum(pot.variance) AS "varianceLitres2"
       FROM pot
       JOIN ledger_day opening ON opening.container_id = pot.container_id AND opening.day = pot.first_day
       JOIN ledger_day closing ON closing.container_id = pot.container_id AND closing.day = pot.last_day
       GROUP BY pot.id, pot.month ORDER BY pot.id, pot.month`,
      { account: accountId, fromDay: query.fromDay, toDay: query.toDay },
    )
    .map(({ varianceLitres2, ...row }) => ({ ...row, sdLitres: Math.sqrt(varianceLitres2) }));
}
