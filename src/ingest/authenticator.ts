import { createHmac, randomBytes, timingSafeEqual } from 'node:crypto';
import { verifySecret } from '../app/people/secrets.js';
import type { Credential } from '../domain/credential.js';
import type { EpochMs } from '../domain/ids.js';
import type { Store } from '../domain/ports/store.js';
import type { MqttPrincipal } from './topic-rules.js';

/** Who these credentials belong to, or null where they are wrong or revoked. */
export type Authenticate = (userName: string, password: string) => Promise<MqttPrincipal | null>;

/** Whether what a connection was opened with still opens one. */
export type StillValid = (who: MqttPrincipal) => Promise<boolean>;

/** Whom a client certificate names; null where it names nobody, or somebody whose credentials were revoked. */
export type ByCertificate = (name: string) => Promise<MqttPrincipal | null>;

/** What stands for a secret where a connection was opened with a certificate. */
const CERTIFICATE_PROOF = 'certificate';

/**
 * Checks credentials against the store. A secret that was found right once is remembered in memory, as a keyed digest
 * beside the hash that it was checked against, so that fifty nodes that come back after a power cut cost fifty look-ups
 * and not fifty runs of scrypt. Changed or revoked credentials are seen at once, since the row itself is read each time.
 * While a secret is being rotated the one before it is right as well, until its time is up.
 */
export function makeAuthenticator(store: Store, nowMs: () => EpochMs = Date.now): Authenticate {
  const key = randomBytes(32);
  const verified = new Map<string, { readonly secretHash: string; readonly digest: Buffer }>();
  return async (userName, password) => {
    const credential = await store.people.credential(userName);
    if (credential === null || credential.revokedMs !== null) {
      verified.delete(userName);
      return null;
    }
    const digest = createHmac('sha256', key).update(password).digest();
    const known = verified.get(userName);
    for (const secretHash of hashesOf(credential, nowMs())) {
      const remembered = known?.secretHash === secretHash && timingSafeEqual(known.digest, digest);
      if (!remembered && !(await verifySecret(password, secretHash))) continue;
      verified.set(userName, { secretHash, digest });
      return principalOf(credential, secretHash);
    }
    return null;
  };
}

export function makeByCertificate(store: Store): ByCertificate {
  return async (name) => {
    const credential = await store.people.credential(name);
    if (credential === null || credential.revokedMs !== null) return null;
    return principalOf(credential, CERTIFICATE_PROOF);
  };
}

export function makeStillValid(store: Store, nowMs: () => EpochMs = Date.now): StillValid {
  return async ({ id, kind, proof }) => {
    if (kind === 'anyone') return true;
    const credential = await store.people.credential(id);
    if (credential === null || credential.revokedMs !== null) return false;
    return proof === CERTIFICATE_PROOF || hashesOf(credential, nowMs()).some((hash) => hash === proof);
  };
}

function hashesOf({ secretHash, previousHash, previousUntilMs }: Credential, nowMs: EpochMs): readonly string[] {
  const overlaps = previousHash !== null && previousUntilMs !== null && previousUntilMs > nowMs;
  return overlaps ? [secretHash, previousHash] : [secretHash];
}

function principalOf({ principalId, kind, siteId }: Credential, proof: string): MqttPrincipal {
  return { id: principalId, kind, siteId, proof };
}
