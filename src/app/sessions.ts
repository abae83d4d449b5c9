import { createHash, randomBytes } from 'node:crypto';
import type { Session } from '../domain/credential.js';
import { DomainError } from '../domain/errors.js';
import type { Clock } from '../domain/ports/clock.js';
import type { Person } from '../domain/registry.js';
import type { App } from './context.js';
import type { LogInThrottle } from './log-in-throttle.js';
import { normaliseLogin } from './people.js';
import { hashSecret, PASSWORD_COST, verifySecret } from './secrets.js';

const TOKEN_BYTES = 32;
const HOUR_MS = 3_600_000;

/** What signing in needs besides the store; sessions follow the machine's clock, never the scaled one. */
export interface SessionSettings {
  readonly processClock: Clock;
  readonly throttle: LogInThrottle;
  readonly sessionHours: number;
}

export interface SignedIn {
  readonly person: Person;
  readonly session: Session;
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

/**
 * Signs a person in and makes a session.
 * @returns the token for the cookie; only its hash is stored
 * @throws DomainError `not_authenticated` for a wrong log-in or password alike, `too_many_attempts`
 */
export async function signIn(
  app: App,
  settings: SessionSettings,
  input: { readonly login: string; readonly password: string; readonly address: string },
): Promise<SignedIn & { readonly token: string }> {
  const { throttle, processClock } = settings;
  const login = normaliseLogin(input.login);
  const waitMs = throttle.waitMs(login, input.address, processClock.nowMs());
  if (waitMs > 0) throw new TooManyAttempts(waitMs);
  // Counted before it is checked: attempts sent all at once would otherwise each find a clean slate.
  throttle.failed(login, input.address, processClock.nowMs());

  const found = await app.store.people.personByLogin(login);
  decoyHash ??= hashSecret('nobody', PASSWORD_COST);
  const matches = await verifySecret(input.password, found?.secret.passwordHash ?? (await decoyHash));
  if (found === null || !matches || found.person.disabledAtMs !== null) {
    throw new DomainError(
      'not_authenticated',
      'Log-in name or password is wrong. Check both; an owner can set a new password.',
    );
  }
  throttle.succeeded(login, input.address);

  const token = randomBytes(TOKEN_BYTES).toString('base64url');
  const nowMs = processClock.nowMs();
  const session: Session = {
    tokenHash: hashToken(token),
    personId: found.person.id,
    createdMs: nowMs,
    expiresMs: nowMs + settings.sessionHours * HOUR_MS,
  };
  await app.store.commit({
    atMs: app.clock.nowMs(),
    actor: { kind: 'person', id: found.person.id },
    writes: [{ kind: 'session', row: session }],
    cursor: null,
  });
  return { person: found.person, session, token };
}

/** Who holds this token, or null where it is unknown, expired, or the person may no longer sign in. */
export async function sessionOf(app: App, settings: SessionSettings, token: string): Promise<SignedIn | null> {
  const found = await app.store.people.session(hashToken(token));
  if (found === null) return null;
  if (found.session.expiresMs <= settings.processClock.nowMs()) return null;
  if (found.person.disabledAtMs !== null) return null;
  return found;
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

function hashToken(token: string): string {
  return createHash('sha256').update(token).digest('hex');
}
