import { type EpochMs, ID_PATTERN, type NodeId } from '../../domain/ids.js';
import type { Reading } from '../../domain/reading.js';
import { AHEAD_LIMIT_MS, timeRefusal } from '../../domain/senml/read-pack.js';
import { shown } from '../../domain/senml/shown.js';
import { roundTo } from '../../domain/senml/take.js';
import { BATTERY_LIMITS_V, LEVEL_LIMITS_MM, NODE_TEMPERATURE_LIMITS_C } from '../../domain/senml/units.js';
import {
  type CsvFormat,
  type CsvRow,
  parseInstant,
  parseNumber,
  type RowRefusal,
  type RowResult,
  refuseRow,
} from './import-csv-table.js';

export const READINGS_CSV = 'text/csv; table=readings';

interface Column {
  readonly name: string;
  readonly field: 'levelMm' | 'moistureFraction' | 'temperatureC' | 'batteryV';
  readonly least: number;
  readonly most: number;
  /** What the cell is divided by. */
  readonly divisor: number;
  readonly step: number;
}

const COLUMNS: readonly Column[] = [
  { name: 'level_mm', field: 'levelMm', ...LEVEL_LIMITS_MM, divisor: 1, step: 1e-3 },
  { name: 'moisture_pct', field: 'moistureFraction', least: 0, most: 100, divisor: 100, step: 1e-6 },
  { name: 'temperature_c', field: 'temperatureC', ...NODE_TEMPERATURE_LIMITS_C, divisor: 1, step: 1e-3 },
  { name: 'battery_v', field: 'batteryV', ...BATTERY_LIMITS_V, divisor: 1, step: 1e-4 },
];

/** What a row is checked against. */
export interface ReadingsCsvContext {
  /** Times later than this by more than 10 minutes are refused. */
  readonly nowMs: EpochMs;
  knowsNode(id: NodeId): boolean;
  /** Null where the node never had an assignment. */
  firstAssignmentMs(id: NodeId): EpochMs | null;
}

/**
 * `readings.csv`: `node,time,level_mm,moisture_pct,temperature_c,battery_v` and, where it is there, `received`.
 * Without it a reading counts as received at its own time, so that importing a history today or tomorrow is the same.
 */
export function readingsFormat(context: ReadingsCsvContext): CsvFormat<Reading> {
  return {
    contentType: READINGS_CSV,
    required: ['node', 'time'],
    anyOf: COLUMNS.map((column) => column.name),
    optional: ['received'],
    parse: (row) => parseReading(row, context),
  };
}

function parseReading(row: CsvRow, context: ReadingsCsvContext): RowResult<Reading> {
  const nodeId = row.cell('node');
  if (!ID_PATTERN.test(nodeId)) {
    return refuseRow('bad_row', `node is ${shown(nodeId)}; 1 to 64 letters, digits, dots, dashes or underscores.`);
  }
  const timeMs = parseInstant('time', row.cell('time'));
  if (typeof timeMs !== 'number') return { kind: 'refused', ...timeMs };
  const receivedCell = row.cell('received');
  const receivedMs = receivedCell === '' ? timeMs : parseInstant('received', receivedCell);
  if (typeof receivedMs !== 'number') return { kind: 'refused', ...receivedMs };

  const reading = {
    nodeId,
    timeMs,
    receivedMs,
    levelMm: null as number | null,
    moistureFraction: null as number | null,
    temperatureC: null as number | null,
    batteryV: null as number | null,
    batteryFraction: null,
    signalDbm: null,
  };
  let quantities = 0;
  for (const column of COLUMNS) {
    const value = parseQuantity(column, row.cell(column.name));
    if (value === null) continue;
    if (typeof value !== 'number') return { kind: 'refused', ...value };
    reading[column.field] = value;
    quantities += 1;
  }
  if (quantities === 0)
    return refuseRow('no_quantity', 'The row holds no quantity: all its cells but the key are empty.');
  const refusal = placeRefusal(nodeId, timeMs, receivedMs, context);
  return refusal === null ? { kind: 'row', row: reading } : { kind: 'refused', ...refusal };
}

function parseQuantity(column: Column, cell: string): number | null | RowRefusal {
  const value = parseNumber(column.name, cell);
  if (value === null || typeof value !== 'number') return value;
  if (value < column.least || value > column.most) {
    return {
      refusal: 'impossible_value',
      detail: `${column.name} is ${value}, outside ${column.least} to ${column.most}.`,
    };
  }
  return roundTo(value / column.divisor, column.step);
}

function placeRefusal(
  nodeId: NodeId,
  timeMs: EpochMs,
  receivedMs: EpochMs,
  context: ReadingsCsvContext,
): RowRefusal | null {
  if (!context.knowsNode(nodeId)) {
    return { refusal: 'unknown_node', detail: `Node ${nodeId} is not in the registry.` };
  }
  if (receivedMs > context.nowMs + AHEAD_LIMIT_MS) {
    return {
      refusal: 'too_far_ahead',
      detail: `The row would have been received at ${new Date(receivedMs).toISOString()}, which is still to come.`,
    };
  }
  return timeRefusal(timeMs, receivedMs, context.firstAssignmentMs(nodeId), 'The row');
}
