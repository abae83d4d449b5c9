import {
  afterAttempt,
  BREAKER_CLOSED,
  type BreakerState,
  backOffMs,
  MAX_ATTEMPTS,
  mayTry,
} from '../../alerts/delivery-rules.js';
import type { Actor } from '../../domain/change-set.js';
import type { EpochMs } from '../../domain/ids.js';
import type { Address, ChannelKind, OutboxEntry } from '../../domain/notify.js';
import type { Channel, DeliveryOutcome } from '../../domain/ports/channel.js';
import type { Rng } from '../../domain/ports/clock.js';
import { type Catalogue, type Reader, render } from '../../domain/texts/render.js';
import type { App } from '../context.js';

/** How the outbox speaks to somebody: words by language, and how that person reads numbers and dates. */
export interface Voice {
  readonly catalogue: Catalogue;
  readonly reader: Reader;
}

export interface OutboxSettings {
  readonly channels: readonly Channel[];
  readonly rng: Rng;
  /** The page to open about a topic, absolute; null where the server has no address that people can reach. */
  readonly linkOf: (topic: string) => string | null;
  readonly voiceOf: (address: Address) => Promise<Voice>;
}

const BATCH = 20;

/**
 * Delivers what waits, at least once: the result of an attempt is written after it, so that a crash in between sends the
 * same entry again under the same id.
 */
export class OutboxRunner {
  readonly #app: App;
  readonly #settings: OutboxSettings;
  readonly #channels: ReadonlyMap<ChannelKind, Channel>;
  readonly #breakers = new Map<ChannelKind, BreakerState>();
  #closing = false;

  constructor(app: App, settings: OutboxSettings) {
    this.#app = app;
    this.#settings = settings;
    this.#channels = new Map(settings.channels.map((channel) => [channel.kind, channel]));
  }

  /** The ways that are set up. */
  get channels(): readonly ChannelKind[] {
    return [...this.#channels.keys()];
  }

  /** Tries each entry that is due once, on every channel. @returns how many were tried or dropped */
  async runOnce(): Promise<number> {
    let handled = await this.dropOutlived();
    for (const kind of this.#channels.keys()) handled += await this.runChannel(kind);
    return handled;
  }

  /** Tries what is due on one channel, each entry once: a channel that hangs holds up no other. */
  async runChannel(kind: ChannelKind): Promise<number> {
    const channel = this.#channels.get(kind);
    if (channel === undefined) return 0;
    const nowMs = this.#app.clock.nowMs();
    let handled = 0;
    for (const entry of await this.#app.store.notify.due(nowMs, BATCH, kind)) {
      if (this.#closing || !mayTry(this.#breakers.get(kind) ?? BREAKER_CLOSED, nowMs)) break;
      await this.#handle(channel, entry, nowMs);
      handled += 1;
    }
    return handled;
  }

  /** Drops what would speak of the past, also on channels that are not set up or rest. */
  async dropOutlived(): Promise<number> {
    const outlived = await this.#app.store.notify.outlived(this.#app.clock.nowMs(), BATCH);
    for (const entry of outlived) await this.#save({ ...entry, state: 'cancelled' }, null);
    return outlived.length;
  }

  /** Takes no more entries; the attempt at work goes on. */
  stop(): void {
    this.#closing = true;
  }

  async close(): Promise<void> {
    this.stop();
    for (const channel of this.#channels.values()) await channel.close();
  }

  async #handle(channel: Channel, entry: OutboxEntry, nowMs: EpochMs): Promise<void> {
    const address = await this.#app.store.notify.address(entry.addressId);
    if (nowMs > entry.expiresMs || address === null || address.endedMs !== null) {
      await this.#save({ ...entry, state: 'cancelled' }, null);
      return;
    }
    const outcome = await channel.deliver(await this.#render(entry, address));
    const breaker = this.#breakers.get(entry.channel) ?? BREAKER_CLOSED;
    this.#breakers.set(entry.channel, afterAttempt(breaker, outcome.kind !== 'failed', nowMs));
    await this.#save(this.#afterOutcome(entry, outcome, nowMs), outcome.kind === 'gone' ? address : null);
    if (outcome.kind !== 'delivered') {
      this.#app.log.warn({ entry: entry.id, channel: entry.channel, reason: outcome.reason }, 'not delivered');
    }
  }

  async #render(entry: OutboxEntry, address: Address) {
    const { catalogue, reader } = await this.#settings.voiceOf(address);
    return {
      entry,
      address,
      subject: render(catalogue, entry.subject, reader),
      lines: entry.body.map((message) => render(catalogue, message, reader)),
      link: this.#settings.linkOf(entry.topic),
    };
  }

  #afterOutcome(entry: OutboxEntry, outcome: DeliveryOutcome, nowMs: EpochMs): OutboxEntry {
    const attempts = entry.attempts + 1;
    switch (outcome.kind) {
      case 'delivered':
        return { ...entry, attempts, state: 'delivered', lastError: null };
      case 'gone':
      case 'refused':
        return { ...entry, attempts, state: 'dead', lastError: outcome.reason };
      case 'failed': {
        if (attempts >= MAX_ATTEMPTS) return { ...entry, attempts, state: 'dead', lastError: outcome.reason };
        const waitMs = Math.max(backOffMs(attempts, this.#settings.rng()), outcome.retryAfterMs ?? 0);
        return { ...entry, attempts, notBeforeMs: nowMs + waitMs, lastError: outcome.reason };
      }
    }
  }

  async #save(entry: OutboxEntry, gone: Address | null): Promise<void> {
    const atMs = this.#app.clock.nowMs();
    await this.#app.store.commit({
      atMs,
      actor: { kind: 'stage', id: 'outbox' },
      writes: [
        { kind: 'outbox', row: entry },
        ...(gone === null ? [] : [{ kind: 'address', row: { ...gone, endedMs: atMs } } as const]),
      ],
      cursor: null,
    });
  }
}

/** Puts a given-up entry back, as if it were new; the id stays, so that the far side can drop it if it had it after all. */
export async function resendDead(
  app: App,
  id: string,
  actor: Actor = { kind: 'stage', id: 'outbox' },
): Promise<OutboxEntry | null> {
  const entry = await app.store.notify.entry(id);
  if (entry === null || entry.state !== 'dead') return null;
  const nowMs = app.clock.nowMs();
  const usefulMs = entry.expiresMs - entry.createdMs;
  const row: OutboxEntry = { ...entry, state: 'waiting', attempts: 0, notBeforeMs: nowMs, expiresMs: nowMs + usefulMs };
  await app.store.commit({
    atMs: nowMs,
    actor,
    writes: [{ kind: 'outbox', row }],
    cursor: null,
  });
  return row;
}
