import type { Action } from '../../domain/access.js';
import type { Write } from '../../domain/change-set.js';
import type { Session } from '../../domain/credential.js';
import { DomainError } from '../../domain/errors.js';
import type { EpochMs } from '../../domain/ids.js';
import type { Clock } from '../../domain/ports/clock.js';
import type { Person } from '../../domain/registry.js';
import type { App } from '../context.js';
import type { LogInThrottle } from './log-in-throttle.js';
import { checkPassword } from './passwords.js';
import { normaliseLogin } from './people.js';
import { confirmSecondFactor, isRequired, type SecondFactorRule, useCode } from './second-factor.js';
import { hashSecret, PASSWORD_COST, verifySecret } from './secrets.js';
import { hashToken, newToken } from './tokens.js';

const HOUR_MS = 3_600_000;

/** What signing in needs besides the store; sessions follow the machine's clock, never the scaled one. */
export interface SessionSettings {
  readonly processClock: Clock;
  readonly throttle: LogInThrottle;
  readonly sessionHours: number;
  readonly secondFactor: SecondFactorRule;
}

export interface SignedIn {
  readonly person: Person;
  readonly session: Session;
  /** What a token of the API may do at most; null for a session. */
  readonly actions: ReadonlySet<Action> | null;
  /** The firm demands a second factor of this person, and there is none yet: nothing else may be done before. */
  readonly mustEnrol: boolean;
}

/** A session whose token goes into the cookie, once. */
export interface NewSession extends SignedIn {
  readonly token: string;
}

/** Refused because of too many attempts; says how long to wait. */
export class TooManyAttempts extends DomainError {
  readonly waitMs: number;

  constructor(waitMs: number) {
    super(
      'too_many_attempts',
      `Too many wrong passwords for this log-in. Wait ${Math.ceil(waitMs / 1000)} seconds, then try again; an owner can set a new password.`,
    );
    this.waitMs = waitMs;
  }
}

// An unknown log-in costs as much time as a wrong password, so that nobody can find out who exists.
let decoyHash: Promise<string> | null = null;

export interface LogInAttempt {
  readonly login: string;
  readonly password: string;
  /** Of the app on the phone, or a recovery code; null: none was given yet. */
  readonly code: string | null;
  readonly address: string;
  /** Token of the session that the browser still had: it ends, so that nobody can plant a session on somebody. */
  readonly replaces: string | null;
}

/**
 * Signs a person in and makes a session.
 * @returns the token for the cookie; only its hash is stored
 * @throws DomainError `not_authenticated` for a wrong log-in, password or code, `second_factor_needed` where the password
 *   was right and a code is asked for, `too_many_attempts`
 */
export async function signIn(app: App, settings: SessionSettings, attempt: LogInAttempt): Promise<NewSession> {
  const login = normaliseLogin(attempt.login);
  const person = await counted(settings, login, attempt.address, async () => {
    const known = await personOf(app, login, attempt.password);
    if (!(await app.store.doors.hasSecondFactor(known.id))) return { known, uses: [] };
    if (attempt.code === null || attempt.code.trim() === '') {
      throw new DomainError('second_factor_needed', 'The password is right. Now give the code from your phone.');
    }
    return { known, uses: [await useCode(app, known.id, attempt.code, settings.processClock.nowMs())] };
  });
  const { known, uses } = person;
  const ended: Write[] =
    attempt.replaces === null ? [] : [{ kind: 'session_ended', tokenHash: hashToken(attempt.replaces) }];
  const made = await begin(app, settings, known, [...uses, ...ended]);
  settings.throttle.succeeded(login, attempt.address);
  return made;
}

/**
 * Asks a person who is signed in for the password again, before something that a borrowed session must not do.
 * @throws DomainError `invalid_input` for a wrong password: the session itself stands; `too_many_attempts`
 */
export async function askPasswordAgain(
  app: App,
  settings: SessionSettings,
  person: Person,
  input: { readonly password: string; readonly address: string },
): Promise<void> {
  await counted(settings, person.login, input.address, () =>
    asInput('/password', personOf(app, person.login, input.password)),
  );
  settings.throttle.succeeded(person.login, input.address);
}

/** Sets the own password. All sessions end; this one goes on under a new id. */
export async function changeOwnPassword(
  app: App,
  settings: SessionSettings,
  signedIn: SignedIn,
  input: { readonly current: string; readonly password: string; readonly address: string },
): Promise<NewSession> {
  const { person } = signedIn;
  await askPasswordAgain(app, settings, person, { password: input.current, address: input.address });
  checkPassword(input.password, person.login);
  const passwordHash = await hashSecret(input.password, PASSWORD_COST);
  return begin(app, settings, person, [
    { kind: 'person_secret', row: { personId: person.id, passwordHash } },
    { kind: 'sessions_ended', personId: person.id },
  ]);
}

