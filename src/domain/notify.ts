import type { AlarmKind, AlarmPriority } from './alarm.js';
import type { WeekdayHours } from './crew.js';
import type { EpochMs, LocalDay, PersonId, SiteId } from './ids.js';
import type { Message } from './message.js';

export type ChannelKind = 'email' | 'web_push' | 'webhook' | 'mqtt';

/** Where one person, or one system, is reached. */
export interface Address {
  readonly id: string;
  /** Null for a webhook or topic that serves the whole firm. */
  readonly personId: PersonId | null;
  readonly channel: ChannelKind;
  /** Mail address, push endpoint, webhook URL; the event type's topic for MQTT. */
  readonly target: string;
  /** What the channel needs besides: push keys, or the secret that signs. Kept out of every answer and log. */
  readonly secret: string | null;
  readonly createdMs: EpochMs;
  /** Set when the far side said that it is gone, or a person removed it. */
  readonly endedMs: EpochMs | null;
}

/** Wall-clock minutes after midnight, half-open; `from` after `to` runs over midnight. */
export interface DailyWindow {
  readonly fromMinute: number;
  readonly toMinute: number;
}

/** When and about what a person wants to hear. */
export interface ContactRules {
  readonly personId: PersonId;
  readonly timeZone: string;
  /** Null: every site. */
  readonly siteIds: readonly SiteId[] | null;
  readonly minimumPriority: AlarmPriority;
  /** Kinds of alarm that one wants to hear of; null: every kind. Stops and digests come all the same. */
  readonly kinds: readonly AlarmKind[] | null;
  /** One's working hours on the wall; outside them what can wait is held like in quiet hours. Null: any hour. */
  readonly working: readonly WeekdayHours[] | null;
  readonly quiet: DailyWindow | null;
  /** When the digest of what was held comes; minutes after midnight. */
  readonly digestMinute: number;
  /** Days away, inclusive; everything goes to the stand-in. */
  readonly away: readonly { readonly fromDay: LocalDay; readonly toDay: LocalDay }[];
  readonly standInId: PersonId | null;
}

/** The private address under which a person's calendar reads the own rounds. */
export interface CalendarFeed {
  /** SHA-256 of the token in the address, hex; the token itself is never stored. */
  readonly tokenHash: string;
  readonly personId: PersonId;
  readonly createdMs: EpochMs;
  readonly revokedMs: EpochMs | null;
}

export type OutboxState = 'waiting' | 'delivered' | 'dead' | 'cancelled';

/** One message on its way over one channel; written in the transaction that caused it. */
export interface OutboxEntry {
  /** Idempotency key: the same whenever the same thing is sent again, so that the far side can drop it. */
  readonly id: string;
  readonly addressId: string;
  readonly channel: ChannelKind;
  /** The newer entry of a topic replaces the older one. */
  readonly topic: string;
  readonly subject: Message;
  readonly body: readonly Message[];
  /** The alert is moot: what was shown before is taken back. */
  readonly withdrawal: boolean;
  readonly urgent: boolean;
  readonly createdMs: EpochMs;
  readonly notBeforeMs: EpochMs;
  /** After that it would speak of what has passed, and is dropped. */
  readonly expiresMs: EpochMs;
  readonly attempts: number;
  readonly state: OutboxState;
  readonly lastError: string | null;
}
