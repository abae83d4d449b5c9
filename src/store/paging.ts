import { DomainError } from '../domain/errors.js';
import type { Page, PageRequest } from '../domain/ports/store.js';

type CursorPart = string | number;

const MAX_ROWS = 1000;

/** How many rows to read: one more than asked for shows whether there is a next page. */
export function rowsToRead(request: PageRequest): number {
  if (!Number.isInteger(request.limit) || request.limit < 1 || request.limit > MAX_ROWS) {
    throw new DomainError('invalid_input', `A page holds 1 to ${MAX_ROWS} rows; ${request.limit} were asked for.`);
  }
  return request.limit + 1;
}

/**
 * The sort key after which the page begins; null for the first page.
 * @throws DomainError `invalid_input` for a cursor that no page of this list gave out
 */
export function decodeCursor(request: PageRequest, parts: readonly ('string' | 'number')[]): CursorPart[] | null {
  if (request.cursor === null) return null;
  try {
    const value: unknown = JSON.parse(Buffer.from(request.cursor, 'base64url').toString('utf8'));
    if (Array.isArray(value) && value.length === parts.length && value.every((part, i) => typeof part === parts[i])) {
      return value as CursorPart[];
    }
  } catch (cause) {
    throw notACursor(cause);
  }
  throw notACursor(undefined);
}

function notACursor(cause: unknown): DomainError {
  return new DomainError('invalid_input', 'The page cursor is none of this list. Start again without a cursor.', {
    cause,
    faults: [{ pointer: 'cursor', detail: 'take it from nextCursor of the page before' }],
  });
}

/** Cuts the rows that were read to the page that was asked for. */
export function pageOf<Row>(rows: readonly Row[], request: PageRequest, keyOf: (row: Row) => CursorPart[]): Page<Row> {
  const shown = rows.slice(0, request.limit);
  const last = shown.at(-1);
  if (rows.length <= request.limit || last === undefined) return { rows: shown, nextCursor: null };
  return { rows: shown, nextCursor: Buffer.from(JSON.stringify(keyOf(last)), 'utf8').toString('base64url') };
}
