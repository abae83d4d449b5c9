import type { Address, ChannelKind, OutboxEntry } from '../notify.js';

/** An entry in the words and units of the one who reads it. */
export interface RenderedEntry {
  readonly entry: OutboxEntry;
  readonly address: Address;
  readonly subject: string;
  readonly lines: readonly string[];
  /** Page to open, absolute. */
  readonly link: string | null;
}

export type DeliveryOutcome =
  | { readonly kind: 'delivered' }
  /** Worth another attempt. */
  | { readonly kind: 'failed'; readonly reason: string; readonly retryAfterMs: number | null }
  /** This address will never take anything again. */
  | { readonly kind: 'gone'; readonly reason: string }
  /** This message will never be taken; another one may be. */
  | { readonly kind: 'refused'; readonly reason: string };

/** A way to reach people or systems. Delivery is at least once; the entry's id lets the far side drop repeats. */
export interface Channel {
  readonly kind: ChannelKind;
  deliver(rendered: RenderedEntry): Promise<DeliveryOutcome>;
  close(): Promise<void>;
}
