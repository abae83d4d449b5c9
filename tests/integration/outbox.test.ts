import { describe, expect, it } from 'vitest';
import type { App } from '../../src/app/context.js';
import { runNotifyStage, usualRules } from '../../src/app/fieldwork/notify-stage.js';
import { OutboxRunner, resendDead } from '../../src/app/fieldwork/outbox-runner.js';
import { voiceOfAddress } from '../../src/app/fieldwork/voices.js';
import type { Write } from '../../src/domain/change-set.js';
import type { Address } from '../../src/domain/notify.js';
import type { Channel, DeliveryOutcome, RenderedEntry } from '../../src/domain/ports/channel.js';
import type { Person } from '../../src/domain/registry.js';
import { EN } from '../../src/domain/texts/en/index.js';
import { render } from '../../src/domain/texts/render.js';
import type { Alert } from '../../src/domain/work.js';
import { openStore } from '../../src/store/open.js';
import { makeTempStore, openTempStore, silentLog } from '../support/temp-store.js';
import { twoAccountsWrites } from '../support/two-accounts.js';

const AT_MS = Date.UTC(2026, 7, 31, 8);

const TECHNICIAN: Person = {
  id: 'tech-1',
  name: 'Nuria',
  login: 'nuria',
  role: 'technician',
  accountId: null,
  language: 'en',
  units: { volume: 'L', length: 'mm', temperature: 'Cel' },
  disabledAtMs: null,
};

const ADDRESS: Address = {
  id: 'hook-1',
  personId: TECHNICIAN.id,
  channel: 'webhook',
  target: 'https://receiver.example/hook',
  secret: 'shared',
  createdMs: AT_MS,
  endedMs: null,
};

const ALERT: Alert = {
  id: 'stop:S1:tech-1:0',
  personId: TECHNICIAN.id,
  topic: 'stop:S1',
  revision: 1,
  message: [
    { code: 'alert.stop', params: { site: 'Harbour', pots: 1, dueByMs: AT_MS + 86_400_000, litres: 18 } },
    { code: 'alert.task.refill', params: { pot: 'Olive', litres: 18, dueByMs: AT_MS + 86_400_000 } },
  ],
  siteId: null,
  containerIds: [],
  createdMs: AT_MS,
  changedMs: AT_MS,
  readMs: null,
  withdrawnMs: null,
};

/** A far side that keeps what reached it; `answer` says what it does next. */
function receiver(answer: (attempt: number) => DeliveryOutcome | Error) {
  const received: RenderedEntry[] = [];
  const channel: Channel = {
    kind: 'webhook',
    deliver: async (rendered) => {
      received.push(rendered);
      const outcome = answer(received.length);
      if (outcome instanceof Error) throw outcome;
      return outcome;
    },
    close: async () => undefined,
  };
  return { channel, received };
}

const appOf = (store: App['store'], nowMs: number): App => ({ store, clock: { nowMs: () => nowMs }, log: silentLog });

const runnerOf = (app: App, channel: Channel): OutboxRunner =>
  new OutboxRunner(app, {
    channels: [channel],
    rng: () => 0.5,
    linkOf: () => null,
    voiceOf: async () => ({
      catalogue: EN,
      reader: { locale: 'en-GB', units: TECHNICIAN.units, timeZone: 'Europe/Madrid' },
    }),
  });

const zoneOf = async () => 'Europe/Madrid';

const write = (app: App, ...writes: Write[]) =>
  app.store.commit({ atMs: app.clock.nowMs(), actor: { kind: 'command', id: 'test' }, writes, cursor: null });

const begin = (app: App) =>
  write(app, { kind: 'person', row: TECHNICIAN }, { kind: 'address', row: ADDRESS }, { kind: 'alert', row: ALERT });

