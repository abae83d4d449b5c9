import { stat } from 'node:fs/promises';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { Write } from '../../src/domain/change-set.js';
import type { OutboxEntry } from '../../src/domain/notify.js';
import { startTestServer, type TestClient, TestClock, type TestServer } from '../support/server.js';
import { twoAccountsWrites } from '../support/two-accounts.js';

const NOW_MS = Date.UTC(2026, 5, 5, 8);

let server: TestServer;
let clock: TestClock;
let owner: TestClient;
let technician: TestClient;

beforeAll(async () => {
  clock = new TestClock(NOW_MS);
  server = await startTestServer({
    seed: twoAccountsWrites(),
    clock,
    environment: {
      BRIMLINE_SMTP_URL: 'smtp://localhost:9',
      BRIMLINE_MAIL_FROM: 'Alerts <alerts@firm.example>',
      BRIMLINE_PUSH_CONTACT: 'mailto:owner@firm.example',
    },
  });
  owner = await server.login('owner');
  technician = await server.login('technician', {
    id: 'nuria',
    units: { volume: 'US_gal', length: 'in', temperature: 'degF' },
  });
});

afterAll(() => server.close());

const write = (...writes: Write[]) =>
  server.store.commit({ atMs: clock.nowMs(), actor: { kind: 'command', id: 'test' }, writes, cursor: null });

const RULES = {
  timeZone: 'Europe/Lisbon',
  siteIds: ['S1'],
  minimumPriority: 'medium',
  kinds: ['dry', 'leak'],
  working: [{ weekday: 1, fromMinute: 420, toMinute: 960 }],
  quiet: { fromMinute: 1_290, toMinute: 330 },
  digestMinute: 330,
  away: [{ fromDay: '2026-07-01', toDay: '2026-07-14' }],
  standInId: null,
};

describe('one’s own contact rules', () => {
  it('are the usual ones in the zone of most sites, until one sets others', async () => {
    const usual = await technician.get('/api/v1/contact-rules');
    expect(usual.body).toMatchObject({
      personId: 'nuria',
      timeZone: 'Europe/Madrid',
      siteIds: null,
      digestMinute: 360,
    });
    expect((await technician.put('/api/v1/contact-rules', RULES)).status).toBe(200);
    expect((await technician.get('/api/v1/contact-rules')).body).toEqual({ personId: 'nuria', ...RULES });
    expect((await owner.get('/api/v1/contact-rules')).body).toMatchObject({
      siteIds: null,
      kinds: null,
      working: null,
    });
  });

  it.each([
    ['a site that is not there', { ...RULES, siteIds: ['S1', 'S9'] }, '/siteIds/1'],
    ['oneself as stand-in', { ...RULES, standInId: 'nuria' }, '/standInId'],
    [
      'days away that end before they begin',
      { ...RULES, away: [{ fromDay: '2026-07-14', toDay: '2026-07-01' }] },
      '/away/0/toDay',
    ],
    ['a zone that is none', { ...RULES, timeZone: 'Mars/Olympus' }, '/timeZone'],
    ['a minute past midnight', { ...RULES, digestMinute: 1_440 }, '/digestMinute'],
  ])('refuse %s, and say where', async (_what, body, pointer) => {
    const answer = await technician.put('/api/v1/contact-rules', body);
    expect(answer.status).toBe(400);
    expect(answer.body).toMatchObject({ code: 'invalid_input', faults: [{ pointer }] });
  });
});

