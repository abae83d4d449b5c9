import type { DerivedRecords } from '../../domain/analysis.js';
import { addDays, HOUR_MS, type LocalDays } from '../../domain/local-day.js';

/**
 * What two runs of the fold derived, as if it had been one: the second replaces what begins at or after its `fromMs`,
 * and revises single rows before it. Written at once, days that come out as they were are not withdrawn in between.
 */
export function mergeDerived(first: DerivedRecords, second: DerivedRecords, days: LocalDays): DerivedRecords {
  const { fromMs } = second;
  const firstHourMs = Math.ceil(fromMs / HOUR_MS) * HOUR_MS;
  const firstDay = days.startOfDayMs(fromMs) === fromMs ? days.dayOf(fromMs) : addDays(days.dayOf(fromMs), 1);
  return {
    fromMs: Math.min(first.fromMs, fromMs),
    events: merge(
      first.events.filter((event) => event.startMs < fromMs && !second.withdrawnEvents.includes(event.id)),
      second.events,
      (event) => event.id,
    ),
    withdrawnEvents: [
      ...first.withdrawnEvents.filter((id) => !second.events.some((event) => event.id === id)),
      ...second.withdrawnEvents.filter((id) => !first.withdrawnEvents.includes(id)),
    ],
    ledgerDays: merge(
      first.ledgerDays.filter((row) => row.day < firstDay),
      second.ledgerDays,
      (row) => row.day,
    ),
    hourRollups: merge(
      first.hourRollups.filter((row) => row.hourMs < firstHourMs),
      second.hourRollups,
      (row) => row.hourMs,
    ),
    dayRollups: merge(
      first.dayRollups.filter((row) => row.day < firstDay),
      second.dayRollups,
      (row) => row.day,
    ),
  };
}

function merge<Row>(kept: readonly Row[], added: readonly Row[], keyOf: (row: Row) => string | number): readonly Row[] {
  if (added.length === 0) return kept;
  const rows = new Map(kept.map((row) => [keyOf(row), row]));
  for (const row of added) rows.set(keyOf(row), row);
  return [...rows.values()];
}
