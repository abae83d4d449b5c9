import type { Principal } from '../../domain/access.js';
import type { Credential, PrincipalKind } from '../../domain/credential.js';
import { DomainError } from '../../domain/errors.js';
import type { EpochMs, SiteId } from '../../domain/ids.js';
import { type App, allowed } from '../context.js';
import { GENERATED_SECRET_COST, generateSecret, hashSecret } from './secrets.js';

export interface NewCredential {
  readonly principalId: string;
  readonly kind: PrincipalKind;
  /** The site whose weather a station publishes; null for all other kinds. */
  readonly siteId: SiteId | null;
  /**
   * For so many hours the secret before this one opens the door as well, so that a node far away can be given the new one
   * without a gap; 0: it stops at once.
   */
  readonly overlapHours: number;
}

const HOUR_MS = 3_600_000;

/**
 * Makes the MQTT credentials of a principal. Where it had some, these replace them, also after they were revoked; with an
 * overlap the former ones go on for a while, unless they were revoked.
 * @param nowMs of the machine's clock
 * @returns the secret, which is stored as a hash only and cannot be shown again
 * @throws DomainError `invalid_input` for a node, gateway or site that is not in the registry
 */
export async function makeCredential(
  app: App,
  who: Principal,
  input: NewCredential,
  nowMs: EpochMs,
): Promise<{ readonly credential: Credential; readonly secret: string }> {
  allowed(who, 'credentials.write');
  const before = await checkPrincipal(app, input);
  const secret = generateSecret();
  const credential: Credential = {
    principalId: input.principalId,
    kind: input.kind,
    siteId: input.siteId,
    secretHash: await hashSecret(secret, GENERATED_SECRET_COST),
    createdMs: app.clock.nowMs(),
    revokedMs: null,
    ...overlapOf(before, input.overlapHours, nowMs),
  };
  await save(app, who, credential);
  return { credential, secret };
}

/** Takes a principal's credentials away; doing it twice changes nothing. */
export async function revokeCredential(app: App, who: Principal, principalId: string): Promise<Credential> {
  allowed(who, 'credentials.write');
  const credential = await app.store.people.credential(principalId);
  if (credential === null) {
    throw new DomainError('not_found', `“${principalId}” has no credentials. Check the id.`);
  }
  if (credential.revokedMs !== null) return credential;
  const revoked = { ...credential, revokedMs: app.clock.nowMs(), previousHash: null, previousUntilMs: null };
  await save(app, who, revoked);
  return revoked;
}

/** What of the former secret stays right, and until when. */
export function overlapOf(
  before: Credential | null,
  overlapHours: number,
  nowMs: EpochMs,
): Pick<Credential, 'previousHash' | 'previousUntilMs'> {
  if (before === null || before.revokedMs !== null || overlapHours === 0) {
    return { previousHash: null, previousUntilMs: null };
  }
  return { previousHash: before.secretHash, previousUntilMs: nowMs + overlapHours * HOUR_MS };
}

async function checkPrincipal(app: App, input: NewCredential): Promise<Credential | null> {
  if (input.kind === 'station') {
    if (input.siteId === null) throw invalid('/siteId', 'is missing: a weather station belongs to a site');
    const site = await app.store.registry.site({ kind: 'all' }, input.siteId);
    if (site === null) throw invalid('/siteId', `there is no site “${input.siteId}”`);
  } else if (input.siteId !== null) {
    throw invalid('/siteId', 'is for weather stations only; leave it null');
  }
  if (input.kind === 'node' && (await app.store.registry.node(input.principalId)) === null) {
    throw invalid('/principalId', `there is no node “${input.principalId}”; add the node first`);
  }
  if (input.kind === 'gateway') {
    const gateways = await app.store.registry.gateways({ kind: 'all' });
    if (!gateways.some((gateway) => gateway.id === input.principalId)) {
      throw invalid('/principalId', `there is no gateway “${input.principalId}”; add the gateway first`);
    }
  }
  const before = await app.store.people.credential(input.principalId);
  if (before !== null && before.kind !== input.kind) {
    throw new DomainError(
      'conflict',
      `“${input.principalId}” has credentials as a ${before.kind}. Choose another name for this ${input.kind}.`,
    );
  }
  return before;
}

function invalid(pointer: string, detail: string): DomainError {
  return new DomainError('invalid_input', `${pointer.slice(1)}: ${detail}.`, { faults: [{ pointer, detail }] });
}

async function save(app: App, who: Principal, credential: Credential): Promise<void> {
  await app.store.commit({
    atMs: app.clock.nowMs(),
    actor: { kind: 'person', id: who.personId },
    writes: [{ kind: 'credential', row: credential }],
    cursor: null,
  });
}
