import { createReadStream } from 'node:fs';

export type Row = (column: string) => string;

/**
 * Calls `take` for each row of a CSV file without quotes, with its cells found by column name. A column that is absent
 * reads as empty. Streams, so that files larger than memory pass.
 */
export async function readCsv(path: string, take: (row: Row) => void): Promise<void> {
  let columns: Map<string, number> | null = null;
  let rest = '';
  let cells: string[] = [];
  const row: Row = (column) => {
    const at = columns!.get(column);
    return at === undefined ? '' : (cells[at] ?? '');
  };
  const line = (text: string): void => {
    if (text === '') return;
    cells = text.split(',');
    if (columns === null) columns = new Map(cells.map((name, index) => [name.trim(), index]));
    else take(row);
  };
  for await (const chunk of createReadStream(path, { encoding: 'utf8', highWaterMark: 1 << 20 })) {
    const lines = (rest + (chunk as string)).split('\n');
    rest = lines.pop()!;
    for (const text of lines) line(text.endsWith('\r') ? text.slice(0, -1) : text);
  }
  line(rest);
}

/** ISO time to epoch milliseconds; null for an empty cell. @throws RangeError for what is not a time */
export function timeOf(cell: string): number | null {
  if (cell === '') return null;
  const ms = Date.parse(cell);
  if (Number.isNaN(ms)) throw new RangeError(`"${cell}" is not an ISO 8601 time`);
  return ms;
}

export function numberOf(cell: string): number | null {
  if (cell === '') return null;
  const value = Number(cell);
  return Number.isFinite(value) ? value : null;
}
