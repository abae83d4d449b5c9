import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { startTestServer, type TestClient, TestClock, type TestServer } from '../support/server.js';
import { twoAccountsWrites } from '../support/two-accounts.js';

const MORNING_MS = Date.UTC(2026, 5, 5, 5);
const DAY_MS = 24 * 3_600_000;
const TODAY = '2026-06-05';
const TOMORROW = '2026-06-06';
const CARD = {
  notes: 'Gate code 4711#.',
  contacts: [{ name: 'Ines Vidal', phone: '+34 600 000 000', email: null }],
};

let server: TestServer;
let dispatcher: TestClient;
let technician: TestClient;
const clock = new TestClock(MORNING_MS);

beforeAll(async () => {
  server = await startTestServer({ seed: twoAccountsWrites(), clock });
  dispatcher = await server.login('dispatcher');
  technician = await server.login('technician', { id: 'tom' });
  await server.login('technician', { id: 'ria' });
  for (const siteId of ['S1', 'S2', 'S3']) await dispatcher.put(`/api/v1/sites/${siteId}/access`, CARD);
  for (const [siteId, technicianId, day] of [
    ['S1', 'tom', TODAY],
    ['S2', 'tom', TOMORROW],
    ['S3', 'ria', TODAY],
  ]) {
    expect((await dispatcher.post('/api/v1/rounds/stops', { siteId, technicianId, day })).status).toBe(201);
  }
});

afterAll(() => server.close());

interface Stop {
  readonly stop: { readonly siteId: string };
  readonly access: unknown;
}

async function stopsOf(client: TestClient, query: string): Promise<readonly Stop[]> {
  const { body } = await client.get(`/api/v1/rounds?${query}`);
  return (body as { items: { stops: Stop[] }[] }).items.flatMap((round) => round.stops);
}

async function looks(): Promise<readonly Record<string, unknown>[]> {
  const owner = await server.login('owner');
  return ((await owner.get('/api/v1/access-looks')).body as { items: Record<string, unknown>[] }).items;
}

describe('how to get into a site', () => {
  it('is with the stop for its technician, on its day', async () => {
    expect(await stopsOf(technician, `day=${TODAY}`)).toMatchObject([{ stop: { siteId: 'S1' }, access: CARD }]);
  });

  it('is not yet with tomorrow’s stop, and comes with the day', async () => {
    expect(await stopsOf(technician, `day=${TOMORROW}`)).toMatchObject([{ stop: { siteId: 'S2' }, access: null }]);
    expect((await technician.get('/api/v1/sites/S2/access')).status).toBe(404);
    clock.advance(DAY_MS);
    expect(await stopsOf(technician, `day=${TOMORROW}`)).toMatchObject([{ stop: { siteId: 'S2' }, access: CARD }]);
    expect((await technician.get('/api/v1/sites/S1/access')).status).toBe(404);
    clock.set(MORNING_MS);
  });

  it('is not shown to another technician, to an installer or to the client', async () => {
    expect((await technician.get('/api/v1/sites/S3/access')).status).toBe(404);
    for (const somebody of [await server.login('installer'), await server.login('client', { accountId: 'A1' })]) {
      expect((await somebody.get('/api/v1/sites/S1/access')).status).toBe(403);
    }
  });

  it('stands in no other answer', async () => {
    const owner = await server.login('owner');
    const paths = ['sites', 'today', `rounds?day=${TODAY}`, 'containers', 'containers/C1', 'audit', 'people', 'tasks'];
    for (const path of paths) {
      const answer = await owner.get(`/api/v1/${path}`);
      expect(answer.status, path).toBe(200);
      expect(JSON.stringify(answer.body), path).not.toMatch(/4711|Ines|34 600/);
    }
  });

  it('leaves a record of each look: who, where, when, on account of which stop', async () => {
    const before = (await looks()).length;
    expect((await dispatcher.get('/api/v1/sites/S1/access')).body).toEqual({ siteId: 'S1', ...CARD });
    clock.advance(60_000);
    expect((await technician.get('/api/v1/sites/S1/access')).status).toBe(200);
    const [latest, next, ...rest] = await looks();
    expect(rest).toHaveLength(before);
    expect(latest).toEqual({
      at: new Date(MORNING_MS + 60_000).toISOString(),
      personId: 'tom',
      siteId: 'S1',
      stopId: `tom:${TODAY}:S1`,
    });
    expect(next).toMatchObject({ personId: dispatcher.person.id, siteId: 'S1', stopId: null });
  });

  it('counts a round that is loaded again and again as one look in a quarter of an hour', async () => {
    clock.advance(DAY_MS / 24);
    const before = (await looks()).length;
    for (let i = 0; i < 3; i++) await stopsOf(technician, `day=${TODAY}`);
    expect(await looks()).toHaveLength(before + 1);
    clock.advance(16 * 60_000);
    await stopsOf(technician, `day=${TODAY}`);
    expect(await looks()).toHaveLength(before + 2);
  });
});
