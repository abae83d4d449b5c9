import { DomainError } from '../../domain/errors.js';
import type { EpochMs } from '../../domain/ids.js';
import { nearestName } from '../../domain/nearest-name.js';
import type { QuarantinedRecord, RefusalCode } from '../../domain/reading.js';
import { shown } from '../../domain/senml/shown.js';
import { type CsvLine, csvLines, splitCells } from './import-csv-lines.js';
import { quarantineId } from './record-readings.js';

export interface RowRefusal {
  readonly refusal: RefusalCode;
  /** The column, the value found, what was expected. */
  readonly detail: string;
}

export type RowResult<Row> = { readonly kind: 'row'; readonly row: Row } | ({ readonly kind: 'refused' } & RowRefusal);

/** How one kind of file is read. */
export interface CsvFormat<Row> {
  readonly contentType: string;
  readonly required: readonly string[];
  readonly optional: readonly string[];
  /** At least one of these must be there as well. */
  readonly anyOf: readonly string[];
  parse(row: CsvRow): RowResult<Row>;
}

/** The cells of one row by column name. */
export class CsvRow {
  readonly #columns: ReadonlyMap<string, number>;
  readonly #cells: readonly string[];

  constructor(columns: ReadonlyMap<string, number>, cells: readonly string[]) {
    this.#columns = columns;
    this.#cells = cells;
  }

