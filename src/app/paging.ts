import { DomainError } from '../domain/errors.js';
import type { Page, PageRequest } from '../domain/ports/store.js';

/**
 * One page of rows that are few enough to be loaded whole, in the order of their ids.
 * @throws DomainError `invalid_input` for a cursor that no page gave out
 */
export function pageById<Row extends { readonly id: string }>(rows: readonly Row[], page: PageRequest): Page<Row> {
  const after = page.cursor === null ? null : decode(page.cursor);
  const sorted = [...rows].sort((a, b) => (a.id < b.id ? -1 : a.id > b.id ? 1 : 0));
  const rest = after === null ? sorted : sorted.filter((row) => row.id > after);
  const shown = rest.slice(0, page.limit);
  const last = shown.at(-1);
  return { rows: shown, nextCursor: rest.length > shown.length && last !== undefined ? encode(last.id) : null };
}

const PREFIX = 'after:';

function encode(id: string): string {
  return Buffer.from(`${PREFIX}${id}`, 'utf8').toString('base64url');
}

function decode(cursor: string): string {
  const text = Buffer.from(cursor, 'base64url').toString('utf8');
  if (!text.startsWith(PREFIX)) {
    throw new DomainError('invalid_input', 'The page cursor is none of this list. Start again without a cursor.', {
      faults: [{ pointer: '?cursor', detail: 'take it from nextCursor of the page before' }],
    });
  }
  return text.slice(PREFIX.length);
}
