import { createHash, randomBytes } from 'node:crypto';

const TOKEN_BYTES = 32;

/** 256 random bits, 43 characters of the URL-safe alphabet. */
export function newToken(): string {
  return randomBytes(TOKEN_BYTES).toString('base64url');
}

/** SHA-256, hex. What is hashed has bits enough that no slow hash is needed to keep it from being searched. */
export function hashToken(token: string): string {
  return createHash('sha256').update(token).digest('hex');
}
