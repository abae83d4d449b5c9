import { randomUUID } from 'node:crypto';
import type { Principal } from '../../domain/access.js';
import type { Actor, Write } from '../../domain/change-set.js';
import type { Firm } from '../../domain/commissioning.js';
import { DomainError } from '../../domain/errors.js';
import { type EpochMs, ID_PATTERN, type PersonId } from '../../domain/ids.js';
import type { Store } from '../../domain/ports/store.js';
import type { Person, Role, UnitPreferences } from '../../domain/registry.js';
import { type App, allowed } from '../context.js';
import { newInvitation, type OpenInvitation } from './invitations.js';
import { checkPassword } from './passwords.js';
import { generateSecret, hashSecret, PASSWORD_COST } from './secrets.js';

export const METRIC_UNITS: UnitPreferences = { volume: 'L', length: 'mm', temperature: 'Cel' };

export const LOGIN_PATTERN = /^[a-z0-9._@+-]{2,100}$/;

export interface NewPerson {
  /** Null: made here. */
  readonly id: PersonId | null;
  readonly name: string;
  readonly login: string;
  readonly role: Role;
  readonly accountId: string | null;
  readonly language: Person['language'];
  readonly units: UnitPreferences;
  /** Null: made here, and given back once. */
  readonly password: string | null;
  /** Instead of a password: a link with which the person sets one. Holds the machine's time. */
  readonly inviteAtMs?: EpochMs;
}

export interface AddedPerson {
  readonly person: Person;
  /** Where it was made here; it cannot be shown again. */
  readonly password: string | null;
  /** Where the person was invited; the link cannot be shown again. */
  readonly invitation: OpenInvitation | null;
}

export interface PersonChange {
  readonly name: string;
  readonly login: string;
  readonly role: Role;
  readonly accountId: string | null;
  readonly language: Person['language'];
  readonly units: UnitPreferences;
  readonly disabled: boolean;
}

/** Everybody, by name. */
export async function people(app: App, who: Principal): Promise<readonly Person[]> {
  allowed(who, 'people.read');
  const everybody = await app.store.people.people();
  return [...everybody].sort((a, b) => a.name.localeCompare(b.name) || (a.id < b.id ? -1 : 1));
}

/**
 * Adds a person; the password is given back only where it was made here.
 * @throws DomainError `conflict` for a log-in or id that is taken, `invalid_input` for a client without an account
 */
export async function addPerson(app: App, who: Principal, input: NewPerson): Promise<AddedPerson> {
  allowed(who, 'people.write');
  return insertPerson(app, { kind: 'person', id: who.personId }, input);
}

/** True while nobody could sign in as an owner. */
export async function hasOwner(store: Store): Promise<boolean> {
  const everybody = await store.people.people();
  return everybody.some((person) => person.role === 'owner' && person.disabledAtMs === null);
}

/** Adds the very first owner together with the firm, from the page that the server's console points to. */
export async function addFirstOwner(
  app: App,
  input: { readonly name: string; readonly login: string; readonly password: string; readonly firm: Firm },
): Promise<Person> {
  const { firm, ...rest } = input;
  const { language, units } = firm;
  const { person } = await insertPerson(
    app,
    { kind: 'command', id: 'set-up' },
    { ...rest, id: null, role: 'owner', accountId: null, language, units },
    [{ kind: 'firm', row: firm }],
  );
  return person;
}

/** Adds an owner from the terminal of the machine: whoever may write the data folder may do so. */
export async function addOwnerFromTerminal(
  app: App,
  input: { readonly name: string; readonly login: string; readonly password: string },
): Promise<Person> {
  const { person } = await insertPerson(
    app,
    { kind: 'command', id: 'owner' },
    { ...input, id: null, role: 'owner', accountId: null, language: 'en', units: METRIC_UNITS },
  );
  return person;
}

/** Gives a person a new password from the terminal of the machine, and lets a disabled one in again. */
export async function resetPasswordFromTerminal(app: App, login: string, password: string): Promise<Person> {
  const found = await app.store.people.personByLogin(normaliseLogin(login));
  if (found === null) {
    throw new DomainError('not_found', `Nobody logs in as “${login}”. Check the spelling, or add an owner.`);
  }
  checkPassword(password, found.person.login);
  const person = { ...found.person, disabledAtMs: null };
  await commit(app, { kind: 'command', id: 'owner' }, [
    { kind: 'person', row: person },
    { kind: 'person_secret', row: { personId: person.id, passwordHash: await hashSecret(password, PASSWORD_COST) } },
    { kind: 'sessions_ended', personId: person.id },
  ]);
  return person;
}

/**
 * Changes a person.
 * @throws DomainError `conflict` where it would leave the firm without an owner, or the log-in is taken
 */
export async function changePerson(app: App, who: Principal, id: PersonId, change: PersonChange): Promise<Person> {
  allowed(who, 'people.write');
  const before = await personOf(app, id);
  const login = normaliseLogin(change.login);
  await checkAccount(app, change.role, change.accountId);
  if (login !== before.login) await checkLoginIsFree(app, login);
  const losesOwner = before.role === 'owner' && (change.role !== 'owner' || change.disabled);
  if (losesOwner) await checkAnotherOwner(app, id);
  const { disabled, ...rest } = change;
  const person: Person = {
    ...before,
    ...rest,
    login,
    disabledAtMs: disabled ? (before.disabledAtMs ?? app.clock.nowMs()) : null,
  };
  // What an open page may do was decided by the role that it was opened with.
  const standing = before.role !== person.role || before.accountId !== person.accountId || disabled;
  await commit(app, { kind: 'person', id: who.personId }, [
    { kind: 'person', row: person },
    ...(standing ? [{ kind: 'sessions_ended', personId: id } satisfies Write] : []),
  ]);
  return person;
}

