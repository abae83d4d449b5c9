import { randomBytes } from 'node:crypto';
import { Secret, TOTP } from 'otpauth';
import type { EpochMs } from '../../domain/ids.js';

/** As RFC 6238 and the usual apps have it: SHA-1, six digits, 30 seconds. */
const PERIOD_S = 30;
const DIGITS = 6;
/** 160 bits, the length that RFC 4226 section 4 recommends. */
const SECRET_BYTES = 20;
/** Steps to either side that are taken as well: for clocks that are off, RFC 6238 section 5.2. */
const WINDOW_STEPS = 1;

/** A new secret, base32. */
export function newTotpSecret(): string {
  const bytes = randomBytes(SECRET_BYTES);
  return new Secret({ buffer: bytes.buffer.slice(bytes.byteOffset, bytes.byteOffset + bytes.length) as ArrayBuffer })
    .base32;
}

/** What the app reads, as text or as a QR code: `otpauth://totp/…`. */
export function totpUri(secret: string, login: string, issuer: string): string {
  return totpOf(secret, login, issuer).toString();
}

/** The step whose code this is, now or one step to either side; null for any other code. */
export function stepOfCode(secret: string, code: string, nowMs: EpochMs): number | null {
  const delta = totpOf(secret, '', '').validate({ token: code, timestamp: nowMs, window: WINDOW_STEPS });
  return delta === null ? null : Math.floor(nowMs / (PERIOD_S * 1000)) + delta;
}

/** The code that the app shows at an instant. */
export function codeAt(secret: string, atMs: EpochMs): string {
  return totpOf(secret, '', '').generate({ timestamp: atMs });
}

function totpOf(secret: string, label: string, issuer: string): TOTP {
  return new TOTP({
    issuer,
    label,
    algorithm: 'SHA1',
    digits: DIGITS,
    period: PERIOD_S,
    secret: Secret.fromBase32(secret),
  });
}
