import type { AccessReader } from '../../domain/ports/store.js';
import type { AccessLook } from '../../domain/site-access.js';
import { decodeCursor, pageOf, rowsToRead } from '../paging.js';
import { readSiteAccess } from '../sealed-rows.js';
import type { ReadContext } from './context.js';

export function accessReader({ read, vault }: ReadContext): AccessReader {
  return {
    siteAccess: (siteId) => read((sql) => readSiteAccess(sql, vault, siteId)),
    lastLookMs: (personId, siteId) =>
      read(
        (sql) =>
          sql.get<{ atMs: number | null }>(
            'SELECT max(at_ms) AS "atMs" FROM access_look WHERE person_id = ? AND site_id = ?',
            personId,
            siteId,
          )?.atMs ?? null,
      ),
    looks: (page) =>
      read((sql) => {
        const before = decodeCursor(page, ['number']);
        const rows = sql.all<AccessLook & { readonly seq: number }>(
          `SELECT seq, at_ms AS "atMs", person_id AS "personId", site_id AS "siteId", stop_id AS "stopId"
           FROM access_look WHERE seq < ? ORDER BY seq DESC LIMIT ?`,
          before?.[0] ?? Number.MAX_SAFE_INTEGER,
          rowsToRead(page),
        );
        const { rows: shown, nextCursor } = pageOf(rows, page, (row) => [row.seq]);
        return { rows: shown.map(({ seq: _seq, ...look }) => look), nextCursor };
      }),
  };
}
