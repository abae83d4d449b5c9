import type { AccountId, PersonId } from './ids.js';
import type { Role } from './registry.js';

export type Action =
  | 'registry.read'
  | 'registry.write'
  /** Shifts, absences and trucks of the crew, and the hours and agreements of sites. */
  | 'crew.read'
  | 'crew.write'
  /** How to get into a site: gate codes, and whom to call there. */
  | 'access.read'
  | 'access.write'
  /** To hand a client all that is kept about them, and to take it out. */
  | 'personal.write'
  | 'people.read'
  | 'people.write'
  | 'credentials.write'
  /** Keys with which programs use the API: an owner sees and ends everybody's. */
  | 'tokens.write'
  | 'containers.read'
  | 'container.commission'
  /** Ask a node to report fast, for as long as somebody fills or calibrates. */
  | 'nodes.hurry'
  /** The firm's name, tariff and usual units. */
  | 'firm.write'
  | 'alarms.read'
  | 'alarms.act'
  | 'tasks.read'
  | 'tasks.write'
  | 'rounds.read'
  | 'rounds.write'
  /** Drafts, what the planner goes by, and what it learnt. */
  | 'plan.read'
  | 'plan.write'
  | 'visits.read'
  | 'visits.write'
  | 'alerts.read'
  /** How and where one is told oneself. */
  | 'contacts.own'
  /** What the firm sends to other systems. */
  | 'contacts.firm'
  /** What could not be delivered: seeing it and sending it again. */
  | 'undelivered.act'
  | 'water.read'
  | 'weather.write'
  | 'events.correct'
  | 'quarantine.read'
  | 'quarantine.rerun'
  | 'audit.read';

/** `all`: every account. `account`: the person's own account. `self`: what is on the person's own rounds. */
export type Reach = 'all' | 'account' | 'self' | 'none';

