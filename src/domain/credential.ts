import type { EpochMs, PersonId, SiteId } from './ids.js';

export type PrincipalKind = 'node' | 'gateway' | 'station' | 'subscriber';

/** Who may speak over MQTT. The user name is the principal's id. */
export interface Credential {
  readonly principalId: string;
  readonly kind: PrincipalKind;
  /** The site whose weather a station publishes. */
  readonly siteId: SiteId | null;
  /** scrypt, as `scrypt$N$r$p$salt$hash` with base64url parts. */
  readonly secretHash: string;
  readonly createdMs: EpochMs;
  readonly revokedMs: EpochMs | null;
  /** The hash before the last rotation, and until when on the machine's clock it still opens; null: it does not. */
  readonly previousHash: string | null;
  readonly previousUntilMs: EpochMs | null;
}

export interface PersonSecret {
  readonly personId: PersonId;
  readonly passwordHash: string;
}

export interface Session {
  /** SHA-256 of the cookie's token, hex; the token itself is never stored. */
  readonly tokenHash: string;
  readonly personId: PersonId;
  readonly createdMs: EpochMs;
  readonly expiresMs: EpochMs;
}
