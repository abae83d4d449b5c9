import { randomUUID } from 'node:crypto';
import { type Action, PERMISSIONS, type Principal } from '../../domain/access.js';
import type { Write } from '../../domain/change-set.js';
import type { ApiToken } from '../../domain/doors.js';
import { DomainError } from '../../domain/errors.js';
import type { Clock } from '../../domain/ports/clock.js';
import { type App, allowed } from '../context.js';
import type { SessionSettings, SignedIn } from './sessions.js';
import { hashToken, newToken } from './tokens.js';

const DAY_MS = 24 * 3_600_000;
const HOUR_MS = 3_600_000;
/** Whoever finds it in a file or a log can tell what it is; secret scanners know such prefixes. */
export const TOKEN_PREFIX = 'brl_';

/** What opens further doors, and so is never given to a program. */
const NEVER_BY_TOKEN: ReadonlySet<Action> = new Set([
  'people.write',
  'personal.write',
  'tokens.write',
  'credentials.write',
]);

/** A token as others may see it: without its hash. */
export type ShownToken = Omit<ApiToken, 'tokenHash'>;

/** The own tokens; to an owner everybody's. */
export async function apiTokens(app: App, who: Principal): Promise<readonly ShownToken[]> {
  allowed(who, 'tokens.write', { accountId: null, personId: who.personId });
  const rows = await app.store.doors.apiTokens(who.role === 'owner' ? null : who.personId);
  return rows.map(shown);
}

/**
 * Makes a token that speaks for the person, for some of the person's own actions and for a time.
 * @returns the token, which is stored as a hash only and cannot be shown again
 * @throws DomainError `invalid_input` for an action that the person may not do, or that no token may
 */
export async function makeApiToken(
  app: App,
  who: Principal,
  processClock: Clock,
  input: { readonly name: string; readonly actions: readonly Action[]; readonly days: number },
): Promise<{ readonly token: string; readonly row: ShownToken }> {
  allowed(who, 'tokens.write', { accountId: null, personId: who.personId });
  const faults = input.actions.flatMap((action, index) => {
    const pointer = `/actions/${index}`;
    if (NEVER_BY_TOKEN.has(action)) return [{ pointer, detail: `“${action}” opens further doors; no token may do it` }];
    if (PERMISSIONS[action][who.role] === 'none')
      return [{ pointer, detail: `a ${who.role} may not do “${action}” either` }];
    return [];
  });
  if (faults.length > 0) throw new DomainError('invalid_input', 'A token may not do all of that.', { faults });
  const token = `${TOKEN_PREFIX}${newToken()}`;
  const nowMs = processClock.nowMs();
  const row: ApiToken = {
    id: `T-${randomUUID().slice(0, 13)}`,
    tokenHash: hashToken(token),
    personId: who.personId,
    name: input.name,
    actions: [...new Set(input.actions)],
    createdMs: nowMs,
    expiresMs: nowMs + input.days * DAY_MS,
    revokedMs: null,
    lastUsedMs: null,
  };
  await commit(app, who, [{ kind: 'api_token', row }]);
  return { token, row: shown(row) };
}

/** Ends a token at once; doing it twice changes nothing. An owner may end anybody's. */
export async function revokeApiToken(app: App, who: Principal, processClock: Clock, id: string): Promise<void> {
  allowed(who, 'tokens.write', { accountId: null, personId: who.personId });
  const rows = await app.store.doors.apiTokens(who.role === 'owner' ? null : who.personId);
  const row = rows.find((one) => one.id === id);
  if (row === undefined) throw new DomainError('not_found', `You have no token “${id}”.`);
  if (row.revokedMs !== null) return;
  await commit(app, who, [{ kind: 'api_token', row: { ...row, revokedMs: processClock.nowMs() } }]);
}

/**
 * For whom a token speaks, and how far; null where it is unknown, over, or its person may no longer sign in. A token never
 * reaches further than its person does now, whatever it was made for.
 */
export async function bearerOf(app: App, settings: SessionSettings, token: string): Promise<SignedIn | null> {
  if (!token.startsWith(TOKEN_PREFIX)) return null;
  const row = await app.store.doors.apiTokenByHash(hashToken(token));
  const nowMs = settings.processClock.nowMs();
  if (row === null || row.revokedMs !== null || row.expiresMs <= nowMs) return null;
  const person = await app.store.people.person(row.personId);
  if (person === null || person.disabledAtMs !== null) return null;
  await noteUse(app, row, nowMs);
  const { tokenHash, personId, createdMs, expiresMs, actions } = row;
  return {
    person,
    session: { tokenHash, personId, createdMs, expiresMs },
    actions: new Set(actions),
    mustEnrol: false,
  };
}

/** When a token was used last is kept to the hour: enough to find those that nobody needs. */
async function noteUse(app: App, row: ApiToken, nowMs: number): Promise<void> {
  if (row.lastUsedMs !== null && nowMs - row.lastUsedMs < HOUR_MS) return;
  await app.store.commit({
    atMs: app.clock.nowMs(),
    actor: { kind: 'principal', id: row.id },
    writes: [{ kind: 'api_token', row: { ...row, lastUsedMs: nowMs } }],
    cursor: null,
  });
}

function shown({ tokenHash: _hash, ...row }: ApiToken): ShownToken {
  return row;
}

async function commit(app: App, who: Principal, writes: readonly Write[]): Promise<void> {
  await app.store.commit({
    atMs: app.clock.nowMs(),
    actor: { kind: 'person', id: who.personId },
    writes,
    cursor: null,
  });
}
