import { closeSync, openSync, writeSync } from 'node:fs';

const FLUSH_CHARS = 1 << 20;

/** Writes rows of a CSV file as they come. Cells are numbers, times or identifiers, so nothing needs quoting. */
export class CsvFile {
  readonly #fd: number;
  #buffer = '';
  rows = 0;

  constructor(path: string, columns: readonly string[]) {
    this.#fd = openSync(path, 'w');
    this.#buffer = `${columns.join(',')}\n`;
  }

  line(text: string): void {
    this.#buffer += `${text}\n`;
    this.rows++;
    if (this.#buffer.length > FLUSH_CHARS) this.#flush();
  }

  row(...cells: readonly (string | number | null)[]): void {
    this.line(cells.map((cell) => (cell === null ? '' : String(cell))).join(','));
  }

  #flush(): void {
    writeSync(this.#fd, this.#buffer);
    this.#buffer = '';
  }

  close(): void {
    this.#flush();
    closeSync(this.#fd);
  }
}

/** Rounded, without trailing zeros; empty for null. At most six digits, so that no exponent appears. */
export function num(value: number | null, digits: number): string {
  if (value === null) return '';
  const factor = 10 ** digits;
  return String(Math.round(value * factor) / factor);
}
