import { DomainError } from '../../domain/errors.js';
import { sealedSecondFactor } from '../sealed-rows.js';
import { upsertText } from '../sql.js';
import type { Applier } from './context.js';

const INVITATION = `INSERT INTO invitation (token_hash, person_id, purpose, created_ms, created_by, expires_ms, used_ms)
  VALUES (?, ?, ?, ?, ?, ?, ?)`;
const SECOND_FACTOR = upsertText('second_factor', ['person_id'], ['key_id', 'sealed', 'confirmed_ms', 'last_step']);
const API_TOKEN = upsertText(
  'api_token',
  ['id'],
  ['token_hash', 'person_id', 'name', 'actions_json', 'created_ms', 'expires_ms', 'revoked_ms', 'last_used_ms'],
);

/** A new link takes the place of the person's open ones. */
export const invitation: Applier<'invitation'> = ({ sql, lines }, { kind, row }) => {
  sql.run('DELETE FROM invitation WHERE person_id = ? AND used_ms IS NULL', row.personId);
  sql.run(
    INVITATION,
    row.tokenHash,
    row.personId,
    row.purpose,
    row.createdMs,
    row.createdBy,
    row.expiresMs,
    row.usedMs,
  );
  lines.add(kind, row.personId);
};

/** @throws DomainError `not_found` where the link was used already: of two at once, one wins */
export const invitationUsed: Applier<'invitation_used'> = ({ sql, lines }, { kind, tokenHash, atMs }) => {
  const used = sql.get<{ personId: string }>(
    'UPDATE invitation SET used_ms = ? WHERE token_hash = ? AND used_ms IS NULL RETURNING person_id AS "personId"',
    atMs,
    tokenHash,
  );
  if (used === undefined) throw new DomainError('not_found', 'This link was used already. Ask the owner for another.');
  lines.add(kind, used.personId);
};

export const secondFactor: Applier<'second_factor'> = ({ sql, vault, lines }, { kind, row }) => {
  const { keyId, sealed } = sealedSecondFactor(vault, row);
  sql.run(SECOND_FACTOR, row.personId, keyId, sealed, row.confirmedMs, row.lastStep);
  lines.add(kind, row.personId);
};

export const secondFactorRemoved: Applier<'second_factor_removed'> = ({ sql, lines }, { kind, personId }) => {
  sql.run('DELETE FROM recovery_code WHERE person_id = ?', personId);
  if (sql.run('DELETE FROM second_factor WHERE person_id = ?', personId) > 0) lines.add(kind, personId);
};

/** @throws DomainError `not_authenticated` where a code of this step or a later one was taken already */
export const secondFactorUsed: Applier<'second_factor_used'> = ({ sql, lines }, { kind, personId, step }) => {
  const moved = sql.run(
    'UPDATE second_factor SET last_step = ? WHERE person_id = ? AND (last_step IS NULL OR last_step < ?)',
    step,
    personId,
    step,
  );
  if (moved === 0) {
    throw new DomainError('not_authenticated', 'This code was used already. Wait for the next one in the app.');
  }
  lines.add(kind, personId);
};

export const recoveryCodes: Applier<'recovery_codes'> = ({ sql, lines }, { kind, personId, codeHashes }) => {
  sql.run('DELETE FROM recovery_code WHERE person_id = ?', personId);
  for (const hash of codeHashes) {
    sql.run('INSERT INTO recovery_code (person_id, code_hash, used_ms) VALUES (?, ?, NULL)', personId, hash);
  }
  lines.add(kind, personId);
};

/** @throws DomainError `not_authenticated` where there is no such code, or it was used */
export const recoveryCodeUsed: Applier<'recovery_code_used'> = ({ sql, lines }, { kind, personId, codeHash, atMs }) => {
  const used = sql.run(
    'UPDATE recovery_code SET used_ms = ? WHERE person_id = ? AND code_hash = ? AND used_ms IS NULL',
    atMs,
    personId,
    codeHash,
  );
  if (used === 0) throw new DomainError('not_authenticated', 'This recovery code is wrong, or was used already.');
  lines.add(kind, personId);
};

export const apiToken: Applier<'api_token'> = ({ sql, lines }, { kind, row }) => {
  const changed = sql.run(
    API_TOKEN,
    row.id,
    row.tokenHash,
    row.personId,
    row.name,
    JSON.stringify(row.actions),
    row.createdMs,
    row.expiresMs,
    row.revokedMs,
    row.lastUsedMs,
  );
  if (changed > 0) lines.add(kind, row.id);
};
