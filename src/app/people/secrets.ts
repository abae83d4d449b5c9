import { randomBytes, type ScryptOptions, scrypt, timingSafeEqual } from 'node:crypto';

/** Cost of a hash: CPU and memory `n` (a power of two), block size `r`, parallelisation `p` (RFC 7914 section 2). */
export interface ScryptCost {
  readonly n: number;
  readonly r: number;
  readonly p: number;
}

/**
 * For secrets that people choose: one of the equivalent settings of the OWASP Password Storage Cheat Sheet, scrypt
 * (from memory: N 2^17 p 1, 2^16 p 2, 2^15 p 3, 2^14 p 5, 2^13 p 10, all r 8). This one needs 16 MiB a log-in.
 */
export const PASSWORD_COST: ScryptCost = { n: 2 ** 14, r: 8, p: 5 };

/**
 * For secrets that {@link generateSecret} made: 192 random bits cannot be searched at any cost of the hash, and after
 * a power cut hundreds of nodes log in within seconds.
 */
export const GENERATED_SECRET_COST: ScryptCost = { n: 2 ** 10, r: 8, p: 1 };

const SECRET_BYTES = 24;
const SALT_BYTES = 16;
const KEY_BYTES = 32;
/** A hash that asks for more memory than this is not ours: 64 MiB, four times what PASSWORD_COST needs. */
const MAX_MEMORY_BYTES = 64 * 1024 * 1024;

/** A new secret of 192 random bits, 32 characters of the URL-safe alphabet. */
export function generateSecret(): string {
  return randomBytes(SECRET_BYTES).toString('base64url');
}

/**
 * Hashes a secret as `scrypt$N$r$p$salt$hash`, with salt and hash in base64url.
 * The secret is normalised to NFKC first, so that the same password typed on another keyboard stays the same.
 */
export async function hashSecret(secret: string, cost: ScryptCost): Promise<string> {
  const salt = randomBytes(SALT_BYTES);
  const key = await derive(secret, salt, cost, KEY_BYTES);
  return `scrypt$${cost.n}$${cost.r}$${cost.p}$${salt.toString('base64url')}$${key.toString('base64url')}`;
}

/**
 * True where the secret is the one that was hashed. Compares in constant time.
 * @throws Error where `stored` is not a hash of ours: a fault of the store, not of the person
 */
export async function verifySecret(secret: string, stored: string): Promise<boolean> {
  const { cost, salt, key } = parseHash(stored);
  const derived = await derive(secret, salt, cost, key.length);
  return timingSafeEqual(derived, key);
}

function parseHash(stored: string): { cost: ScryptCost; salt: Buffer; key: Buffer } {
  const [scheme, n, r, p, salt, key, ...rest] = stored.split('$');
  const cost = { n: Number(n), r: Number(r), p: Number(p) };
  const complete = salt !== undefined && key !== undefined && rest.length === 0;
  if (scheme !== 'scrypt' || !complete || !Object.values(cost).every((value) => Number.isInteger(value) && value > 0)) {
    throw new Error('a stored secret is not of the form scrypt$N$r$p$salt$hash');
  }
  return { cost, salt: Buffer.from(salt, 'base64url'), key: Buffer.from(key, 'base64url') };
}

function derive(secret: string, salt: Buffer, cost: ScryptCost, keyBytes: number): Promise<Buffer> {
  const options: ScryptOptions = { N: cost.n, r: cost.r, p: cost.p, maxmem: MAX_MEMORY_BYTES };
  return new Promise((resolve, reject) => {
    scrypt(secret.normalize('NFKC'), salt, keyBytes, options, (error, key) =>
      error === null ? resolve(key) : reject(error),
    );
  });
}