/** Turns the second factor on. All sessions end, since they were begun without it; this one goes on under a new id. */
export async function turnOnSecondFactor(
  app: App,
  settings: SessionSettings,
  signedIn: SignedIn,
  code: string,
): Promise<NewSession & { readonly recoveryCodes: readonly string[] }> {
  const { person } = signedIn;
  const { writes, recoveryCodes } = await confirmSecondFactor(app, person, code, settings.processClock.nowMs());
  const made = await begin(app, settings, person, [...writes, { kind: 'sessions_ended', personId: person.id }]);
  return { ...made, recoveryCodes };
}

/**
 * Takes the own second factor away, with password and code. All sessions end; this one goes on under a new id.
 * @throws DomainError `invalid_input` for a wrong password or code, `conflict` where the firm demands one of this person
 */
export async function dropOwnSecondFactor(
  app: App,
  settings: SessionSettings,
  signedIn: SignedIn,
  input: { readonly password: string; readonly code: string; readonly address: string },
): Promise<NewSession> {
  const { person } = signedIn;
  if (isRequired(settings.secondFactor, person.role)) {
    throw new DomainError(
      'conflict',
      'The firm asks a second factor of your role. An owner can reset it for a new phone.',
    );
  }
  const use = await counted(settings, person.login, input.address, async () => {
    await asInput('/password', personOf(app, person.login, input.password));
    return asInput('/code', useCode(app, person.id, input.code, settings.processClock.nowMs()));
  });
  const made = await begin(app, settings, person, [
    use,
    { kind: 'second_factor_removed', personId: person.id },
    { kind: 'sessions_ended', personId: person.id },
  ]);
  settings.throttle.succeeded(person.login, input.address);
  return made;
}

/** Who holds this token, or null where it is unknown, expired, or the person may no longer sign in. */
export async function sessionOf(app: App, settings: SessionSettings, token: string): Promise<SignedIn | null> {
  const found = await app.store.people.session(hashToken(token));
  if (found === null) return null;
  if (found.session.expiresMs <= settings.processClock.nowMs()) return null;
  if (found.person.disabledAtMs !== null) return null;
  return { ...found, actions: null, mustEnrol: await mustEnrol(app, settings, found.person) };
}

/** Ends this session, or every session of the person. */
export async function signOut(app: App, signedIn: SignedIn, everywhere: boolean): Promise<void> {
  await app.store.commit({
    atMs: app.clock.nowMs(),
    actor: { kind: 'person', id: signedIn.person.id },
    writes: [
      everywhere
        ? { kind: 'sessions_ended', personId: signedIn.person.id }
        : { kind: 'session_ended', tokenHash: signedIn.session.tokenHash },
    ],
    cursor: null,
  });
}

/** Counted before it is checked: attempts sent all at once would otherwise each find a clean slate. */
async function counted<Result>(
  { throttle, processClock }: SessionSettings,
  login: string,
  address: string,
  attempt: () => Promise<Result>,
): Promise<Result> {
  const waitMs = throttle.waitMs(login, address, processClock.nowMs());
  if (waitMs > 0) throw new TooManyAttempts(waitMs);
  throttle.failed(login, address, processClock.nowMs());
  return attempt();
}

/** A secret that is wrong within a session is a fault of what was typed; the session stands. */
async function asInput<Result>(pointer: string, check: Promise<Result>): Promise<Result> {
  try {
    return await check;
  } catch (cause) {
    if (!(cause instanceof DomainError) || cause.code !== 'not_authenticated') throw cause;
    const detail = pointer === '/code' ? 'is not what the app shows now' : 'is wrong';
    throw new DomainError('invalid_input', `The ${pointer.slice(1)} ${detail}.`, {
      cause,
      faults: [{ pointer, detail }],
    });
  }
}

async function personOf(app: App, login: string, password: string): Promise<Person> {
  const found = await app.store.people.personByLogin(login);
  decoyHash ??= hashSecret('nobody', PASSWORD_COST);
  const matches = await verifySecret(password, found?.secret.passwordHash ?? (await decoyHash));
  if (found === null || !matches || found.person.disabledAtMs !== null) {
    throw new DomainError(
      'not_authenticated',
      'Log-in name or password is wrong. Check both; an owner can set a new password.',
    );
  }
  return found.person;
}

async function begin(
  app: App,
  settings: SessionSettings,
  person: Person,
  before: readonly Write[],
): Promise<NewSession> {
  const token = newToken();
  const nowMs: EpochMs = settings.processClock.nowMs();
  const session: Session = {
    tokenHash: hashToken(token),
    personId: person.id,
    createdMs: nowMs,
    expiresMs: nowMs + settings.sessionHours * HOUR_MS,
  };
  await app.store.commit({
    atMs: app.clock.nowMs(),
    actor: { kind: 'person', id: person.id },
    writes: [...before, { kind: 'session', row: session }],
    cursor: null,
  });
  return { person, session, token, actions: null, mustEnrol: await mustEnrol(app, settings, person) };
}

async function mustEnrol(app: App, settings: SessionSettings, person: Person): Promise<boolean> {
  return isRequired(settings.secondFactor, person.role) && !(await app.store.doors.hasSecondFactor(person.id));
}
