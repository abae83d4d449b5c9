import { createHash } from 'node:crypto';
import type { Principal } from '../../domain/access.js';
import type { Write } from '../../domain/change-set.js';
import { DomainError } from '../../domain/errors.js';
import type { PersonId } from '../../domain/ids.js';
import type { Address, ChannelKind, ContactRules, OutboxEntry } from '../../domain/notify.js';
import type { Page, PageRequest } from '../../domain/ports/store.js';
import type { Person } from '../../domain/registry.js';
import { type App, allowed } from '../context.js';
import { generateSecret } from '../people/secrets.js';
import { inTurn } from '../turns.js';
import { usualRules } from './notify-stage.js';
import { resendDead } from './outbox-runner.js';
import { firmZone } from './voices.js';

/** What can be set up on this server. */
export interface Reachability {
  readonly sendsMail: boolean;
  /** What browsers subscribe to; null where web push is not set up. */
  readonly pushPublicKey: string | null;
  /** What is wrong with a push endpoint, in words; null where nothing is. */
  readonly endpointFault: (target: string) => string | null;
}

/** A way to reach somebody as it is shown: what the channel needs besides stays inside. */
export type AddressView = Omit<Address, 'secret' | 'endedMs'>;

export type NewAddress =
  | { readonly channel: 'email'; readonly target: string }
  | {
      readonly channel: 'web_push';
      readonly target: string;
      readonly keys: { readonly p256dh: string; readonly auth: string };
    };

/** Nobody has more phones and mailboxes than that; a script gone wild stops here. */
const MOST_ADDRESSES = 20;

/** The own rules; those that count for everybody where nothing was set. */
export async function ownContactRules(app: App, who: Principal): Promise<ContactRules> {
  own(who);
  const person = await app.store.people.person(who.personId);
  if (person === null) throw new DomainError('not_found', `There is no person ${who.personId}.`);
  return (await app.store.notify.rules(person.id)) ?? usualRules(person, await firmZone(app));
}

/**
 * Sets when and about what one wants to hear.
 * @throws DomainError `invalid_input` for an unknown site or stand-in, oneself as stand-in, or days that end before they
 *   begin
 */
export async function setContactRules(
  app: App,
  who: Principal,
  input: Omit<ContactRules, 'personId'>,
): Promise<ContactRules> {
  own(who);
  for (const [index, { fromDay, toDay }] of input.away.entries()) {
    if (toDay < fromDay) throw invalid(`/away/${index}/toDay`, `is ${toDay}, before ${fromDay}`);
  }
  if (input.siteIds !== null) {
    const known = new Set((await app.store.registry.sites({ kind: 'all' })).map((site) => site.id));
    const unknown = input.siteIds.findIndex((id) => !known.has(id));
    if (unknown >= 0) throw invalid(`/siteIds/${unknown}`, `there is no site “${input.siteIds[unknown]}”`);
  }
  if (input.standInId !== null) {
    const standIn = input.standInId === who.personId ? null : await app.store.people.person(input.standInId);
    if (standIn === null || !canStandIn(standIn)) {
      throw invalid('/standInId', 'is nobody else of the crew who can be told');
    }
  }
  const row: ContactRules = { ...input, personId: who.personId };
  await commit(app, who, [{ kind: 'contact_rules', row }]);
  return row;
}

/** Who may be told in one's place: everybody else of the crew, by name and no more. */
export async function standIns(
  app: App,
  who: Principal,
): Promise<readonly { readonly id: PersonId; readonly name: string }[]> {
  own(who);
  return (await app.store.people.people())
    .filter((person) => person.id !== who.personId && canStandIn(person))
    .map(({ id, name }) => ({ id, name }));
}

const canStandIn = (person: Person): boolean => person.disabledAtMs === null && person.role !== 'client';

/** Where one is reached. */
export async function ownAddresses(app: App, who: Principal): Promise<readonly AddressView[]> {
  own(who);
  return (await app.store.notify.addresses(who.personId)).map(viewOf);
}

/**
 * Adds a way to reach oneself; adding it again brings its keys up to date. A browser that somebody else subscribed is
 * from now on one's own: whoever signed in on it last reads what it shows.
 * @throws DomainError `conflict` where the channel is not set up or there are too many, `invalid_input`
 */
export function addOwnAddress(app: App, who: Principal, reach: Reachability, input: NewAddress): Promise<AddressView> {
  own(who);
  refuseNotSetUp(reach, input);
  return inTurn(app.store, async () => {
    const nowMs = app.clock.nowMs();
    const standing = await app.store.notify.addresses(who.personId);
    const id = addressId(input.channel, who.personId, input.target);
    const known = standing.find((address) => address.id === id) ?? null;
    if (known === null && standing.length >= MOST_ADDRESSES) {
      throw new DomainError('conflict', `There are ${standing.length} addresses already. Remove one first.`);
    }
    const row: Address = {
      id,
      personId: who.personId,
      channel: input.channel,
      target: input.target,
      secret: input.channel === 'web_push' ? JSON.stringify(input.keys) : null,
      createdMs: known?.createdMs ?? nowMs,
      endedMs: null,
    };
    const others =
      input.channel === 'web_push' ? await app.store.notify.addressesOfTarget(input.channel, input.target) : [];
    await commit(app, who, [
      ...others
        .filter((address) => address.id !== id)
        .map((address): Write => ({ kind: 'address', row: { ...address, endedMs: nowMs } })),
      { kind: 'address', row },
    ]);
    return viewOf(row);
  });
}