describe('one’s own addresses', () => {
  const push = (endpoint: string) => ({
    channel: 'web_push',
    target: endpoint,
    keys: { p256dh: 'B'.repeat(87), auth: 'a'.repeat(22) },
  });

  it('are added, listed without what is secret, and ended by nobody else', async () => {
    const added = await technician.post('/api/v1/addresses', { channel: 'email', target: 'nuria@firm.example' });
    expect(added.status, JSON.stringify(added.body)).toBe(201);
    const { id } = added.body as { id: string };
    await technician.post('/api/v1/addresses', push('https://push.example/one'));
    const listed = (await technician.get('/api/v1/addresses')).body as { items: { id: string }[] };
    expect(listed).toMatchObject({ sendsMail: true, sendsPush: true });
    expect(listed.items).toHaveLength(2);
    expect(JSON.stringify(listed)).not.toContain('aaaa');
    expect((await owner.delete(`/api/v1/addresses/${id}`)).status).toBe(404);
    expect((await technician.delete(`/api/v1/addresses/${id}`)).status).toBe(204);
    expect((await technician.delete(`/api/v1/addresses/${id}`)).status).toBe(404);
    expect(((await technician.get('/api/v1/addresses')).body as { items: unknown[] }).items).toHaveLength(1);
  });

  it('hold a browser once, for whoever subscribed it last', async () => {
    await technician.post('/api/v1/addresses', push('https://push.example/shared'));
    await technician.post('/api/v1/addresses', push('https://push.example/shared'));
    await owner.post('/api/v1/addresses', push('https://push.example/shared'));
    const targets = async (client: TestClient) =>
      ((await client.get('/api/v1/addresses')).body as { items: { target: string }[] }).items
        .map(({ target }) => target)
        .filter((target) => target.endsWith('shared'));
    expect(await targets(technician)).toEqual([]);
    expect(await targets(owner)).toEqual(['https://push.example/shared']);
  });

  it.each(['http://push.example/x', 'https://127.0.0.1/x', 'https://[::1]:8080/x', 'https://10.1.2.3/x', 'nonsense'])(
    'refuse %s as a push endpoint, which could reach what only this server can',
    async (target) => {
      const answer = await technician.post('/api/v1/addresses', push(target));
      expect(answer.status).toBe(400);
      expect(answer.body).toMatchObject({ faults: [{ pointer: '/target' }] });
    },
  );

  it('say that a channel is not set up rather than take what is never used', async () => {
    const bare = await startTestServer({ seed: twoAccountsWrites() });
    try {
      const somebody = await bare.login('dispatcher');
      const mail = await somebody.post('/api/v1/addresses', { channel: 'email', target: 'a@firm.example' });
      expect(mail.status).toBe(409);
      expect(mail.body).toMatchObject({ detail: expect.stringContaining('BRIMLINE_SMTP_URL') });
      expect((await somebody.post('/api/v1/addresses', push('https://push.example/x'))).status).toBe(409);
      expect((await somebody.get('/api/v1/push-key')).body).toEqual({ publicKey: null });
    } finally {
      await bare.close();
    }
  });
});

describe('the keys of web push', () => {
  it('lie in the data folder, readable by its owner alone', async () => {
    const { publicKey } = (await technician.get('/api/v1/push-key')).body as { publicKey: string };
    expect(Buffer.from(publicKey, 'base64url')).toHaveLength(65);
    expect((await stat(join(server.dir, 'push-keys.json'))).mode & 0o777).toBe(0o600);
  });
});

describe('a technician’s calendar', () => {
  const read = async (url: string) => {
    const answer = await fetch(url);
    return { status: answer.status, type: answer.headers.get('content-type'), text: await answer.text() };
  };
  const make = async (): Promise<string> => {
    const made = await technician.post('/api/v1/calendar');
    expect(made.status).toBe(201);
    return (made.body as { url: string }).url;
  };

  it('shows the own stops to whoever has the address, until it is made anew or revoked', async () => {
    expect((await technician.get('/api/v1/calendar')).body).toEqual({ createdAt: null });
    const stop = { siteId: 'S1', technicianId: 'nuria', day: '2026-06-08' };
    expect((await owner.post('/api/v1/rounds/stops', stop)).status).toBe(201);
    const first = await make();
    const feed = await read(first);
    expect(feed.status).toBe(200);
    expect(feed.type).toBe('text/calendar; charset=utf-8');
    const unfolded = feed.text.replace(/\r\n[ \t]/g, '');
    expect(unfolded).toMatch(/^BEGIN:VCALENDAR\r\n/);
    expect(unfolded).toContain('SUMMARY:1. Larkspur terrace');
    expect(unfolded).toContain('DTSTART;VALUE=DATE:20260608');
    // The address is all that guards it.
    expect(unfolded).not.toContain('Gate code');

    const second = await make();
    expect((await read(first)).status).toBe(404);
    expect((await read(second)).status).toBe(200);
    expect((await technician.delete('/api/v1/calendar')).status).toBe(204);
    expect((await read(second)).status).toBe(404);
  });

  it('keeps a hash of the token and never the token', async () => {
    const token = (await make()).split('/').at(-1)!.replace('.ics', '');
    const feed = await server.store.notify.calendarFeedOf('nuria');
    expect(feed?.tokenHash).toMatch(/^[0-9a-f]{64}$/);
    expect(JSON.stringify(await server.store.changes.audit({ limit: 500, cursor: null }))).not.toContain(token);
    expect(JSON.stringify(await server.store.changes.audit({ limit: 500, cursor: null }))).not.toContain(
      feed?.tokenHash,
    );
  });

  it('is closed to a person who is disabled', async () => {
    const url = await make();
    const person = await server.store.people.person('nuria');
    await write({ kind: 'person', row: { ...person!, disabledAtMs: clock.nowMs() } });
    expect((await read(url)).status).toBe(404);
    await write({ kind: 'person', row: person! });
    expect((await read(url)).status).toBe(200);
  });
});

