import { ADDRESS_COLUMNS, OUTBOX_COLUMNS } from '../columns.js';
import { toSql, upsertText } from '../sql.js';
import type { Applier } from './context.js';

const ADDRESS = upsertText('address', ['id'], ADDRESS_COLUMNS);
const CONTACT_RULES = upsertText('contact_rules', ['person_id'], ['rules_json']);
const CALENDAR_FEED = upsertText('calendar_feed', ['token_hash'], ['person_id', 'created_ms', 'revoked_ms']);
const OUTBOX = upsertText('outbox', ['id'], OUTBOX_COLUMNS);

export const address: Applier<'address'> = ({ sql, lines }, { kind, row }) => {
  const { id, personId, channel, target, secret, createdMs, endedMs } = row;
  if (sql.run(ADDRESS, id, personId, channel, target, secret, createdMs, endedMs) > 0) lines.add(kind, id);
};

export const contactRules: Applier<'contact_rules'> = ({ sql, lines }, { kind, row }) => {
  if (sql.run(CONTACT_RULES, row.personId, JSON.stringify(row)) > 0) lines.add(kind, row.personId);
};

export const calendarFeed: Applier<'calendar_feed'> = ({ sql, lines }, { kind, row }) => {
  // The key of the line is the person: a hash of the token has no business in the audit trail.
  if (sql.run(CALENDAR_FEED, row.tokenHash, row.personId, row.createdMs, row.revokedMs) > 0) {
    lines.add(kind, row.personId);
  }
};

export const outbox: Applier<'outbox'> = ({ sql, lines }, { kind, row }) => {
  const changed = sql.run(
    OUTBOX,
    row.id,
    row.addressId,
    row.channel,
    row.topic,
    JSON.stringify(row.subject),
    JSON.stringify(row.body),
    toSql(row.withdrawal),
    toSql(row.urgent),
    row.createdMs,
    row.notBeforeMs,
    row.expiresMs,
    row.attempts,
    row.state,
    row.lastError,
  );
  if (changed > 0) lines.add(kind, row.id);
};