/** Ends one's own address; what waits for it is dropped. */
export async function removeOwnAddress(app: App, who: Principal, id: string): Promise<void> {
  own(who);
  const address = await app.store.notify.address(id);
  if (address === null || address.personId !== who.personId || address.endedMs !== null) {
    throw new DomainError('not_found', `You have no address ${id}.`);
  }
  await end(app, who, address);
}

/** Webhooks and topics that serve the whole firm. */
export async function firmAddresses(app: App, who: Principal): Promise<readonly AddressView[]> {
  allowed(who, 'contacts.firm');
  return (await app.store.notify.addresses(null)).map(viewOf);
}

/**
 * Adds a webhook that hears of every alert.
 * @returns the secret that signs, which cannot be shown again
 */
export async function addWebhook(
  app: App,
  who: Principal,
  target: string,
): Promise<{ readonly address: AddressView; readonly secret: string }> {
  allowed(who, 'contacts.firm');
  return inTurn(app.store, async () => {
    const standing = await app.store.notify.addresses(null);
    if (standing.some((address) => address.target === target)) {
      throw new DomainError('conflict', `${target} hears of every alert already. Remove it first for a new secret.`);
    }
    if (standing.length >= MOST_ADDRESSES) {
      throw new DomainError('conflict', `There are ${standing.length} addresses already. Remove one first.`);
    }
    const nowMs = app.clock.nowMs();
    const secret = generateSecret();
    const id = addressId('webhook', String(nowMs), target);
    const row: Address = { id, personId: null, channel: 'webhook', target, secret, createdMs: nowMs, endedMs: null };
    await commit(app, who, [{ kind: 'address', row }]);
    return { address: viewOf(row), secret };
  });
}

export async function removeFirmAddress(app: App, who: Principal, id: string): Promise<void> {
  allowed(who, 'contacts.firm');
  const address = await app.store.notify.address(id);
  if (address === null || address.personId !== null || address.endedMs !== null) {
    throw new DomainError('not_found', `The firm has no address ${id}.`);
  }
  if (address.channel === 'mqtt') {
    throw new DomainError(
      'conflict',
      'The topics events/… belong to the broker and stay. Take the reader’s credentials away.',
    );
  }
  await end(app, who, address);
}

/** An entry that was given up, with where it should have gone. */
export interface Undelivered {
  readonly entry: OutboxEntry;
  readonly personName: string | null;
  readonly target: string;
}

/** What was given up, oldest first. */
export async function undelivered(app: App, who: Principal, page: PageRequest): Promise<Page<Undelivered>> {
  allowed(who, 'undelivered.act');
  const { rows, nextCursor } = await app.store.notify.dead(page);
  const shown: Undelivered[] = [];
  for (const entry of rows) {
    const address = await app.store.notify.address(entry.addressId);
    const person = address?.personId == null ? null : await app.store.people.person(address.personId);
    shown.push({ entry, personName: person?.name ?? null, target: targetFor(address) });
  }
  return { rows: shown, nextCursor };
}

/** Puts an entry that was given up on its way again, under the id that it had. */
export async function sendAgain(app: App, who: Principal, id: string): Promise<OutboxEntry> {
  allowed(who, 'undelivered.act');
  const entry = await resendDead(app, id, { kind: 'person', id: who.personId });
  if (entry === null) throw new DomainError('not_found', `Nothing undelivered bears the id ${id}.`);
  return entry;
}

function refuseNotSetUp(reach: Reachability, input: NewAddress): void {
  if (input.channel === 'email') {
    if (reach.sendsMail) return;
    throw new DomainError('conflict', 'This server sends no mail. Whoever runs it sets BRIMLINE_SMTP_URL.');
  }
  if (reach.pushPublicKey === null) {
    throw new DomainError('conflict', 'This server sends no web push. Whoever runs it sets BRIMLINE_PUSH_CONTACT.');
  }
  const fault = reach.endpointFault(input.target);
  if (fault !== null) throw invalid('/target', fault);
}

/** A push endpoint is a secret of the browser: an owner sees whose service it is, and no more. */
function targetFor(address: Address | null): string {
  if (address === null) return '';
  return address.channel === 'web_push' ? new URL(address.target).origin : address.target;
}

function viewOf({ secret: _secret, endedMs: _endedMs, ...view }: Address): AddressView {
  return view;
}

function addressId(channel: ChannelKind, whose: string, target: string): string {
  return `${channel}-${createHash('sha256').update(`${whose}\n${target}`).digest('hex').slice(0, 24)}`;
}

function own(who: Principal): void {
  allowed(who, 'contacts.own', { accountId: null, personId: who.personId });
}

async function end(app: App, who: Principal, address: Address): Promise<void> {
  await commit(app, who, [{ kind: 'address', row: { ...address, endedMs: app.clock.nowMs() } }]);
}

async function commit(app: App, who: Principal, writes: readonly Write[]): Promise<void> {
  await app.store.commit({
    atMs: app.clock.nowMs(),
    actor: { kind: 'person', id: who.personId },
    writes,
    cursor: null,
  });
}

function invalid(pointer: string, detail: string): DomainError {
  return new DomainError('invalid_input', `${pointer.slice(1)} ${detail}.`, { faults: [{ pointer, detail }] });
}