/** Signs somebody out on every device, for a phone that was lost for instance. */
export async function endSessions(app: App, who: Principal, personId: PersonId): Promise<void> {
  allowed(who, 'people.write');
  await personOf(app, personId);
  await commit(app, { kind: 'person', id: who.personId }, [{ kind: 'sessions_ended', personId }]);
}

/** Sets a person's password, and signs the person out everywhere; gives the password back where it was made here. */
export async function setPassword(
  app: App,
  who: Principal,
  id: PersonId,
  password: string | null,
): Promise<string | null> {
  allowed(who, 'people.write');
  const person = await personOf(app, id);
  const secret = password ?? generateSecret();
  checkPassword(secret, person.login);
  await commit(app, { kind: 'person', id: who.personId }, [
    { kind: 'person_secret', row: { personId: id, passwordHash: await hashSecret(secret, PASSWORD_COST) } },
    { kind: 'sessions_ended', personId: id },
  ]);
  return password === null ? secret : null;
}

/** A person's own language and units; everybody may set the own ones. */
export async function setPreferences(
  app: App,
  who: Principal,
  preferences: Pick<Person, 'language' | 'units'>,
): Promise<Person> {
  const person = { ...(await personOf(app, who.personId)), ...preferences };
  await commit(app, { kind: 'person', id: who.personId }, [{ kind: 'person', row: person }]);
  return person;
}

export function normaliseLogin(login: string): string {
  return login.trim().toLowerCase();
}

async function insertPerson(
  app: App,
  actor: Actor,
  input: NewPerson,
  beside: readonly Write[] = [],
): Promise<AddedPerson> {
  const login = normaliseLogin(input.login);
  if (!LOGIN_PATTERN.test(login)) throw invalid('/login', 'takes 2 to 100 of a-z 0-9 . _ @ + -');
  const id = input.id ?? `P-${randomUUID().slice(0, 13)}`;
  if (!ID_PATTERN.test(id)) throw invalid('/id', 'takes 1 to 64 letters, digits, dots, hyphens or underscores');
  if ((await app.store.people.person(id)) !== null) {
    throw new DomainError('conflict', `There is a person with the id “${id}” already. Choose another id.`);
  }
  await checkLoginIsFree(app, login);
  await checkAccount(app, input.role, input.accountId);
  const person: Person = {
    id,
    name: input.name.trim(),
    login,
    role: input.role,
    accountId: input.accountId,
    language: input.language,
    units: input.units,
    disabledAtMs: null,
  };
  if (input.inviteAtMs !== undefined) {
    const { open, write } = newInvitation(id, 'welcome', actor.id, input.inviteAtMs);
    await commit(app, actor, [{ kind: 'person', row: person }, write]);
    return { person, password: null, invitation: open };
  }
  const secret = input.password ?? generateSecret();
  checkPassword(secret, login);
  await commit(app, actor, [
    { kind: 'person', row: person },
    { kind: 'person_secret', row: { personId: id, passwordHash: await hashSecret(secret, PASSWORD_COST) } },
    ...beside,
  ]);
  return { person, password: input.password === null ? secret : null, invitation: null };
}

async function personOf(app: App, id: PersonId): Promise<Person> {
  const person = await app.store.people.person(id);
  if (person === null) throw new DomainError('not_found', `There is no person with the id “${id}”.`);
  return person;
}

async function checkLoginIsFree(app: App, login: string): Promise<void> {
  const everybody = await app.store.people.people();
  if (everybody.some((person) => person.login === login)) {
    throw new DomainError('conflict', `Somebody logs in as “${login}” already. Choose another log-in name.`);
  }
}

async function checkAccount(app: App, role: Role, accountId: string | null): Promise<void> {
  if (role !== 'client') {
    if (accountId !== null) throw invalid('/accountId', 'is for clients only; leave it null for the crew');
    return;
  }
  if (accountId === null) throw invalid('/accountId', 'is missing: a client sees one account, so say which');
  const accounts = await app.store.registry.accounts({ kind: 'account', accountId });
  if (accounts.length === 0) throw invalid('/accountId', `there is no account “${accountId}”`);
}

async function checkAnotherOwner(app: App, id: PersonId): Promise<void> {
  const everybody = await app.store.people.people();
  const others = everybody.filter((p) => p.role === 'owner' && p.disabledAtMs === null && p.id !== id);
  if (others.length === 0) {
    throw new DomainError('conflict', 'This is the last owner. Make somebody else an owner first.');
  }
}

function invalid(pointer: string, detail: string): DomainError {
  return new DomainError('invalid_input', `${pointer.slice(1)} ${detail}.`, { faults: [{ pointer, detail }] });
}

async function commit(app: App, actor: Actor, writes: readonly Write[]): Promise<void> {
  await app.store.commit({ atMs: app.clock.nowMs(), actor, writes, cursor: null });
}
