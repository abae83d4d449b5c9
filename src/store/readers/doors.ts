import { z } from 'zod';
import { type Action, PERMISSIONS } from '../../domain/access.js';
import type { ApiToken, Invitation } from '../../domain/doors.js';
import type { DoorsReader } from '../../domain/ports/store.js';
import { parseJson } from '../json.js';
import { readSecondFactor } from '../sealed-rows.js';
import { selectList } from '../sql.js';
import type { ReadContext } from './context.js';

const INVITATION = selectList([
  'token_hash',
  'person_id',
  'purpose',
  'created_ms',
  'created_by',
  'expires_ms',
  'used_ms',
]);
const API_TOKEN = selectList([
  'id',
  'token_hash',
  'person_id',
  'name',
  'actions_json',
  'created_ms',
  'expires_ms',
  'revoked_ms',
  'last_used_ms',
]);

// An action that a later version no longer knows opens nothing, and is passed over.
const actionsJson = z
  .array(z.string())
  .transform((names) => names.filter((name): name is Action => Object.hasOwn(PERMISSIONS, name)));

type TokenRow = Omit<ApiToken, 'actions'> & { readonly actionsJson: string };

const toToken = ({ actionsJson: text, ...row }: TokenRow): ApiToken => ({
  ...row,
  actions: parseJson(actionsJson, text, { table: 'api_token', key: row.id, column: 'actions_json' }),
});

export function doorsReader({ read, vault }: ReadContext): DoorsReader {
  return {
    hasPassword: (personId) =>
      read((sql) => sql.get('SELECT 1 FROM person_secret WHERE person_id = ?', personId) !== undefined),
    invitation: (tokenHash) =>
      read(
        (sql) => sql.get<Invitation>(`SELECT ${INVITATION} FROM invitation WHERE token_hash = ?`, tokenHash) ?? null,
      ),
    secondFactor: (personId) => read((sql) => readSecondFactor(sql, vault, personId)),
    hasSecondFactor: (personId) =>
      read(
        (sql) =>
          sql.get('SELECT 1 FROM second_factor WHERE person_id = ? AND confirmed_ms IS NOT NULL', personId) !==
          undefined,
      ),
    recoveryCodesLeft: (personId) =>
      read(
        (sql) =>
          sql.get<{ left: number }>(
            'SELECT count(*) AS left FROM recovery_code WHERE person_id = ? AND used_ms IS NULL',
            personId,
          )?.left ?? 0,
      ),
    apiTokenByHash: (tokenHash) =>
      read((sql) => {
        const row = sql.get<TokenRow>(`SELECT ${API_TOKEN} FROM api_token WHERE token_hash = ?`, tokenHash);
        return row === undefined ? null : toToken(row);
      }),
    apiTokens: (personId) =>
      read((sql) =>
        sql
          .all<TokenRow>(
            `SELECT ${API_TOKEN} FROM api_token WHERE @personId IS NULL OR person_id = @personId
             ORDER BY created_ms, id`,
            { personId },
          )
          .map(toToken),
      ),
  };
}
