import { randomInt } from 'node:crypto';
import type { Principal } from '../../domain/access.js';
import type { Write } from '../../domain/change-set.js';
import type { SecondFactor } from '../../domain/doors.js';
import { DomainError } from '../../domain/errors.js';
import type { EpochMs, PersonId } from '../../domain/ids.js';
import type { Person, Role } from '../../domain/registry.js';
import { type App, allowed } from '../context.js';
import { hashToken } from './tokens.js';
import { newTotpSecret, stepOfCode, totpUri } from './totp.js';

/** Who is asked for a second factor where the firm demands one: those whose log-in opens everything. */
const DEMANDED_OF: ReadonlySet<Role> = new Set(['owner', 'dispatcher']);

/** `offered`: whoever wants to. `required`: owners and dispatchers have to, before they may do anything else. */
export type SecondFactorRule = 'offered' | 'required';

export interface SecondFactorState {
  readonly on: boolean;
  readonly required: boolean;
  readonly recoveryCodesLeft: number;
}

const ISSUER = 'Brimline';
const RECOVERY_CODES = 10;
/** 31 signs that are not easily mistaken for one another; 16 of them are 79 bits. */
const RECOVERY_ALPHABET = 'abcdefghjkmnpqrstuvwxyz23456789';
const RECOVERY_CHARACTERS = 16;

export function isRequired(rule: SecondFactorRule, role: Role): boolean {
  return rule === 'required' && DEMANDED_OF.has(role);
}

export async function secondFactorState(app: App, person: Person, rule: SecondFactorRule): Promise<SecondFactorState> {
  const on = await app.store.doors.hasSecondFactor(person.id);
  return {
    on,
    required: isRequired(rule, person.role),
    recoveryCodesLeft: on ? await app.store.doors.recoveryCodesLeft(person.id) : 0,
  };
}

/**
 * Makes a new secret for the app on the phone; it counts once {@link confirmSecondFactor} has seen a code of it. Whoever
 * calls has asked for the password again.
 * @throws DomainError `conflict` where there is one already
 */
export async function beginSecondFactor(
  app: App,
  person: Person,
): Promise<{ readonly secret: string; readonly uri: string }> {
  if (await app.store.doors.hasSecondFactor(person.id)) {
    throw new DomainError('conflict', 'There is a second factor already. Take it away first, then set up another.');
  }
  const row: SecondFactor = { personId: person.id, secret: newTotpSecret(), confirmedMs: null, lastStep: null };
  await commit(app, person.id, [{ kind: 'second_factor', row }]);
  return { secret: row.secret, uri: totpUri(row.secret, person.login, ISSUER) };
}

/**
 * Turns the second factor on, after the first code of the app.
 * @returns writes for the caller's commit, and recovery codes, which are stored as hashes only and cannot be shown again
 * @throws DomainError `invalid_input` for a wrong code, `conflict` where none was begun
 */
export async function confirmSecondFactor(
  app: App,
  person: Person,
  code: string,
  nowMs: EpochMs,
): Promise<{ readonly writes: readonly Write[]; readonly recoveryCodes: readonly string[] }> {
  const begun = await app.store.doors.secondFactor(person.id);
  if (begun === null || begun.confirmedMs !== null) {
    throw new DomainError('conflict', 'No second factor is being set up. Begin anew.');
  }
  const step = stepOfCode(begun.secret, code, nowMs);
  if (step === null) {
    const detail = 'is not what the app shows now; check the time of the phone, and try the next code';
    throw new DomainError('invalid_input', `The code ${detail}.`, { faults: [{ pointer: '/code', detail }] });
  }
  const recoveryCodes = Array.from({ length: RECOVERY_CODES }, newRecoveryCode);
  return {
    writes: [
      { kind: 'second_factor', row: { ...begun, confirmedMs: nowMs, lastStep: step } },
      { kind: 'recovery_codes', personId: person.id, codeHashes: recoveryCodes.map(hashOfRecoveryCode) },
    ],
    recoveryCodes,
  };
}

/**
 * Looks at a code of the app, or at a recovery code.
 * @returns the write that uses it up; the commit refuses it where it was used at the same time elsewhere
 * @throws DomainError `not_authenticated` for a code that is wrong or was used
 */
export async function useCode(app: App, personId: PersonId, code: string, nowMs: EpochMs): Promise<Write> {
  const typed = code.replace(/[\s-]/g, '').toLowerCase();
  if (!/^\d{6}$/.test(typed)) {
    return { kind: 'recovery_code_used', personId, codeHash: hashToken(typed), atMs: nowMs };
  }
  const factor = await app.store.doors.secondFactor(personId);
  const step = factor === null ? null : stepOfCode(factor.secret, typed, nowMs);
  if (step === null) {
    throw new DomainError(
      'not_authenticated',
      'The code is not what the app shows now. Check the time of the phone, and try the next code.',
    );
  }
  return { kind: 'second_factor_used', personId, step };
}

/** How somebody gets in, for whoever looks after the people. */
export interface PersonDoors {
  readonly personId: PersonId;
  readonly secondFactor: boolean;
}

export async function peopleDoors(app: App, who: Principal): Promise<readonly PersonDoors[]> {
  allowed(who, 'people.write');
  const everybody = await app.store.people.people();
  return Promise.all(
    everybody.map(async ({ id }) => ({ personId: id, secondFactor: await app.store.doors.hasSecondFactor(id) })),
  );
}

/** Takes somebody's second factor away: the owner, for a person who has lost phone and recovery codes. */
export async function resetSecondFactor(app: App, who: Principal, personId: PersonId): Promise<void> {
  allowed(who, 'people.write');
  if ((await app.store.people.person(personId)) === null) {
    throw new DomainError('not_found', `There is no person with the id “${personId}”.`);
  }
  await commit(app, who.personId, [
    { kind: 'second_factor_removed', personId },
    { kind: 'sessions_ended', personId },
  ]);
}

function newRecoveryCode(): string {
  const characters = Array.from(
    { length: RECOVERY_CHARACTERS },
    () => RECOVERY_ALPHABET[randomInt(RECOVERY_ALPHABET.length)],
  ).join('');
  return (characters.match(/.{4}/g) ?? []).join('-');
}

function hashOfRecoveryCode(code: string): string {
  return hashToken(code.replaceAll('-', ''));
}

async function commit(app: App, personId: PersonId, writes: readonly Write[]): Promise<void> {
  await app.store.commit({ atMs: app.clock.nowMs(), actor: { kind: 'person', id: personId }, writes, cursor: null });
}
