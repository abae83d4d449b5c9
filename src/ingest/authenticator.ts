import { createHmac, randomBytes, timingSafeEqual } from 'node:crypto';
import { verifySecret } from '../app/secrets.js';
import type { Store } from '../domain/ports/store.js';
import type { MqttPrincipal } from './topic-rules.js';

/** Who these credentials belong to, or null where they are wrong or revoked. */
export type Authenticate = (userName: string, password: string) => Promise<MqttPrincipal | null>;

/**
 * Checks credentials against the store. A secret that was found right once is remembered in memory, as a keyed digest
 * beside the hash that it was checked against, so that fifty nodes that come back after a power cut cost fifty look-ups
 * and not fifty runs of scrypt. Changed or revoked credentials are seen at once, since the row itself is read each time.
 */
export function makeAuthenticator(store: Store): Authenticate {
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
    const right =
      known?.secretHash === credential.secretHash && timingSafeEqual(known.digest, digest)
        ? true
        : await verifySecret(password, credential.secretHash);
    if (!right) return null;
    verified.set(userName, { secretHash: credential.secretHash, digest });
    return { id: credential.principalId, kind: credential.kind, siteId: credential.siteId };
  };
}
