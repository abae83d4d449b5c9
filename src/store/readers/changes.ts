import { z } from 'zod';
import type { Actor, Change, Edit } from '../../domain/change-set.js';
import type { ChangeReader } from '../../domain/ports/store.js';
import { parseJson } from '../json.js';
import { decodeCursor, pageOf, rowsToRead } from '../paging.js';
import type { Sql } from '../sql.js';
import type { ReadContext } from './context.js';

const CHANGE = `seq, at_ms AS "atMs", kind, key, actor_kind AS "actorKind", actor_id AS "actorId",
  site_id AS "siteId", container_id AS "containerId", from_ms AS "fromMs", to_ms AS "toMs"`;

type ChangeRow = Omit<Change, 'actor'> & { readonly actorKind: Actor['kind']; readonly actorId: string };

const toChange = ({ actorKind, actorId, ...row }: ChangeRow): Change => ({
  ...row,
  actor: { kind: actorKind, id: actorId },
});

export function lastSeq(sql: Sql): number {
  return sql.get<{ seq: number }>('SELECT coalesce(max(seq), 0) AS seq FROM change')?.seq ?? 0;
}

export function stageSeq(sql: Sql, stage: string): number {
  return sql.get<{ seq: number }>('SELECT seq FROM cursor WHERE stage = ?', stage)?.seq ?? 0;
}

const EDIT = `seq, at_ms AS "atMs", actor_kind AS "actorKind", actor_id AS "actorId", kind, key,
  before_json AS "beforeJson", after_json AS "afterJson", erased_ms AS "erasedMs"`;

type EditRow = Omit<Edit, 'actor' | 'before' | 'after'> & {
  readonly actorKind: Actor['kind'];
  readonly actorId: string;
  readonly beforeJson: string | null;
  readonly afterJson: string | null;
};

const columnsJson = z.record(z.string(), z.unknown());

function toEdit({ actorKind, actorId, beforeJson, afterJson, ...row }: EditRow): Edit {
  const columnsOf = (column: string, text: string | null) =>
    text === null ? null : parseJson(columnsJson, text, { table: 'edit', key: String(row.seq), column });
  return {
    ...row,
    actor: { kind: actorKind, id: actorId },
    before: columnsOf('before_json', beforeJson),
    after: columnsOf('after_json', afterJson),
  };
}

/** Lines are written in the order of time, so that halving finds the place without an index of its own. */
function seqBefore(sql: Sql, atMs: number): number {
  let low = 0;
  let high = lastSeq(sql);
  while (low < high) {
    const middle = Math.ceil((low + high) / 2);
    const line = sql.get<{ seq: number; atMs: number }>(
      'SELECT seq, at_ms AS "atMs" FROM change WHERE seq <= ? ORDER BY seq DESC LIMIT 1',
      middle,
    );
    if (line === undefined || line.atMs < atMs) low = middle;
    else high = line.seq - 1;
  }
  return low;
}

export function changeReader({ read }: ReadContext): ChangeReader {
  return {
    lastSeq: () => read(lastSeq),
    after: (afterSeq, limit) =>
      read((sql) =>
        sql
          .all<ChangeRow>(`SELECT ${CHANGE} FROM change WHERE seq > ? ORDER BY seq LIMIT ?`, afterSeq, limit)
          .map(toChange),
      ),
    cursor: (stage) => read((sql) => stageSeq(sql, stage)),
    lastSeqBefore: (atMs) => read((sql) => seqBefore(sql, atMs)),
    seqAfter: (seq, lines) =>
      read(
        (sql) =>
          sql.get<{ seq: number }>(
            'SELECT seq FROM change WHERE seq > ? ORDER BY seq LIMIT 1 OFFSET ?',
            seq,
            Math.max(0, lines - 1),
          )?.seq ?? null,
      ),
    edits: (page, { key }) =>
      read((sql) => {
        const before = decodeCursor(page, ['number'])?.[0] ?? Number.MAX_SAFE_INTEGER;
        const limit = rowsToRead(page);
        const rows =
          key === null
            ? sql.all<EditRow>(`SELECT ${EDIT} FROM edit WHERE seq < ? ORDER BY seq DESC LIMIT ?`, before, limit)
            : sql.all<EditRow>(
                `SELECT ${EDIT} FROM edit WHERE key = ? AND seq < ? ORDER BY seq DESC LIMIT ?`,
                key,
                before,
                limit,
              );
        const { rows: shown, nextCursor } = pageOf(rows, page, (row) => [row.seq]);
        return { rows: shown.map(toEdit), nextCursor };
      }),
    audit: (page) =>
      read((sql) => {
        const before = decodeCursor(page, ['number']);
        const rows = sql.all<ChangeRow>(
          `SELECT ${CHANGE} FROM change
           WHERE actor_kind IN ('person', 'command') AND seq < ? ORDER BY seq DESC LIMIT ?`,
          before?.[0] ?? Number.MAX_SAFE_INTEGER,
          rowsToRead(page),
        );
        const { rows: shown, nextCursor } = pageOf(rows, page, (row) => [row.seq]);
        return { rows: shown.map(toChange), nextCursor };
      }),
  };
}