describe('what the firm sends to other systems', () => {
  it('is listed with the topics of the broker, which stay', async () => {
    const added = await owner.post('/api/v1/firm-addresses', { target: 'https://hooks.example/one' });
    expect(added.status).toBe(201);
    const { address, secret } = added.body as { address: { id: string }; secret: string };
    expect(secret.length).toBeGreaterThanOrEqual(32);
    const listed = await owner.get('/api/v1/firm-addresses');
    expect(JSON.stringify(listed.body)).not.toContain(secret);
    expect(listed.body).toMatchObject({
      items: expect.arrayContaining([expect.objectContaining({ channel: 'mqtt' })]),
    });
    expect((await owner.post('/api/v1/firm-addresses', { target: 'https://hooks.example/one' })).status).toBe(409);
    expect((await owner.delete('/api/v1/firm-addresses/mqtt-events')).status).toBe(409);
    expect((await owner.delete(`/api/v1/firm-addresses/${address.id}`)).status).toBe(204);
    expect((await owner.post('/api/v1/firm-addresses', { target: 'ftp://hooks.example' })).status).toBe(400);
  });

  it('is listed where it was given up, and sent again under the same id', async () => {
    await write({
      kind: 'address',
      row: {
        id: 'dead-mail',
        personId: 'nuria',
        channel: 'email',
        target: 'gone@firm.example',
        secret: null,
        createdMs: NOW_MS,
        endedMs: null,
      },
    });
    const entry: OutboxEntry = {
      id: 'stop:S1:nuria:1.1.dead-mail',
      addressId: 'dead-mail',
      channel: 'email',
      topic: 'stop:S1',
      subject: { code: 'alert.digest_quiet', params: {} },
      body: [],
      withdrawal: false,
      urgent: false,
      createdMs: NOW_MS,
      notBeforeMs: NOW_MS,
      expiresMs: NOW_MS + 86_400_000,
      attempts: 40,
      state: 'dead',
      lastError: 'no route to host',
    };
    await write({ kind: 'outbox', row: entry });
    expect((await owner.get('/api/v1/undelivered')).body).toMatchObject({
      items: [
        {
          entry: { id: entry.id, lastError: 'no route to host' },
          target: 'gone@firm.example',
          personName: 'The technician',
        },
      ],
    });
    expect((await technician.get('/api/v1/undelivered')).status).toBe(403);
    const again = await owner.post(`/api/v1/undelivered/${encodeURIComponent(entry.id)}/send`);
    expect(again.body).toMatchObject({ id: entry.id, state: 'waiting', attempts: 0 });
    expect((await owner.get('/api/v1/undelivered')).body).toMatchObject({ items: [] });
    const audit = await server.store.changes.audit({ limit: 500, cursor: null });
    const line = audit.rows.find((row) => row.kind === 'outbox' && row.actor.kind === 'person');
    expect(line?.actor.id).toBe(owner.person.id);
    expect((await owner.post('/api/v1/undelivered/none/send')).status).toBe(404);
  });
});
