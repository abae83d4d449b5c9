import type { Write, WriteKind } from '../../domain/change-set.js';
import type { WriteContext, WriteOf } from './context.js';

/** Where the row of a write lies, so that it can be read before and after. */
interface EditedRow<Kind extends WriteKind> {
  readonly table: string;
  readonly key: string;
  readonly keyOf: (write: WriteOf<Kind>) => string;
}

type Row = Readonly<Record<string, unknown>>;

/** Columns whose values open doors: that they changed is told, what they hold is not. */
const SECRET_COLUMNS: ReadonlySet<string> = new Set([
  'password_hash',
  'secret_hash',
  'previous_hash',
  'token_hash',
  'secret',
  'sealed',
]);
const HIDDEN = '•';

const byId = <Kind extends WriteKind>(table: string): EditedRow<Kind> => ({
  table,
  key: 'id',
  keyOf: (write) => (write as unknown as { readonly row: { readonly id: string } }).row.id,
});

/**
 * What of a person's changes is kept with its values before and after. Null: it is a record by itself that bears who, when
 * and why (transitions, overrides, corrections, visits' verifications), or no person's change.
 */
const EDITED: { readonly [Kind in WriteKind]: EditedRow<Kind> | null } = {
  account: byId('account'),
  account_erased: null,
  site: byId('site'),
  site_access: { table: 'site_access', key: 'site_id', keyOf: ({ row }) => row.siteId },
  access_look: null,
  container: byId('container'),
  gateway: byId('gateway'),
  node: byId('node'),
  assignment: byId('assignment'),
  assignment_removed: { table: 'assignment', key: 'id', keyOf: ({ id }) => id },
  depot: byId('depot'),
  truck: byId('truck'),
  crew_terms: { table: 'crew_terms', key: 'person_id', keyOf: ({ row }) => row.personId },
  site_terms: { table: 'site_terms', key: 'site_id', keyOf: ({ row }) => row.siteId },
  absence: byId('absence'),
  person: byId('person'),
  person_secret: { table: 'person_secret', key: 'person_id', keyOf: ({ row }) => row.personId },
  session: null,
  session_ended: null,
  sessions_ended: null,
  invitation: { table: 'invitation', key: 'token_hash', keyOf: ({ row }) => row.tokenHash },
  invitation_used: null,
  second_factor: { table: 'second_factor', key: 'person_id', keyOf: ({ row }) => row.personId },
  second_factor_removed: { table: 'second_factor', key: 'person_id', keyOf: ({ personId }) => personId },
  second_factor_used: null,
  recovery_codes: null,
  recovery_code_used: null,
  api_token: byId('api_token'),
  credential: { table: 'credential', key: 'principal_id', keyOf: ({ row }) => row.principalId },
  readings: null,
  quarantined: null,
  quarantine_resolved: { table: 'quarantine', key: 'id', keyOf: ({ id }) => id },
  weather_days: null,
  weather_samples: null,
  event_correction: null,
  derived: null,
  checkpoints: null,
  reading_horizon: null,
  readings_expired: null,
  changes_expired: null,
  status: null,
  forecast: null,
  finding: null,
  calibration: null,
  alarm: byId('alarm'),
  alarm_transition: null,
  alarm_override: null,
  task: byId('task'),
  task_transition: null,
  round_stop: byId('round_stop'),
  published_visit: null,
  plan_version: null,
  learned_pace: null,
  visit: byId('visit'),
  visit_verification: null,
  alert: null,
  address: byId('address'),
  contact_rules: { table: 'contact_rules', key: 'person_id', keyOf: ({ row }) => row.personId },
  outbox: null,
  calendar_feed: { table: 'calendar_feed', key: 'token_hash', keyOf: ({ row }) => row.tokenHash },
  firm: { table: 'firm', key: 'id', keyOf: () => '1' },
  pour_record: null,
  fast_report: null,
  job_ran: null,
};

const EDIT = `INSERT INTO edit (at_ms, actor_kind, actor_id, kind, key, before_json, after_json, erased_ms)
  VALUES (?, ?, ?, ?, ?, ?, ?, NULL)`;

/** Applies a write, and keeps what it changed where a person or a command made it. */
export function recordingEdit({ sql, atMs, actor }: WriteContext, write: Write, apply: () => void): void {
  const edited = EDITED[write.kind] as EditedRow<WriteKind> | null;
  if (edited === null || (actor.kind !== 'person' && actor.kind !== 'command')) {
    apply();
    return;
  }
  const { table, key, keyOf } = edited;
  const id = keyOf(write as never);
  const text = `SELECT * FROM ${table} WHERE ${key} = ?`;
  const before = sql.get<Row>(text, id) ?? null;
  apply();
  const after = sql.get<Row>(text, id) ?? null;
  const changed = changedColumns(before, after);
  if (changed.length === 0) return;
  // A hash that is the key tells whose it was no better than the person does.
  const shownKey = SECRET_COLUMNS.has(key) ? String(after?.person_id ?? before?.person_id ?? HIDDEN) : id;
  sql.run(EDIT, atMs, actor.kind, actor.id, write.kind, shownKey, shown(before, changed), shown(after, changed));
}

function changedColumns(before: Row | null, after: Row | null): readonly string[] {
  return Object.keys({ ...before, ...after }).filter((column) => !isSame(before?.[column], after?.[column]));
}

function isSame(one: unknown, other: unknown): boolean {
  return one instanceof Uint8Array && other instanceof Uint8Array ? Buffer.compare(one, other) === 0 : one === other;
}

function shown(row: Row | null, columns: readonly string[]): string | null {
  if (row === null) return null;
  const values = columns.map((column) => {
    const value = row[column] ?? null;
    return [column, value !== null && SECRET_COLUMNS.has(column) ? HIDDEN : value];
  });
  return JSON.stringify(Object.fromEntries(values));
}
