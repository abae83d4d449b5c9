import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { type Announcement, entriesFor } from '../../../src/alerts/outbox-rules.js';
import type { Address, OutboxEntry } from '../../../src/domain/notify.js';
import type { Alert } from '../../../src/domain/work.js';

const AT_MS = Date.UTC(2026, 7, 31, 7);
const HOUR_MS = 3_600_000;

const MAIL: Address = {
  id: 'mail-1',
  personId: 'p1',
  channel: 'email',
  target: 'crew@localhost',
  secret: null,
  createdMs: 0,
  endedMs: null,
};
const PUSH: Address = { ...MAIL, id: 'push-1', channel: 'web_push', target: 'https://localhost/push' };

function alertOf(changes: Partial<Alert> = {}, litres = 40): Alert {
  return {
    id: 'stop:S1:p1:0',
    personId: 'p1',
    topic: 'stop:S1',
    revision: 1,
    message: [{ code: 'alert.stop', params: { site: 'Harbour', pots: 2, dueByMs: AT_MS + 24 * HOUR_MS, litres } }],
    siteId: 'S1',
    containerIds: ['C1'],
    createdMs: AT_MS,
    changedMs: AT_MS,
    readMs: null,
    withdrawnMs: null,
    ...changes,
  };
}

const announce = (alert: Alert, changes: Partial<Announcement> = {}): Announcement => ({
  alert,
  addresses: [MAIL, PUSH],
  urgent: false,
  notBeforeMs: AT_MS,
  ...changes,
});

/** Applies what was decided, as the store would. */
function apply(standing: readonly OutboxEntry[], written: readonly OutboxEntry[]): readonly OutboxEntry[] {
  const byId = new Map(standing.map((entry) => [entry.id, entry]));
  for (const entry of written) byId.set(entry.id, entry);
  return [...byId.values()];
}

const delivered = (entries: readonly OutboxEntry[]): readonly OutboxEntry[] =>
  entries.map((entry) => (entry.state === 'waiting' ? { ...entry, state: 'delivered' } : entry));

describe('what goes into the outbox', () => {
  it('is one entry an address, and the same id whenever the same revision is announced', () => {
    const once = entriesFor(announce(alertOf()), [], AT_MS);
    expect(once.map(({ id }) => id)).toEqual(['stop:S1:p1:0.1.mail-1', 'stop:S1:p1:0.1.push-1']);
    expect(entriesFor(announce(alertOf()), [], AT_MS)).toEqual(once);
    expect(entriesFor(announce(alertOf()), once, AT_MS)).toEqual([]);
  });

  it('is nothing where the litres moved a little after they were told', () => {
    const told = delivered(entriesFor(announce(alertOf()), [], AT_MS));
    expect(entriesFor(announce(alertOf({ revision: 2 }, 41)), told, AT_MS + HOUR_MS)).toEqual([]);
  });

  it.each([
    ['a due date that moves out, or in by a few hours', { dueByMs: AT_MS + 14 * HOUR_MS }, false],
    ['a due date half a day sooner', { dueByMs: AT_MS + 11 * HOUR_MS }, true],
    ['a fifth more water', { litres: 48 }, false],
    ['a third more water', { litres: 54 }, true],
    ['less water', { litres: 10 }, false],
    ['a pot less', { pots: 1 }, false],
    ['another site', { site: 'Quay' }, true],
  ])('calls nobody again for %s, unless it changes what to do', (_what, params, isNews) => {
    const told = delivered(entriesFor(announce(alertOf()), [], AT_MS));
    const [message] = alertOf().message;
    const next = alertOf({ revision: 2, message: [{ ...message!, params: { ...message!.params, ...params } }] });
    expect(entriesFor(announce(next), told, AT_MS + HOUR_MS)).toHaveLength(isNews ? 2 : 0);
  });

  it('gives programs every number that moved', () => {
    const hook: Address = { ...MAIL, id: 'hook-1', channel: 'webhook' };
    const told = delivered(entriesFor(announce(alertOf(), { addresses: [hook] }), [], AT_MS));
    const next = announce(alertOf({ revision: 2 }, 48), { addresses: [hook] });
    expect(entriesFor(next, told, AT_MS + HOUR_MS)).toHaveLength(1);
  });

  it('replaces what still waits when there is more to say', () => {
    const waiting = entriesFor(announce(alertOf(), { addresses: [MAIL] }), [], AT_MS);
    const next = entriesFor(announce(alertOf({ revision: 2 }, 90), { addresses: [MAIL] }), waiting, AT_MS + 1);
    expect(next.map(({ id, state }) => [id, state])).toEqual([
      ['stop:S1:p1:0.1.mail-1', 'cancelled'],
      ['stop:S1:p1:0.2.mail-1', 'waiting'],
    ]);
  });

  it('takes back by push what was shown and is moot, and lets a mail be', () => {
    const told = delivered(entriesFor(announce(alertOf()), [], AT_MS));
    const moot = alertOf({ revision: 2, withdrawnMs: AT_MS + HOUR_MS });
    const written = entriesFor(announce(moot), told, AT_MS + HOUR_MS);
    expect(written.map(({ channel, withdrawal }) => [channel, withdrawal])).toEqual([['web_push', true]]);
  });

  it('is nothing where an alert came and went before anything was delivered', () => {
    const waiting = entriesFor(announce(alertOf()), [], AT_MS);
    const moot = alertOf({ revision: 2, withdrawnMs: AT_MS + 1 });
    const after = apply(waiting, entriesFor(announce(moot), waiting, AT_MS + 1));
    expect(after.map(({ state }) => state)).toEqual(['cancelled', 'cancelled']);
  });

  it('does not tell somebody by mail what the person has already read in the page', () => {
    expect(entriesFor(announce(alertOf({ readMs: AT_MS })), [], AT_MS)).toEqual([]);
  });

  it('tells again at once when what was told becomes urgent', () => {
    const told = delivered(entriesFor(announce(alertOf()), [], AT_MS));
    const written = entriesFor(announce(alertOf({ revision: 2 }), { urgent: true }), told, AT_MS + 1);
    expect(written.map(({ urgent }) => urgent)).toEqual([true, true]);
  });

  it('never leaves two waiting entries about one topic for one address', () => {
    const step = fc.record({
      litres: fc.integer({ min: 1, max: 500 }),
      moot: fc.boolean(),
      read: fc.boolean(),
      urgent: fc.boolean(),
      deliver: fc.boolean(),
    });
    fc.assert(
      fc.property(fc.array(step, { maxLength: 20 }), (steps) => {
        let standing: readonly OutboxEntry[] = [];
        steps.forEach(({ litres, moot, read, urgent, deliver }, index) => {
          const nowMs = AT_MS + index * HOUR_MS;
          const alert = alertOf(
            { revision: index + 1, readMs: read ? nowMs : null, withdrawnMs: moot ? nowMs : null },
            litres,
          );
          standing = apply(standing, entriesFor(announce(alert, { urgent, notBeforeMs: nowMs }), standing, nowMs));
          for (const address of [MAIL, PUSH]) {
            const waiting = standing.filter(({ addressId, state }) => addressId === address.id && state === 'waiting');
            expect(waiting.length).toBeLessThanOrEqual(1);
            if (moot) expect(waiting.every(({ withdrawal }) => withdrawal)).toBe(true);
          }
          if (deliver) standing = delivered(standing);
        });
      }),
    );
  });
});