/** The permission matrix: the checks, the documentation and the tests are made from this table. */
export const PERMISSIONS: Readonly<Record<Action, Readonly<Record<Role, Reach>>>> = {
  'registry.read': { owner: 'all', dispatcher: 'all', technician: 'all', installer: 'all', client: 'account' },
  'registry.write': { owner: 'all', dispatcher: 'all', technician: 'none', installer: 'none', client: 'none' },
  'crew.read': { owner: 'all', dispatcher: 'all', technician: 'none', installer: 'none', client: 'none' },
  'crew.write': { owner: 'all', dispatcher: 'all', technician: 'none', installer: 'none', client: 'none' },
  // A technician: on the day of an own stop there. Each look is recorded, whoever takes it.
  'access.read': { owner: 'all', dispatcher: 'all', technician: 'self', installer: 'none', client: 'none' },
  'access.write': { owner: 'all', dispatcher: 'all', technician: 'none', installer: 'none', client: 'none' },
  'personal.write': { owner: 'all', dispatcher: 'none', technician: 'none', installer: 'none', client: 'none' },
  'people.read': { owner: 'all', dispatcher: 'all', technician: 'none', installer: 'none', client: 'none' },
  'people.write': { owner: 'all', dispatcher: 'none', technician: 'none', installer: 'none', client: 'none' },
  'credentials.write': { owner: 'all', dispatcher: 'none', technician: 'none', installer: 'all', client: 'none' },
  'tokens.write': { owner: 'all', dispatcher: 'self', technician: 'none', installer: 'none', client: 'none' },
  'containers.read': { owner: 'all', dispatcher: 'all', technician: 'all', installer: 'all', client: 'account' },
  'container.commission': { owner: 'all', dispatcher: 'all', technician: 'none', installer: 'all', client: 'none' },
  'nodes.hurry': { owner: 'all', dispatcher: 'all', technician: 'all', installer: 'all', client: 'none' },
  'firm.write': { owner: 'all', dispatcher: 'none', technician: 'none', installer: 'none', client: 'none' },
  'alarms.read': { owner: 'all', dispatcher: 'all', technician: 'all', installer: 'none', client: 'none' },
  'alarms.act': { owner: 'all', dispatcher: 'all', technician: 'none', installer: 'none', client: 'none' },
  'tasks.read': { owner: 'all', dispatcher: 'all', technician: 'all', installer: 'all', client: 'none' },
  'tasks.write': { owner: 'all', dispatcher: 'all', technician: 'none', installer: 'none', client: 'none' },
  'rounds.read': { owner: 'all', dispatcher: 'all', technician: 'self', installer: 'none', client: 'none' },
  'rounds.write': { owner: 'all', dispatcher: 'all', technician: 'none', installer: 'none', client: 'none' },
  'plan.read': { owner: 'all', dispatcher: 'all', technician: 'none', installer: 'none', client: 'none' },
  'plan.write': { owner: 'all', dispatcher: 'all', technician: 'none', installer: 'none', client: 'none' },
  'visits.read': { owner: 'all', dispatcher: 'all', technician: 'all', installer: 'all', client: 'account' },
  'visits.write': { owner: 'all', dispatcher: 'all', technician: 'self', installer: 'none', client: 'none' },
  'alerts.read': { owner: 'self', dispatcher: 'self', technician: 'self', installer: 'self', client: 'self' },
  'contacts.own': { owner: 'self', dispatcher: 'self', technician: 'self', installer: 'self', client: 'none' },
  'contacts.firm': { owner: 'all', dispatcher: 'none', technician: 'none', installer: 'none', client: 'none' },
  'undelivered.act': { owner: 'all', dispatcher: 'all', technician: 'none', installer: 'none', client: 'none' },
  'water.read': { owner: 'all', dispatcher: 'all', technician: 'none', installer: 'none', client: 'account' },
  'weather.write': { owner: 'all', dispatcher: 'all', technician: 'none', installer: 'none', client: 'none' },
  'events.correct': { owner: 'all', dispatcher: 'all', technician: 'none', installer: 'none', client: 'none' },
  'quarantine.read': { owner: 'all', dispatcher: 'all', technician: 'none', installer: 'all', client: 'none' },
  'quarantine.rerun': { owner: 'all', dispatcher: 'all', technician: 'none', installer: 'all', client: 'none' },
  'audit.read': { owner: 'all', dispatcher: 'none', technician: 'none', installer: 'none', client: 'none' },
};

/** Who is asking, as far as permission goes. */
export interface Principal {
  readonly personId: PersonId;
  readonly role: Role;
  readonly accountId: AccountId | null;
  /** Where a token of the API speaks for the person: what it may do at most. Left out: all that the role may. */
  readonly actions?: ReadonlySet<Action>;
}

/** What is asked about; fields that do not apply are null. */
export interface Subject {
  readonly accountId: AccountId | null;
  readonly personId: PersonId | null;
}

/** Which rows a query may touch; every reading port takes one. */
export type Scope = { readonly kind: 'all' } | { readonly kind: 'account'; readonly accountId: AccountId };

export const WHOLE_FLEET: Scope = { kind: 'all' };

export type Decision = { readonly allowed: true; readonly scope: Scope } | { readonly allowed: false };

const NO: Decision = { allowed: false };

/**
 * Decides whether a person may do something, and over which rows.
 * A `self` reach is allowed only where the subject is the person; a `null` subject field means "not about one".
 */
export function authorize(person: Principal, action: Action, subject: Subject): Decision {
  if (person.actions !== undefined && !person.actions.has(action)) return NO;
  const reach = PERMISSIONS[action][person.role];
  switch (reach) {
    case 'none':
      return NO;
    case 'all':
      return { allowed: true, scope: WHOLE_FLEET };
    case 'self':
      return subject.personId === person.personId ? { allowed: true, scope: WHOLE_FLEET } : NO;
    case 'account': {
      if (person.accountId === null) return NO;
      if (subject.accountId !== null && subject.accountId !== person.accountId) return NO;
      return { allowed: true, scope: { kind: 'account', accountId: person.accountId } };
    }
  }
}
