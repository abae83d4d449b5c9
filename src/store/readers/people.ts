import type { Credential, Session } from '../../domain/credential.js';
import type { PeopleReader } from '../../domain/ports/store.js';
import type { Person, UnitPreferences } from '../../domain/registry.js';
import { CREDENTIAL_COLUMNS, PERSON_COLUMNS } from '../columns.js';
import { type Sql, selectList } from '../sql.js';
import type { ReadContext } from './context.js';

const PERSON = selectList(['id', ...PERSON_COLUMNS], 'p');

interface PersonRow extends Omit<Person, 'units'> {
  readonly unitVolume: UnitPreferences['volume'];
  readonly unitLength: UnitPreferences['length'];
  readonly unitTemperature: UnitPreferences['temperature'];
}

const toPerson = (row: PersonRow): Person => ({
  id: row.id,
  name: row.name,
  login: row.login,
  role: row.role,
  accountId: row.accountId,
  language: row.language,
  units: { volume: row.unitVolume, length: row.unitLength, temperature: row.unitTemperature },
  disabledAtMs: row.disabledAtMs,
});

export const allPeople = (sql: Sql): Person[] =>
  sql.all<PersonRow>(`SELECT ${PERSON} FROM person p ORDER BY p.id`).map(toPerson);

export function peopleReader({ read }: ReadContext): PeopleReader {
  return {
    people: () => read(allPeople),
    person: (id) =>
      read((sql) => {
        const row = sql.get<PersonRow>(`SELECT ${PERSON} FROM person p WHERE p.id = ?`, id);
        return row === undefined ? null : toPerson(row);
      }),
    personByLogin: (login) =>
      read((sql) => {
        const row = sql.get<PersonRow & { passwordHash: string }>(
          `SELECT ${PERSON}, x.password_hash AS "passwordHash"
           FROM person p JOIN person_secret x ON x.person_id = p.id WHERE p.login = ?`,
          login,
        );
        if (row === undefined) return null;
        return { person: toPerson(row), secret: { personId: row.id, passwordHash: row.passwordHash } };
      }),
    session: (tokenHash) =>
      read((sql) => {
        const row = sql.get<PersonRow & Pick<Session, 'tokenHash' | 'createdMs' | 'expiresMs'>>(
          `SELECT ${PERSON}, x.token_hash AS "tokenHash", x.created_ms AS "createdMs", x.expires_ms AS "expiresMs"
           FROM session x JOIN person p ON p.id = x.person_id WHERE x.token_hash = ?`,
          tokenHash,
        );
        if (row === undefined) return null;
        const { createdMs, expiresMs } = row;
        return { session: { tokenHash, personId: row.id, createdMs, expiresMs }, person: toPerson(row) };
      }),
    credential: (principalId) =>
      read(
        (sql) =>
          sql.get<Credential>(
            `SELECT ${selectList(['principal_id', ...CREDENTIAL_COLUMNS])}
             FROM credential WHERE principal_id = ?`,
            principalId,
          ) ?? null,
      ),
  };
}
