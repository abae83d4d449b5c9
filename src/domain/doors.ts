import type { Action } from './access.js';
import type { EpochMs, PersonId } from './ids.js';

/**
 * A link with which a person sets a password: once, and until it expires. All times here are of the machine's clock, not
 * of the business clock.
 */
export interface Invitation {
  /** SHA-256 of the link's token, hex; the token itself is never stored. */
  readonly tokenHash: string;
  readonly personId: PersonId;
  /** `welcome` to somebody new, `recovery` to somebody who has lost the password. */
  readonly purpose: 'welcome' | 'recovery';
  readonly createdMs: EpochMs;
  readonly createdBy: string;
  readonly expiresMs: EpochMs;
  readonly usedMs: EpochMs | null;
}

/** The app on a person's phone that shows a new code every 30 seconds (TOTP, RFC 6238). */
export interface SecondFactor {
  readonly personId: PersonId;
  /** Base32; kept sealed. */
  readonly secret: string;
  /** Null until a first code has shown that the app has the secret. */
  readonly confirmedMs: EpochMs | null;
  /** The step of the last code that was taken: no code is taken twice, nor an older one after it. */
  readonly lastStep: number | null;
}

/** A key with which a program uses the API on behalf of a person, within some of that person's actions. */
export interface ApiToken {
  readonly id: string;
  /** SHA-256, hex; the token itself is shown once and never stored. */
  readonly tokenHash: string;
  readonly personId: PersonId;
  readonly name: string;
  readonly actions: readonly Action[];
  readonly createdMs: EpochMs;
  readonly expiresMs: EpochMs;
  readonly revokedMs: EpochMs | null;
  readonly lastUsedMs: EpochMs | null;
}
