import type { EpochMs } from '../../domain/ids.js';

const WINDOW_MS = 15 * 60_000;
/** Wrong passwords from one address for one log-in, before it has to wait. */
const FREE_ATTEMPTS = 5;
/** From all addresses together: higher, so that a stranger cannot lock somebody out with a handful of guesses. */
const FREE_ATTEMPTS_ANYWHERE = 50;
const FIRST_WAIT_MS = 30_000;
/** Old entries go first beyond this, so that guesses at made-up names cannot fill the memory. */
const MAX_ENTRIES = 20_000;

interface Attempts {
  failures: number;
  firstMs: EpochMs;
  blockedUntilMs: EpochMs;
}

/**
 * Slows the guessing of passwords: after a few wrong ones each further one costs a wait that doubles, up to a quarter
 * of an hour. Kept in memory only: a restart forgets it, which gives a guesser no more than a few tries.
 */
export class LogInThrottle {
  readonly #attempts = new Map<string, Attempts>();

  /** Milliseconds to wait before another attempt is looked at; 0: now. */
  waitMs(login: string, address: string, nowMs: EpochMs): number {
    const until = Math.max(
      this.#attempts.get(pairKey(login, address))?.blockedUntilMs ?? 0,
      this.#attempts.get(loginKey(login))?.blockedUntilMs ?? 0,
    );
    return Math.max(0, until - nowMs);
  }

  failed(login: string, address: string, nowMs: EpochMs): void {
    this.#count(pairKey(login, address), FREE_ATTEMPTS, nowMs);
    this.#count(loginKey(login), FREE_ATTEMPTS_ANYWHERE, nowMs);
  }

  /** Takes back the attempt that was counted before it was known to be right. */
  succeeded(login: string, address: string): void {
    this.#attempts.delete(pairKey(login, address));
    const anywhere = this.#attempts.get(loginKey(login));
    if (anywhere === undefined) return;
    anywhere.failures -= 1;
    if (anywhere.failures < FREE_ATTEMPTS_ANYWHERE) anywhere.blockedUntilMs = 0;
  }

  #count(key: string, free: number, nowMs: EpochMs): void {
    const known = this.#attempts.get(key);
    const entry =
      known === undefined || nowMs - known.firstMs > WINDOW_MS
        ? { failures: 0, firstMs: nowMs, blockedUntilMs: 0 }
        : known;
    entry.failures += 1;
    if (entry.failures >= free) {
      entry.blockedUntilMs = nowMs + Math.min(WINDOW_MS, FIRST_WAIT_MS * 2 ** (entry.failures - free));
      entry.firstMs = nowMs;
    }
    this.#attempts.delete(key);
    this.#attempts.set(key, entry);
    const oldest = this.#attempts.keys().next();
    if (this.#attempts.size > MAX_ENTRIES && oldest.done !== true) this.#attempts.delete(oldest.value);
  }
}

// A line break cannot stand in a log-in name, so the two kinds of key never meet.
const pairKey = (login: string, address: string): string => `${login}\n${address}`;
const loginKey = (login: string): string => login;
