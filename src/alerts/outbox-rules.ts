import type { EpochMs } from '../domain/ids.js';
import type { Message } from '../domain/message.js';
import type { Address, ChannelKind, OutboxEntry } from '../domain/notify.js';
import type { Alert } from '../domain/work.js';
import { sayTheSame } from './messages.js';

/** After that, what an alert said is no news to anybody. */
const USEFUL_MS = 36 * 3_600_000;

/** A mail cannot be taken back; the others replace what they showed. */
const CAN_WITHDRAW: Readonly<Record<ChannelKind, boolean>> = {
  email: false,
  web_push: true,
  webhook: true,
  mqtt: true,
};

export interface Announcement {
  readonly alert: Alert;
  /** Where it goes: the person's own addresses, the stand-in's, those that serve the whole firm. */
  readonly addresses: readonly Address[];
  readonly urgent: boolean;
  /** Not before: now, or the digest's hour. */
  readonly notBeforeMs: EpochMs;
}

/**
 * The outbox entries to write so that the far side comes to know what an alert says now. What waits about the same
 * topic for the same address is cancelled, what was delivered and says the same is not repeated, and what was delivered
 * and is moot is taken back where the channel can.
 * @param standing every entry about the alert's topic, oldest first
 */
export function entriesFor(
  announcement: Announcement,
  standing: readonly OutboxEntry[],
  nowMs: EpochMs,
): readonly OutboxEntry[] {
  const { alert } = announcement;
  const isMoot = alert.withdrawnMs !== null;
  const entries: OutboxEntry[] = [];
  for (const address of announcement.addresses) {
    const mine = standing.filter((entry) => entry.addressId === address.id);
    const waiting = mine.filter((entry) => entry.state === 'waiting');
    const shown = mine.findLast((entry) => entry.state === 'delivered');
    const wanted = wantedEntry(announcement, address, nowMs);
    const isSaid = waiting.some((entry) => saysAs(entry, wanted)) || (waiting.length === 0 && isTold(shown, wanted));

    if (isSaid) continue;
    entries.push(...waiting.map((entry): OutboxEntry => ({ ...entry, state: 'cancelled' })));
    if (isMoot) {
      if (shown !== undefined && !shown.withdrawal && CAN_WITHDRAW[address.channel]) entries.push(wanted);
    } else if (alert.readMs === null) {
      entries.push(wanted);
    }
  }
  return entries;
}

function wantedEntry({ alert, urgent, notBeforeMs }: Announcement, address: Address, nowMs: EpochMs): OutboxEntry {
  const [subject, ...body] = alert.message;
  if (subject === undefined) throw new Error(`alert ${alert.id} has no message`);
  return {
    id: `${alert.id}.${alert.revision}.${address.id}`,
    addressId: address.id,
    channel: address.channel,
    topic: alert.topic,
    subject,
    body,
    withdrawal: alert.withdrawnMs !== null,
    urgent,
    createdMs: nowMs,
    notBeforeMs,
    expiresMs: Math.max(notBeforeMs, nowMs) + USEFUL_MS,
    attempts: 0,
    state: 'waiting',
    lastError: null,
  };
}

/** Programs want every number; people are not called again unless they would do something else. */
function isTold(shown: OutboxEntry | undefined, wanted: OutboxEntry): boolean {
  if (saysAs(shown, wanted)) return true;
  const isForPeople = wanted.channel === 'email' || wanted.channel === 'web_push';
  return isForPeople && shown !== undefined && !bringsNews(shown, wanted);
}

/** Half a day is what rounds are moved by. */
const SOONER_MS = 12 * 3_600_000;
/** A truck is loaded anew for a quarter more water, not for a few litres. */
const MORE_SHARE = 0.25;
const MORE_LITRES = 5;

/**
 * Whether what is wanted tells something that what was shown did not: a pot or a kind of work that was not in it, an
 * instant half a day sooner, clearly more water, or that it cannot wait now. The page has the exact numbers.
 */
function bringsNews(shown: OutboxEntry, wanted: OutboxEntry): boolean {
  if (shown.withdrawal !== wanted.withdrawal || (wanted.urgent && !shown.urgent)) return true;
  const told = new Map([shown.subject, ...shown.body].map((message) => [subjectOf(message), message]));
  return [wanted.subject, ...wanted.body].some((message) => {
    const before = told.get(subjectOf(message));
    return before === undefined || isSoonerOrMore(before, message);
  });
}

function subjectOf({ code, params }: Message): string {
  return `${code}|${params.site ?? ''}|${params.pot ?? ''}`;
}

function isSoonerOrMore(before: Message, after: Message): boolean {
  return Object.entries(after.params).some(([name, value]) => {
    const known = before.params[name];
    if (typeof value !== 'number') return false;
    if (typeof known !== 'number') return true;
    if (name.endsWith('Ms')) return known - value > SOONER_MS;
    if (/litres$/i.test(name)) return value - known > Math.max(MORE_LITRES, MORE_SHARE * known);
    return false;
  });
}

function saysAs(entry: OutboxEntry | undefined, wanted: OutboxEntry): boolean {
  return (
    entry !== undefined &&
    entry.withdrawal === wanted.withdrawal &&
    entry.urgent === wanted.urgent &&
    sayTheSame([entry.subject, ...entry.body], [wanted.subject, ...wanted.body])
  );
}
