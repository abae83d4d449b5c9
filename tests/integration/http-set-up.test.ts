import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { startTestServer, type TestServer } from '../support/server.js';

const FIRM = {
  name: 'Larch & Loam',
  currency: 'EUR',
  waterPricePerM3: 2.4,
  language: 'es',
  units: { volume: 'US_gal', length: 'in', temperature: 'degF' },
} as const;
const OWNER = { name: 'Ada Marsh', login: 'Ada', password: 'eleven wet pots' } as const;

describe('the first set-up', () => {
  let server: TestServer;
  beforeAll(async () => {
    server = await startTestServer();
  });
  afterAll(() => server.close());

  const post = async (body: object, headers: Readonly<Record<string, string>> = { 'x-brimline': '1' }) => {
    const answer = await fetch(`${server.url}/api/v1/set-up`, {
      method: 'POST',
      headers: { 'content-type': 'application/json', ...headers },
      body: JSON.stringify(body),
    });
    return {
      status: answer.status,
      body: (await answer.json()) as { readonly detail?: string; readonly role?: string },
    };
  };
  const awaits = async () =>
    ((await (await fetch(`${server.url}/api/v1/set-up`)).json()) as { awaits: boolean }).awaits;

  it('lets nobody in without the code of the console, and nobody from another page', async () => {
    expect(await awaits()).toBe(true);
    expect((await post({ ...OWNER, code: 'AAAAA-AAAAA', firm: FIRM })).status).toBe(403);
    const code = server.running.setUpCode;
    expect(
      (await post({ ...OWNER, code, firm: FIRM }, { 'x-brimline': '1', origin: 'http://evil.example' })).status,
    ).toBe(403);
    expect((await post({ ...OWNER, code, firm: FIRM }, {})).status).toBe(403);
    expect(await server.store.people.people()).toEqual([]);
  });

  it('names what is wrong and makes nobody', async () => {
    const code = server.running.setUpCode;
    const short = await post({ ...OWNER, password: 'short', code, firm: FIRM });
    expect(short.status).toBe(400);
    const money = await post({ ...OWNER, code, firm: { ...FIRM, currency: 'ZZZ' } });
    expect([money.status, money.body.detail]).toEqual([400, expect.stringContaining('ISO 4217')]);
    expect(await awaits()).toBe(true);
  });

  it('makes one owner with the firm, however the code is typed and however many try at once, and is closed then', async () => {
    const code = server.running.setUpCode.toLowerCase().replace('-', ' ');
    const tries = await Promise.all(
      [1, 2, 3].map((which) => post({ ...OWNER, login: `ada${which}`, code, firm: FIRM })),
    );
    expect(tries.map((one) => one.status).sort()).toEqual([201, 409, 409]);
    const people = await server.store.people.people();
    expect(people).toMatchObject([{ role: 'owner', language: 'es', units: FIRM.units }]);
    const owner = await server.loginAs(people[0]!.login, OWNER.password);
    expect((await owner.get('/api/v1/firm')).body).toEqual(FIRM);
    expect(await awaits()).toBe(false);
    expect((await post({ ...OWNER, code: server.running.setUpCode, firm: FIRM })).status).toBe(409);
  });
});

it('takes no more codes after many wrong ones, until the server starts again', async () => {
  const { SetUpDoor } = await import('../../src/app/people/set-up.js');
  const server = await startTestServer();
  try {
    const door = new SetUpDoor('ABCDE-FGHJK');
    const input = { ...OWNER, firm: { ...FIRM } };
    for (let i = 0; i < 20; i++) {
      await expect(door.enter(server.app, { ...input, code: `WRONG-${i}` })).rejects.toMatchObject({
        code: 'not_allowed',
      });
    }
    await expect(door.enter(server.app, { ...input, code: 'ABCDE-FGHJK' })).rejects.toMatchObject({
      code: 'too_many_attempts',
    });
  } finally {
    await server.close();
  }
});