  /** Empty where the file lacks the column or the cell. */
  cell(column: string): string {
    const index = this.#columns.get(column);
    return index === undefined ? '' : (this.#cells[index] ?? '');
  }
}

export interface RefusedRow extends RowRefusal {
  readonly line: number;
  /** Header and row as they came, Latin-1 for the bytes. */
  readonly raw: string;
  /** What stands in the column `node`, to find the row again in quarantine; may be anything. */
  readonly node: string;
}

export interface CsvBatch<Row> {
  readonly rows: readonly { readonly line: number; readonly row: Row }[];
  readonly refused: readonly RefusedRow[];
}

/**
 * Reads a CSV file by stream, in batches of what one chunk held. Columns are found by name, in any order; blank lines
 * are skipped; a row that cannot be read is refused by its line number, and the next ones are read on.
 *
 * @param name what the file is called in messages
 * @throws DomainError `file_unreadable` where the header lacks a column
 */
export async function* readCsv<Row>(
  input: AsyncIterable<Uint8Array>,
  name: string,
  format: CsvFormat<Row>,
): AsyncGenerator<CsvBatch<Row>> {
  let header: { readonly text: string; readonly columns: ReadonlyMap<string, number>; readonly width: number } | null =
    null;
  for await (const lines of csvLines(input)) {
    const rows: { line: number; row: Row }[] = [];
    const refused: RefusedRow[] = [];
    for (const line of lines) {
      if (line.text.trim() === '' && line.cutFromCharacters === null) continue;
      if (header === null) {
        header = readHeader(line, name, format);
        continue;
      }
      const cells = splitCells(line.text);
      const row = new CsvRow(header.columns, cells);
      const result = shapeRefusal(line, cells, header.width) ?? format.parse(row);
      if (result.kind === 'row') rows.push({ line: line.line, row: result.row });
      else {
        const { refusal, detail } = result;
        refused.push({ line: line.line, refusal, detail, raw: `${header.text}\n${line.text}`, node: row.cell('node') });
      }
    }
    if (rows.length > 0 || refused.length > 0) yield { rows, refused };
  }
  if (header === null) throw new DomainError('file_unreadable', `${name} is empty; a header line was expected.`);
}

function shapeRefusal(
  line: CsvLine,
  cells: readonly string[],
  width: number,
): ({ readonly kind: 'refused' } & RowRefusal) | null {
  if (line.cutFromCharacters !== null) {
    return refuseRow('bad_row', `The line is ${line.cutFromCharacters} characters long; only its beginning was kept.`);
  }
  if (cells.length === width) return null;
  return refuseRow('bad_row', `The row has ${cells.length} cells where the header has ${width}.`);
}

export function refuseRow(refusal: RefusalCode, detail: string): { kind: 'refused' } & RowRefusal {
  return { kind: 'refused', refusal, detail };
}

const UTF8_MARK = '\u00ef\u00bb\u00bf';

function readHeader<Row>(
  line: CsvLine,
  name: string,
  format: CsvFormat<Row>,
): { readonly text: string; readonly columns: ReadonlyMap<string, number>; readonly width: number } {
  const text = line.text.startsWith(UTF8_MARK) ? line.text.slice(UTF8_MARK.length) : line.text;
  if (text.includes('\u0000')) {
    throw new DomainError('file_unreadable', `${name} is not UTF-8 text (UTF-16, perhaps); save it as CSV in UTF-8.`);
  }
  const cells = splitCells(text).map((cell) => cell.toLowerCase());
  const known = [...format.required, ...format.anyOf, ...format.optional];
  const columns = new Map<string, number>();
  for (const [index, cell] of cells.entries()) {
    if (!known.includes(cell)) continue;
    if (columns.has(cell)) throw new DomainError('file_unreadable', `${name} has the column "${cell}" twice.`);
    columns.set(cell, index);
  }
  const missing = format.required.filter((column) => !columns.has(column));
  if (missing.length > 0) {
    throw new DomainError('file_unreadable', `${name}, line ${line.line}: ${missingColumns(missing, cells)}`);
  }
  if (!format.anyOf.some((column) => columns.has(column))) {
    throw new DomainError(
      'file_unreadable',
      `${name}, line ${line.line}: none of the columns ${format.anyOf.join(', ')} is there.`,
    );
  }
  return { text, columns, width: cells.length };
}

function missingColumns(missing: readonly string[], cells: readonly string[]): string {
  const found = `found ${cells.map((cell) => shown(cell)).join(', ')}`;
  const hints = missing.flatMap((column) => {
    const near = nearestName(column, cells);
    return near === null ? [] : [`${shown(near)} may be meant for "${column}"`];
  });
  const semicolons = cells.length === 1 && (cells[0] ?? '').includes(';') ? ['cells are separated by commas'] : [];
  const columns = missing.map((column) => `"${column}"`).join(', ');
  return `the header lacks ${columns}; ${[found, ...hints, ...semicolons].join('; ')}.`;
}

const NUMBER_PATTERN = /^[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?$/;

/** A decimal number; null for an empty cell. A refusal where the cell holds anything else. */
export function parseNumber(column: string, cell: string): number | null | RowRefusal {
  if (cell === '') return null;
  const value = NUMBER_PATTERN.test(cell) ? Number(cell) : Number.NaN;
  if (Number.isFinite(value)) return value;
  return {
    refusal: 'bad_row',
    detail: `${column} is ${shown(cell)}; a number with a decimal point was expected, or an empty cell.`,
  };
}

const TIME_PATTERN = /^(\d{4})-(\d\d)-(\d\d)T(\d\d):(\d\d)(?::(\d\d)(?:\.(\d{1,9}))?)?Z$/;

/** An instant as ISO 8601 in UTC. A refusal where the cell holds anything else, an impossible date for instance. */
export function parseInstant(column: string, cell: string): EpochMs | RowRefusal {
  const match = TIME_PATTERN.exec(cell);
  if (match !== null) {
    const [, year, month, day, hour, minute, second, fraction] = match;
    const ms = Date.UTC(
      Number(year),
      Number(month) - 1,
      Number(day),
      Number(hour),
      Number(minute),
      Number(second ?? 0),
    );
    const date = new Date(ms);
    // Date.UTC rolls 30 February over into March.
    const sameDay = date.getUTCDate() === Number(day) && date.getUTCMonth() === Number(month) - 1;
    if (sameDay && Number(hour) < 24 && Number(minute) < 60 && Number(second ?? 0) < 60) {
      return ms + (fraction === undefined ? 0 : Math.round(Number(`0.${fraction}`) * 1000));
    }
  }
  return {
    refusal: 'bad_row',
    detail: `${column} is ${shown(cell)}; an instant in UTC such as 2026-06-01T10:00:00Z was expected.`,
  };
}

/** A refused row as quarantine keeps it: its bytes are header and row, so that they can be read again by themselves. */
export function quarantineOfRow(
  row: RefusedRow,
  fileName: string,
  contentType: string,
  nodeId: string | null,
  receivedMs: EpochMs,
): QuarantinedRecord {
  const source = `file:${fileName}:${row.line}`;
  const raw = Buffer.from(row.raw, 'latin1');
  return {
    id: quarantineId(source, raw, null, null),
    receivedMs,
    source,
    nodeId,
    refusal: row.refusal,
    detail: row.detail,
    raw,
    contentType,
    recordIndex: null,
    resolvedMs: null,
  };
}
