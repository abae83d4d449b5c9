import { CREDENTIAL_COLUMNS, PERSON_COLUMNS } from '../columns.js';
import { upsertText } from '../sql.js';
import type { Applier } from './context.js';

const PERSON = upsertText('person', ['id'], PERSON_COLUMNS);
const PERSON_SECRET = upsertText('person_secret', ['person_id'], ['password_hash']);
const SESSION = upsertText('session', ['token_hash'], ['person_id', 'created_ms', 'expires_ms']);
const CREDENTIAL = upsertText('credential', ['principal_id'], CREDENTIAL_COLUMNS);

export const person: Applier<'person'> = ({ sql, lines }, { kind, row }) => {
  const changed = sql.run(
    PERSON,
    row.id,
    row.name,
    row.login,
    row.role,
    row.accountId,
    row.language,
    row.units.volume,
    row.units.length,
    row.units.temperature,
    row.disabledAtMs,
  );
  if (changed > 0) lines.add(kind, row.id);
};

export const personSecret: Applier<'person_secret'> = ({ sql, lines }, { kind, row }) => {
  if (sql.run(PERSON_SECRET, row.personId, row.passwordHash) > 0) lines.add(kind, row.personId);
};

/** Sessions that had ended before this one began go. The log names the person, never the token. */
export const session: Applier<'session'> = ({ sql, lines }, { kind, row }) => {
  sql.run('DELETE FROM session WHERE expires_ms < ?', row.createdMs);
  if (sql.run(SESSION, row.tokenHash, row.personId, row.createdMs, row.expiresMs) > 0) lines.add(kind, row.personId);
};

export const sessionEnded: Applier<'session_ended'> = ({ sql, lines }, { kind, tokenHash }) => {
  const ended = sql.get<{ personId: string }>(
    'DELETE FROM session WHERE token_hash = ? RETURNING person_id AS "personId"',
    tokenHash,
  );
  if (ended !== undefined) lines.add(kind, ended.personId);
};

export const sessionsEnded: Applier<'sessions_ended'> = ({ sql, lines }, { kind, personId }) => {
  if (sql.run('DELETE FROM session WHERE person_id = ?', personId) > 0) lines.add(kind, personId);
};

export const credential: Applier<'credential'> = ({ sql, lines }, { kind, row }) => {
  const changed = sql.run(
    CREDENTIAL,
    row.principalId,
    row.kind,
    row.siteId,
    row.secretHash,
    row.createdMs,
    row.revokedMs,
    row.previousHash,
    row.previousUntilMs,
  );
  if (changed > 0) lines.add(kind, row.principalId, { siteId: row.siteId });
};
