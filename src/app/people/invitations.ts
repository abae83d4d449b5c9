import type { Principal } from '../../domain/access.js';
import type { Actor, Write } from '../../domain/change-set.js';
import type { Invitation } from '../../domain/doors.js';
import { DomainError } from '../../domain/errors.js';
import type { EpochMs, PersonId } from '../../domain/ids.js';
import type { Clock } from '../../domain/ports/clock.js';
import type { Person } from '../../domain/registry.js';
import { type App, allowed } from '../context.js';
import { checkPassword } from './passwords.js';
import { hashSecret, PASSWORD_COST } from './secrets.js';
import { hashToken, newToken } from './tokens.js';

/** Long enough for a weekend, short enough that a link in an old mail opens nothing. */
const VALID_MS = 72 * 3_600_000;

/** A link as it is handed out, once. */
export interface OpenInvitation {
  readonly token: string;
  readonly expiresMs: EpochMs;
  readonly purpose: Invitation['purpose'];
}

/**
 * Makes the link with which a person sets a password: a first one, or a new one. The person's earlier links end.
 * @throws DomainError `not_found`, `conflict` for somebody who may not sign in
 */
export async function invite(
  app: App,
  who: Principal,
  processClock: Clock,
  personId: PersonId,
): Promise<OpenInvitation> {
  allowed(who, 'people.write');
  const person = await app.store.people.person(personId);
  if (person === null) throw new DomainError('not_found', `There is no person with the id “${personId}”.`);
  if (person.disabledAtMs !== null) {
    throw new DomainError('conflict', `${person.name} may not sign in. Let the person in again first.`);
  }
  const purpose = (await app.store.doors.hasPassword(personId)) ? 'recovery' : 'welcome';
  const { open, write } = newInvitation(personId, purpose, who.personId, processClock.nowMs());
  await commit(app, { kind: 'person', id: who.personId }, [write]);
  return open;
}

/** The link and the row of a new invitation. */
export function newInvitation(
  personId: PersonId,
  purpose: Invitation['purpose'],
  createdBy: string,
  nowMs: EpochMs,
): { readonly open: OpenInvitation; readonly write: Write } {
  const token = newToken();
  const row: Invitation = {
    tokenHash: hashToken(token),
    personId,
    purpose,
    createdMs: nowMs,
    createdBy,
    expiresMs: nowMs + VALID_MS,
    usedMs: null,
  };
  return { open: { token, expiresMs: row.expiresMs, purpose }, write: { kind: 'invitation', row } };
}

/**
 * Whom a link is for; looking does not use it up.
 * @throws DomainError `not_found` for a link that is unknown, used or too old: which of these is not told
 */
export async function lookAtInvitation(
  app: App,
  processClock: Clock,
  token: string,
): Promise<{ readonly person: Person; readonly invitation: Invitation }> {
  const invitation = await app.store.doors.invitation(hashToken(token));
  const isOpen = invitation !== null && invitation.usedMs === null && invitation.expiresMs > processClock.nowMs();
  const person = isOpen ? await app.store.people.person(invitation.personId) : null;
  if (!isOpen || person === null || person.disabledAtMs !== null) {
    throw new DomainError(
      'not_found',
      'This link is over: it was used, or is older than three days, or a newer one was made. Ask the owner for another.',
    );
  }
  return { person, invitation };
}

/**
 * Sets the password with a link, once, and signs the person out everywhere. Signing in comes after, with the second
 * factor where there is one: a link alone does not get past it.
 * @throws DomainError `not_found` as {@link lookAtInvitation}, `invalid_input` for a password that is too short
 */
export async function acceptInvitation(
  app: App,
  processClock: Clock,
  input: { readonly token: string; readonly password: string },
): Promise<Person> {
  const { person, invitation } = await lookAtInvitation(app, processClock, input.token);
  checkPassword(input.password, person.login);
  const passwordHash = await hashSecret(input.password, PASSWORD_COST);
  await commit(app, { kind: 'person', id: person.id }, [
    { kind: 'invitation_used', tokenHash: invitation.tokenHash, atMs: processClock.nowMs() },
    { kind: 'person_secret', row: { personId: person.id, passwordHash } },
    { kind: 'sessions_ended', personId: person.id },
  ]);
  return person;
}

async function commit(app: App, actor: Actor, writes: readonly Write[]): Promise<void> {
  await app.store.commit({ atMs: app.clock.nowMs(), actor, writes, cursor: null });
}