describe('the outbox', () => {
  it('sends an alert in the words and units of its reader', async () => {
    const { store } = await openTempStore();
    const app = appOf(store, AT_MS);
    await begin(app);
    await runNotifyStage(app, zoneOf);
    const { channel, received } = receiver(() => ({ kind: 'delivered' }));
    expect(await runnerOf(app, channel).runOnce()).toBe(1);
    expect(received[0]?.subject).toBe('Harbour: 1 pot to see to by Tue 1 Sept, 10:00, 18 L of water.');
    expect(received[0]?.lines).toEqual(['Olive: refill 18 L by Tue 1 Sept, 10:00']);
    expect(await runnerOf(app, channel).runOnce()).toBe(0);
  });

  it('loses nothing and changes no id, wherever the process dies', async () => {
    const temp = await makeTempStore();
    let { store } = temp;
    const die = async () => {
      await store.close();
      store = await openStore({ dir: temp.dir, log: silentLog });
      return appOf(store, AT_MS);
    };
    const died = new Error('the process died');

    let app = appOf(store, AT_MS);
    await begin(app);
    app = await die(); // after the alert, before its outbox entry
    await runNotifyStage(app, zoneOf);
    app = await die(); // after the entry, before delivery
    expect(await runNotifyStage(app, zoneOf)).toBeGreaterThan(0);

    const { channel, received } = receiver((attempt) => (attempt === 1 ? died : { kind: 'delivered' }));
    await expect(runnerOf(app, channel).runOnce()).rejects.toBe(died); // after delivery, before its result was written
    app = await die();
    expect(await runnerOf(app, channel).runOnce()).toBe(1);
    app = await die();
    expect(await runnerOf(app, channel).runOnce()).toBe(0);
    expect(received.map(({ entry }) => entry.id)).toEqual(['stop:S1:tech-1:0.1.hook-1', 'stop:S1:tech-1:0.1.hook-1']);
    await temp.remove().catch(() => undefined);
    await store.close();
  });

  it('waits longer after each failure, and gives up in the end where a person can send again', async () => {
    const { store } = await openTempStore();
    let nowMs = AT_MS;
    const app: App = { store, clock: { nowMs: () => nowMs }, log: silentLog };
    await begin(app);
    await runNotifyStage(app, zoneOf);
    const { channel, received } = receiver(() => ({ kind: 'failed', reason: 'no route', retryAfterMs: null }));
    const runner = runnerOf(app, channel);
    await runner.runOnce();
    expect(await runner.runOnce()).toBe(0);
    nowMs += 30_000;
    expect(await runner.runOnce()).toBe(1);
    expect(received).toHaveLength(2);

    const refusing = receiver(() => ({ kind: 'refused', reason: 'malformed' }));
    nowMs += 60_000;
    await runnerOf(app, refusing.channel).runOnce();
    const dead = await store.notify.dead({ limit: 10, cursor: null });
    expect(dead.rows.map(({ lastError }) => lastError)).toEqual(['malformed']);

    await resendDead(app, dead.rows[0]!.id);
    const { channel: mended, received: again } = receiver(() => ({ kind: 'delivered' }));
    expect(await runnerOf(app, mended).runOnce()).toBe(1);
    expect(again[0]?.entry.id).toBe(received[0]?.entry.id);
  });

  it('ends an address that is gone, and sends nothing there any more', async () => {
    const { store } = await openTempStore();
    const app = appOf(store, AT_MS);
    await begin(app);
    await runNotifyStage(app, zoneOf);
    await runnerOf(app, receiver(() => ({ kind: 'gone', reason: '410' })).channel).runOnce();
    expect((await store.notify.address(ADDRESS.id))?.endedMs).toBe(AT_MS);
    expect(await store.notify.addresses(TECHNICIAN.id)).toEqual([]);
  });

  it('says nothing about what has passed: an entry that outlived its use is dropped', async () => {
    const { store } = await openTempStore();
    await begin(appOf(store, AT_MS));
    await runNotifyStage(appOf(store, AT_MS), zoneOf);
    const { channel, received } = receiver(() => ({ kind: 'delivered' }));
    const threeDaysLater = appOf(store, AT_MS + 3 * 86_400_000);
    expect(await runnerOf(threeDaysLater, channel).runOnce()).toBe(1);
    expect(received).toEqual([]);
  });

  it('holds what comes at night until the digest’s hour', async () => {
    const { store } = await openTempStore();
    const nightMs = Date.UTC(2026, 7, 31, 21);
    await begin(appOf(store, nightMs));
    await runNotifyStage(appOf(store, nightMs), zoneOf);
    const { channel, received } = receiver(() => ({ kind: 'delivered' }));
    expect(await runnerOf(appOf(store, nightMs), channel).runOnce()).toBe(0);
    expect(await runnerOf(appOf(store, Date.UTC(2026, 8, 1, 4)), channel).runOnce()).toBe(1);
    expect(received).toHaveLength(1);
  });
});

describe('the voice in which somebody is told', () => {
  it('is the person’s language, units and zone; English, SI units and the zone of most sites for the firm’s systems', async () => {
    const { store } = await openTempStore();
    const app = appOf(store, AT_MS);
    const units = { volume: 'US_gal', length: 'in', temperature: 'degF' } as const;
    await write(app, ...twoAccountsWrites(), { kind: 'person', row: { ...TECHNICIAN, language: 'es', units } });
    const own = await voiceOfAddress(app, ADDRESS);
    expect(own.reader).toEqual({ locale: 'es', units, timeZone: 'Europe/Madrid' });
    expect(render(own.catalogue, ALERT.message[1]!, own.reader)).toBe(
      'Olive: rellenar 4,8 gal antes de mar, 1 sept, 10:00',
    );
    const rules = { ...usualRules(TECHNICIAN, 'Atlantic/Canary'), digestMinute: 300 };
    await write(app, { kind: 'contact_rules', row: rules });
    expect((await voiceOfAddress(app, ADDRESS)).reader.timeZone).toBe('Atlantic/Canary');
    const firm = await voiceOfAddress(app, { ...ADDRESS, personId: null });
    expect(firm).toEqual({
      catalogue: EN,
      reader: { locale: 'en-GB', units: TECHNICIAN.units, timeZone: 'Europe/Madrid' },
    });
  });
});
