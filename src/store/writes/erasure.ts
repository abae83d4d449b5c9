import { lastingName } from '../../domain/erasure.js';
import type { Sql } from '../sql.js';
import type { Applier } from './context.js';

const OF_SITES = 'IN (SELECT id FROM site WHERE account_id = @account)';
const OF_PEOPLE = 'IN (SELECT id FROM person WHERE account_id = @account)';

/** What names or reaches somebody, taken out in the order that references need. Readings, rollups and the ledger stay. */
const STATEMENTS: readonly string[] = [
  `DELETE FROM site_access WHERE site_id ${OF_SITES}`,
  // Enough for the weather, too little for a house: a tenth of a degree is some ten kilometres.
  `UPDATE site SET name = 'Site ' || id, latitude = round(latitude, 1), longitude = round(longitude, 1), access_notes = NULL
   WHERE account_id = @account`,
  `UPDATE container SET name = 'Container ' || id, place = NULL WHERE site_id ${OF_SITES}`,
  `UPDATE visit_action SET note = NULL WHERE visit_id IN (SELECT id FROM visit WHERE site_id ${OF_SITES})`,
  `UPDATE visit SET note = NULL WHERE site_id ${OF_SITES}`,
  `UPDATE task SET reason_json = '[]' WHERE origin = 'person' AND site_id ${OF_SITES}`,
  `UPDATE alarm_transition SET note = NULL WHERE alarm_id IN (SELECT id FROM alarm WHERE site_id ${OF_SITES})`,
  `UPDATE alarm SET held_reason = NULL WHERE site_id ${OF_SITES}`,
  `DELETE FROM alert WHERE person_id ${OF_PEOPLE} OR site_id ${OF_SITES}`,
  `UPDATE outbox SET subject_json = '[]', body_json = '[]', state = iif(state = 'waiting', 'cancelled', state)
   WHERE address_id IN (SELECT id FROM address WHERE person_id ${OF_PEOPLE})`,
  `UPDATE address SET target = 'erased', secret = NULL, ended_ms = coalesce(ended_ms, @atMs) WHERE person_id ${OF_PEOPLE}`,
  `DELETE FROM contact_rules WHERE person_id ${OF_PEOPLE}`,
  `DELETE FROM calendar_feed WHERE person_id ${OF_PEOPLE}`,
  `DELETE FROM session WHERE person_id ${OF_PEOPLE}`,
  `DELETE FROM invitation WHERE person_id ${OF_PEOPLE}`,
  `DELETE FROM recovery_code WHERE person_id ${OF_PEOPLE}`,
  `DELETE FROM second_factor WHERE person_id ${OF_PEOPLE}`,
  `DELETE FROM api_token WHERE person_id ${OF_PEOPLE}`,
  `DELETE FROM person_secret WHERE person_id ${OF_PEOPLE}`,
  `UPDATE edit SET before_json = NULL, after_json = NULL, erased_ms = @atMs WHERE erased_ms IS NULL AND key IN (
     SELECT @account UNION SELECT id FROM site WHERE account_id = @account
     UNION SELECT id FROM container WHERE site_id ${OF_SITES}
     UNION SELECT id FROM visit WHERE site_id ${OF_SITES}
     UNION SELECT id FROM task WHERE site_id ${OF_SITES}
     UNION SELECT id FROM alarm WHERE site_id ${OF_SITES}
     UNION SELECT id FROM person WHERE account_id = @account
     UNION SELECT id FROM address WHERE person_id ${OF_PEOPLE})`,
  `UPDATE person SET name = 'Erased', login = 'erased-' || lower(id), disabled_at_ms = coalesce(disabled_at_ms, @atMs)
   WHERE account_id = @account`,
];

/** Columns with messages, and which of their rows are about the account. */
const SAID: readonly (readonly [table: string, column: string, ofSites: string])[] = [
  ['alarm', 'message_json', `site_id ${OF_SITES}`],
  ['task', 'reason_json', `site_id ${OF_SITES}`],
  ['task', 'verification_json', `site_id ${OF_SITES}`],
  ['task_transition', 'reason_json', `task_id IN (SELECT id FROM task WHERE site_id ${OF_SITES})`],
  ['visit_verification', 'message_json', `visit_id IN (SELECT id FROM visit WHERE site_id ${OF_SITES})`],
];

/**
 * Takes everything out that tells who a client is, and leaves the account's numbers: the ledger stays whole, under an id.
 * What is taken out is overwritten in the file, not only given free.
 */
export const accountErased: Applier<'account_erased'> = ({ sql, lines }, { kind, accountId, atMs }) => {
  sql.db.pragma('secure_delete = ON');
  const names = namesOf(sql, accountId);
  for (const text of STATEMENTS) sql.prepare(text).run({ account: accountId, atMs });
  for (const { name, lasting } of names) {
    // What was said about the account's pots says it in their words.
    for (const [table, column, ofSites] of SAID) {
      const text = `UPDATE ${table} SET ${column} = replace(${column}, @name, @lasting)
        WHERE ${ofSites} AND instr(${column}, @name) > 0`;
      sql.prepare(text).run({ name, lasting, account: accountId });
    }
    sql
      .prepare(`UPDATE outbox SET subject_json = '[]', body_json = '[]', state = iif(state = 'waiting', 'cancelled', state)
       WHERE instr(subject_json, @name) > 0 OR instr(body_json, @name) > 0`)
      .run({ name });
  }
  sql.run('UPDATE account SET name = ? WHERE id = ?', lastingName(accountId), accountId);
  lines.add(kind, accountId);
};

interface Renamed {
  /** As it stands in JSON text. */
  readonly name: string;
  readonly lasting: string;
}

function namesOf(sql: Sql, accountId: string): readonly Renamed[] {
  const rows = sql.all<Renamed>(
    `SELECT name, 'Account ' || id AS lasting FROM account WHERE id = @account
     UNION SELECT name, 'Site ' || id FROM site WHERE account_id = @account
     UNION SELECT name, 'Container ' || id FROM container WHERE site_id ${OF_SITES}
     UNION SELECT name, 'Erased' FROM person WHERE account_id = @account`,
    { account: accountId },
  );
  return rows.map(({ name, lasting }) => ({ name: JSON.stringify(name), lasting: JSON.stringify(lasting) }));
}
