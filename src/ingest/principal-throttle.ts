import type { MqttPrincipal } from './topic-rules.js';

/** How much one principal may send, and how often it may be connected. */
export interface PrincipalLimits {
  /** Sustained; a gateway, which speaks for many nodes, gets {@link GATEWAY_SHARE} times as much. */
  readonly messagesPerSecond: number;
  readonly connections: number;
}

/** Nodes behind one gateway, as far as its share of messages goes (common practice, no source). */
const GATEWAY_SHARE = 20;
/** Seconds of the sustained rate that may come at once: a node's backlog after an outage. */
const BURST_SECONDS = 20;
/** A large message costs as much as several small ones. */
const BYTES_A_MESSAGE = 1_024;

interface Bucket {
  /** Messages that may come at once; below zero: promised to what waits already. */
  left: number;
  atMs: number;
}

/**
 * Slows whoever sends too much: a token bucket a principal, over all its connections. Nothing is dropped: a message that
 * finds the bucket empty is taken later, and until then its connection is not read, so that the sender's own queue fills
 * and nobody else's.
 */
export class PrincipalThrottle {
  readonly #limits: PrincipalLimits;
  readonly #buckets = new Map<string, Bucket>();
  #slowed = 0;

  constructor(limits: PrincipalLimits) {
    this.#limits = limits;
  }

  /** Messages that had to wait since the start. */
  get slowed(): number {
    return this.#slowed;
  }

  /** Milliseconds for which a message has to wait; it counts as taken then. */
  waitMs(who: MqttPrincipal, bytes: number, nowMs: number): number {
    // Open mode is for trying things out on one machine: all its clients are one principal.
    if (who.kind === 'anyone') return 0;
    const perSecond = this.#limits.messagesPerSecond * (who.kind === 'gateway' ? GATEWAY_SHARE : 1);
    const burst = perSecond * BURST_SECONDS;
    const known = this.#buckets.get(who.id);
    const left = known === undefined ? burst : Math.min(burst, known.left + ((nowMs - known.atMs) / 1000) * perSecond);
    const after = left - Math.max(1, bytes / BYTES_A_MESSAGE);
    this.#buckets.set(who.id, { left: after, atMs: nowMs });
    if (after >= 0) return 0;
    this.#slowed += 1;
    return (-after / perSecond) * 1000;
  }

  /** Forgets a principal that has gone; its bucket would be full by then. */
  forgetFull(nowMs: number): void {
    for (const [id, { left, atMs }] of this.#buckets) {
      if (left >= 0 && nowMs - atMs > BURST_SECONDS * 1000) this.#buckets.delete(id);
    }
  }
}
