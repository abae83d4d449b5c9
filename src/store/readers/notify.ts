import type { Address, CalendarFeed, ContactRules, OutboxEntry } from '../../domain/notify.js';
import type { NotifyReader } from '../../domain/ports/store.js';
import { ADDRESS_COLUMNS, OUTBOX_COLUMNS } from '../columns.js';
import { contactRulesJson, messageJson, messagesJson, parseJson } from '../json.js';
import { decodeCursor, pageOf, rowsToRead } from '../paging.js';
import { selectList } from '../sql.js';
import type { ReadContext } from './context.js';

const ADDRESS = selectList(['id', ...ADDRESS_COLUMNS]);
const FEED = selectList(['token_hash', 'person_id', 'created_ms', 'revoked_ms']);
const ENTRY = selectList(['id', ...OUTBOX_COLUMNS]);

interface EntryRow extends Omit<OutboxEntry, 'subject' | 'body' | 'withdrawal' | 'urgent'> {
  readonly subjectJson: string;
  readonly bodyJson: string;
  readonly withdrawal: number;
  readonly urgent: number;
}

function toEntry({ subjectJson, bodyJson, withdrawal, urgent, ...rest }: EntryRow): OutboxEntry {
  const place = { table: 'outbox', key: rest.id };
  return {
    ...rest,
    subject: parseJson(messageJson, subjectJson, { ...place, column: 'subject_json' }),
    body: parseJson(messagesJson, bodyJson, { ...place, column: 'body_json' }),
    withdrawal: withdrawal === 1,
    urgent: urgent === 1,
  };
}

export function notifyReader({ read }: ReadContext): NotifyReader {
  return {
    addresses: (personId) =>
      read((sql) =>
        sql.all<Address>(
          `SELECT ${ADDRESS} FROM address WHERE person_id IS ? AND ended_ms IS NULL ORDER BY id`,
          personId,
        ),
      ),
    address: (id) => read((sql) => sql.get<Address>(`SELECT ${ADDRESS} FROM address WHERE id = ?`, id) ?? null),
    addressesOfTarget: (channel, target) =>
      read((sql) =>
        sql.all<Address>(
          `SELECT ${ADDRESS} FROM address WHERE channel = ? AND target = ? AND ended_ms IS NULL ORDER BY id`,
          channel,
          target,
        ),
      ),
    rules: (personId) =>
      read((sql) => {
        const row = sql.get<{ json: string }>(
          'SELECT rules_json AS "json" FROM contact_rules WHERE person_id = ?',
          personId,
        );
        if (row === undefined) return null;
        return parseJson<ContactRules>(contactRulesJson, row.json, {
          table: 'contact_rules',
          column: 'rules_json',
          key: personId,
        });
      }),
    due: (nowMs, limit, channel) =>
      read((sql) =>
        sql
          .all<EntryRow>(
            `SELECT ${ENTRY} FROM outbox WHERE state = 'waiting' AND not_before_ms <= @nowMs
             AND (@channel IS NULL OR channel = @channel)
             ORDER BY not_before_ms, id LIMIT @limit`,
            { nowMs, limit, channel },
          )
          .map(toEntry),
      ),
    outlived: (nowMs, limit) =>
      read((sql) =>
        sql
          .all<EntryRow>(
            `SELECT ${ENTRY} FROM outbox WHERE state = 'waiting' AND not_before_ms <= @nowMs AND expires_ms < @nowMs
             ORDER BY not_before_ms, id LIMIT @limit`,
            { nowMs, limit },
          )
          .map(toEntry),
      ),
    ofTopic: (topic) =>
      read((sql) =>
        sql.all<EntryRow>(`SELECT ${ENTRY} FROM outbox WHERE topic = ? ORDER BY created_ms, id`, topic).map(toEntry),
      ),
    entry: (id) =>
      read((sql) => {
        const row = sql.get<EntryRow>(`SELECT ${ENTRY} FROM outbox WHERE id = ?`, id);
        return row === undefined ? null : toEntry(row);
      }),
    calendarFeed: (tokenHash) =>
      read(
        (sql) =>
          sql.get<CalendarFeed>(
            `SELECT ${FEED} FROM calendar_feed WHERE token_hash = ? AND revoked_ms IS NULL`,
            tokenHash,
          ) ?? null,
      ),
    calendarFeedOf: (personId) =>
      read(
        (sql) =>
          sql.get<CalendarFeed>(
            `SELECT ${FEED} FROM calendar_feed WHERE person_id = ? AND revoked_ms IS NULL`,
            personId,
          ) ?? null,
      ),
    dead: (page) =>
      read((sql) => {
        const after = decodeCursor(page, ['number', 'string']);
        const rows = sql
          .all<EntryRow>(
            `SELECT ${ENTRY} FROM outbox WHERE state = 'dead' AND (created_ms, id) > (?, ?)
             ORDER BY created_ms, id LIMIT ?`,
            after?.[0] ?? -1,
            after?.[1] ?? '',
            rowsToRead(page),
          )
          .map(toEntry);
        return pageOf(rows, page, (row) => [row.createdMs, row.id]);
      }),
  };
}
