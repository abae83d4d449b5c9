import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { newInvitation } from '../../src/app/people/invitations.js';
import { codeAt } from '../../src/app/people/totp.js';
import type { Invitation } from '../../src/domain/doors.js';
import { startTestServer, TEST_PASSWORD, type TestClient, type TestServer } from '../support/server.js';
import { twoAccountsWrites } from '../support/two-accounts.js';

const NEW_PASSWORD = 'a few words in a row';
const JSON_HEADERS = { 'content-type': 'application/json', 'x-brimline': '1' };

let server: TestServer;
let owner: TestClient;

beforeAll(async () => {
  server = await startTestServer({ seed: twoAccountsWrites() });
  owner = await server.login('owner');
});

afterAll(() => server.close());

interface Answer {
  readonly status: number;
  readonly body: Record<string, unknown>;
  readonly cookie: string | null;
}

async function post(path: string, body: unknown, headers: Record<string, string> = {}, on = server): Promise<Answer> {
  const answer = await fetch(`${on.url}/api/v1${path}`, {
    method: 'POST',
    headers: { ...JSON_HEADERS, ...headers },
    body: JSON.stringify(body),
  });
  const text = await answer.text();
  const [cookie] = answer.headers.getSetCookie();
  return {
    status: answer.status,
    body: text === '' ? {} : (JSON.parse(text) as Record<string, unknown>),
    cookie: cookie?.split(';', 1)[0] ?? null,
  };
}

async function statusOf(path: string, headers: Record<string, string>, method = 'GET', on = server): Promise<number> {
  return (await fetch(`${on.url}/api/v1${path}`, { method, headers })).status;
}

/** A link that ended a second before. */
function oldInvitation(personId: string, nowMs: number): { readonly token: string; readonly row: Invitation } {
  const { open, write } = newInvitation(personId, 'welcome', 'test', nowMs - 72 * 3_600_000 - 1_000);
  if (write.kind !== 'invitation') throw new Error('no invitation');
  return { token: open.token, row: write.row };
}

const tokenOf = (answer: { readonly body: unknown }): string => String((answer.body as { token: string }).token);

describe('an invitation', () => {
  it('lets somebody new set a password, once, and tells nobody else one', async () => {
    const added = await owner.post('/api/v1/people', { name: 'Nia', login: 'nia', role: 'technician', invite: true });
    expect(added.status).toBe(201);
    const { password, invitation } = added.body as { password: null; invitation: { link: string; token: string } };
    expect(password).toBeNull();
    expect(invitation.link).toBe(`${server.url}/#/welcome/${invitation.token}`);
    const { token } = invitation;
    expect((await post('/session', { login: 'nia', password: '' })).status).toBe(400);
    const look = await post('/invitations/look', { token });
    expect(look.body).toMatchObject({ name: 'Nia', login: 'nia', purpose: 'welcome' });
    expect((await post('/invitations/accept', { token, password: 'too short' })).status).toBe(400);
    expect((await post('/invitations/accept', { token, password: NEW_PASSWORD })).status).toBe(204);
    expect((await post('/invitations/accept', { token, password: 'another long password' })).status).toBe(404);
    expect((await post('/session', { login: 'nia', password: NEW_PASSWORD })).status).toBe(200);
  });

  it('is taken by one of two who use it at the same moment', async () => {
    const person = await server.addPerson('installer');
    const token = tokenOf(await owner.post(`/api/v1/people/${person.id}/invitation`));
    const both = await Promise.all(
      ['the first password', 'the other password'].map((password) => post('/invitations/accept', { token, password })),
    );
    expect(both.map(({ status }) => status).sort()).toEqual([204, 404]);
  });

  it('to recover a password ends the open sessions, and a newer link ends an older one', async () => {
    const client = await server.login('technician', { id: 'rob' });
    const older = tokenOf(await owner.post('/api/v1/people/rob/invitation'));
    const newer = await owner.post('/api/v1/people/rob/invitation');
    expect(newer.body).toMatchObject({ purpose: 'recovery' });
    expect((await post('/invitations/look', { token: older })).status).toBe(404);
    expect((await client.get('/api/v1/session')).status).toBe(200);
    expect((await post('/invitations/accept', { token: tokenOf(newer), password: NEW_PASSWORD })).status).toBe(204);
    expect((await client.get('/api/v1/session')).status).toBe(401);
  });

  it('is over for somebody who may no longer sign in', async () => {
    const person = await server.addPerson('technician');
    const token = tokenOf(await owner.post(`/api/v1/people/${person.id}/invitation`));
    await server.store.commit({
      atMs: 0,
      actor: { kind: 'command', id: 'test' },
      writes: [{ kind: 'person', row: { ...person, disabledAtMs: 1 } }],
      cursor: null,
    });
    expect((await post('/invitations/look', { token })).status).toBe(404);
    expect((await owner.post(`/api/v1/people/${person.id}/invitation`)).status).toBe(409);
  });

  it('is over after three days', async () => {
    const person = await server.addPerson('technician');
    const { expiresAt } = (await owner.post(`/api/v1/people/${person.id}/invitation`)).body as { expiresAt: string };
    expect(Date.parse(expiresAt) - Date.now()).toBeLessThanOrEqual(72 * 3_600_000);
    const { token, row } = oldInvitation(person.id, Date.now());
    await server.store.commit({
      atMs: 0,
      actor: { kind: 'command', id: 'test' },
      writes: [{ kind: 'invitation', row }],
      cursor: null,
    });
    expect((await post('/invitations/accept', { token, password: NEW_PASSWORD })).status).toBe(404);
  });

  it('stands nowhere in the database but as a hash', async () => {
    const person = await server.addPerson('technician');
    const token = tokenOf(await owner.post(`/api/v1/people/${person.id}/invitation`));
    expect(await server.store.doors.invitation(token)).toBeNull();
  });
});

describe('a session', () => {
  it('gets a new id at each log-in, and the one that the browser had ends', async () => {
    const client = await server.login('dispatcher', { id: 'dee' });
    const again = await post('/session', { login: 'dee', password: TEST_PASSWORD }, { cookie: client.cookie });
    expect(again.status).toBe(200);
    expect(again.cookie).not.toBe(client.cookie);
    expect((await client.get('/api/v1/session')).status).toBe(401);
  });

  it('ends where the role changes, so that an open page cannot go on with the old one', async () => {
    const client = await server.login('dispatcher', { id: 'rolf' });
    const { id: _id, disabledAt: _since, ...fields } = client.person as unknown as Record<string, unknown>;
    const renamed = await owner.put('/api/v1/people/rolf', { ...fields, name: 'Rolf', disabled: false });
    expect(renamed.status).toBe(200);
    expect((await client.get('/api/v1/session')).status).toBe(200);
    await owner.put('/api/v1/people/rolf', { ...fields, role: 'technician', disabled: false });
    expect((await client.get('/api/v1/session')).status).toBe(401);
  });

  it('goes on under a new id when its person sets another password, and all others end', async () => {
    const [here, elsewhere] = [await server.login('technician', { id: 'pia' }), await server.loginAs('pia')];
    const wrong = await here.put('/api/v1/password', { current: 'not it at all', password: NEW_PASSWORD });
    expect(wrong.status).toBe(400);
    const set = await here.put('/api/v1/password', { current: TEST_PASSWORD, password: NEW_PASSWORD });
    expect(set.status).toBe(204);
    const [cookie] = set.headers.getSetCookie();
    expect((await elsewhere.get('/api/v1/session')).status).toBe(401);
    expect((await here.get('/api/v1/session')).status).toBe(401);
    expect(await statusOf('/session', { cookie: cookie?.split(';', 1)[0] ?? '' })).toBe(200);
  });
});

interface Enrolled {
  readonly client: TestClient;
  readonly secret: string;
  readonly recoveryCodes: readonly string[];
}

/** Sets up a second factor for somebody new. */
async function enrol(id: string, on = server): Promise<Enrolled> {
  const client = await on.login('dispatcher', { id });
  const begun = await client.post('/api/v1/second-factor', { password: TEST_PASSWORD });
  expect(begun.status).toBe(200);
  const { secret, uri, qrSvg } = begun.body as { secret: string; uri: string; qrSvg: string };
  expect(uri).toMatch(new RegExp(`^otpauth://totp/Brimline:${id}\\?`));
  expect(qrSvg).toMatch(/^<svg/);
  // The code of the step before, so that the present one is still to be used.
  const confirmed = await client.post('/api/v1/second-factor/confirm', { code: codeAt(secret, Date.now() - 30_000) });
  expect(confirmed.status).toBe(200);
  const { recoveryCodes } = confirmed.body as { recoveryCodes: string[] };
  return { client, secret, recoveryCodes };
}

describe('a second factor', () => {
  it('is asked for after the password, and each code is taken once', async () => {
    const { client, secret } = await enrol('tess');
    expect((await client.get('/api/v1/session')).status).toBe(401);
    const login = { login: 'tess', password: TEST_PASSWORD };
    const first = await post('/session', login);
    expect([first.status, first.body.code]).toEqual([401, 'second_factor_needed']);
    expect(first.cookie).toBeNull();
    const wrong = await post('/session', { ...login, code: '000000' });
    expect([wrong.status, wrong.body.code]).toEqual([401, 'not_authenticated']);
    const code = codeAt(secret, Date.now() + 30_000);
    const both = await Promise.all([1, 2].map(() => post('/session', { ...login, code })));
    expect(both.map(({ status }) => status).sort()).toEqual([200, 401]);
    expect((await post('/session', { ...login, code: codeAt(secret, Date.now()) })).status).toBe(401);
  });

  it('does not tell a wrong password from an unknown log-in, whether there is one or not', async () => {
    await enrol('tina');
    const wrong = await post('/session', { login: 'tina', password: 'not it at all' });
    expect([wrong.status, wrong.body.code]).toEqual([401, 'not_authenticated']);
  });

  it('gives way to each recovery code once', async () => {
    const { recoveryCodes } = await enrol('tove');
    expect(recoveryCodes).toHaveLength(10);
    const [code] = recoveryCodes;
    const login = { login: 'tove', password: TEST_PASSWORD, code: code?.toUpperCase().replaceAll('-', ' ') };
    const first = await post('/session', login);
    expect(first.status).toBe(200);
    expect((await post('/session', login)).status).toBe(401);
    const state = await fetch(`${server.url}/api/v1/second-factor`, { headers: { cookie: first.cookie ?? '' } });
    expect(await state.json()).toEqual({ on: true, required: false, recoveryCodesLeft: 9 });
  });

  it('is guessed as slowly as a password', async () => {
    await enrol('tora');
    const login = { login: 'tora', password: TEST_PASSWORD, code: '000000' };
    const statuses: number[] = [];
    for (let i = 0; i < 6; i++) statuses.push((await post('/session', login)).status);
    expect(statuses.at(-1)).toBe(429);
  });

  it('is taken away by the owner for somebody who has lost the phone, and by its person with password and code', async () => {
    await enrol('tamy');
    expect((await owner.delete('/api/v1/people/tamy/second-factor')).status).toBe(204);
    const client = await server.loginAs('tamy');
    const { secret } = (await client.post('/api/v1/second-factor', { password: TEST_PASSWORD })).body as {
      secret: string;
    };
    const confirmed = await client.post('/api/v1/second-factor/confirm', { code: codeAt(secret, Date.now() - 30_000) });
    const cookie = confirmed.headers.getSetCookie()[0]?.split(';', 1)[0] ?? '';
    const drop = { password: TEST_PASSWORD, code: codeAt(secret, Date.now()) };
    expect((await post('/second-factor/drop', { ...drop, password: 'not it at all' }, { cookie })).status).toBe(400);
    expect((await post('/second-factor/drop', { ...drop, code: '000000' }, { cookie })).status).toBe(400);
    expect((await post('/second-factor/drop', drop, { cookie })).status).toBe(204);
    expect((await post('/session', { login: 'tamy', password: TEST_PASSWORD })).status).toBe(200);
  });

  it('that the firm demands has to be set up before anything else opens, by owners and dispatchers', async () => {
    const strict = await startTestServer({ environment: { BRIMLINE_SECOND_FACTOR: 'required' } });
    try {
      const dispatcher = await strict.login('dispatcher', { id: 'uma' });
      expect((await dispatcher.get('/api/v1/session')).body).toMatchObject({ mustEnrol: true });
      expect((await dispatcher.get('/api/v1/today')).body).toMatchObject({ code: 'second_factor_missing' });
      expect(
        (await dispatcher.put('/api/v1/password', { current: TEST_PASSWORD, password: NEW_PASSWORD })).status,
      ).toBe(403);
      const begun = await dispatcher.post('/api/v1/second-factor', { password: TEST_PASSWORD });
      const { secret } = begun.body as { secret: string };
      const code = codeAt(secret, Date.now());
      const confirmed = await dispatcher.post('/api/v1/second-factor/confirm', { code });
      const cookie = confirmed.headers.getSetCookie()[0]?.split(';', 1)[0] ?? '';
      expect(await statusOf('/today', { cookie }, 'GET', strict)).toBe(200);
      const technician = await strict.login('technician');
      expect((await technician.get('/api/v1/today')).status).toBe(200);
    } finally {
      await strict.close();
    }
  });
});

describe('a token for a program', () => {
  async function tokenFor(client: TestClient, actions: readonly string[]): Promise<{ token: string; id: string }> {
    const made = await client.post('/api/v1/tokens', { name: 'Spreadsheet', actions, days: 30 });
    expect(made.status, JSON.stringify(made.body)).toBe(201);
    const { token, apiToken } = made.body as { token: string; apiToken: { id: string } };
    return { token, id: apiToken.id };
  }

  const bearing = (token: string) => ({ authorization: `Bearer ${token}` });

  it('does what it was made for and nothing else, whatever its person may do', async () => {
    const { token } = await tokenFor(owner, ['alarms.read', 'weather.write']);
    expect(await statusOf('/alarms', bearing(token))).toBe(200);
    for (const path of ['/people', '/audit', '/containers', '/sites/S1/access', '/tokens', '/second-factor']) {
      expect(await statusOf(path, bearing(token)), path).toBe(403);
    }
    const me = await fetch(`${server.url}/api/v1/session`, { headers: bearing(token) });
    const { permissions } = (await me.json()) as { permissions: Record<string, string> };
    expect(Object.entries(permissions).filter(([, reach]) => reach !== 'none')).toEqual([
      ['alarms.read', 'all'],
      ['weather.write', 'all'],
    ]);
  });

  it('changes things without the header that guards cookies, since no page can make a browser send it', async () => {
    const { token } = await tokenFor(owner, ['weather.write']);
    const answer = await fetch(`${server.url}/api/v1/weather`, {
      method: 'POST',
      headers: { ...bearing(token), 'content-type': 'application/json' },
      body: JSON.stringify({ days: [{ siteId: 'S1', day: '2026-06-01', rainMm: 3 }] }),
    });
    expect(answer.status).toBeLessThan(300);
  });

  it('is not helped by a cookie beside it, nor does a wrong one fall back to the cookie', async () => {
    const { token } = await tokenFor(owner, ['alarms.read']);
    expect(await statusOf('/people', { ...bearing(token), cookie: owner.cookie })).toBe(403);
    expect(await statusOf('/people', { ...bearing('brl_wrong'), cookie: owner.cookie })).toBe(401);
  });

  it('never opens further doors, nor reaches further than its person', async () => {
    const dispatcher = await server.login('dispatcher', { id: 'drew' });
    for (const action of ['people.write', 'tokens.write', 'credentials.write']) {
      expect((await owner.post('/api/v1/tokens', { name: 'x', actions: [action] })).status, action).toBe(400);
    }
    expect((await dispatcher.post('/api/v1/tokens', { name: 'x', actions: ['audit.read'] })).status).toBe(400);
    const technician = await server.login('technician', { id: 'tim' });
    expect((await technician.post('/api/v1/tokens', { name: 'x', actions: ['alarms.read'] })).status).toBe(403);
    const { token } = await tokenFor(dispatcher, ['alarms.act', 'alarms.read']);
    const { id: _id, disabledAt: _since, ...fields } = dispatcher.person as unknown as Record<string, unknown>;
    await owner.put('/api/v1/people/drew', { ...fields, role: 'technician', disabled: false });
    expect(await statusOf('/alarms', bearing(token))).toBe(200);
    expect(
      await statusOf('/alarms/performance?from=2026-06-01T00:00:00Z&to=2026-06-02T00:00:00Z', bearing(token)),
    ).toBe(403);
  });

  it('ends when it is revoked, by its person or the owner, and when its person may no longer sign in', async () => {
    const dispatcher = await server.login('dispatcher', { id: 'dot' });
    const [own, other] = [await tokenFor(dispatcher, ['alarms.read']), await tokenFor(dispatcher, ['alarms.read'])];
    expect((await dispatcher.delete(`/api/v1/tokens/${own.id}`)).status).toBe(204);
    expect(await statusOf('/alarms', bearing(own.token))).toBe(401);
    expect(await statusOf('/alarms', bearing(other.token))).toBe(200);
    const { id: _id, disabledAt: _since, ...fields } = dispatcher.person as unknown as Record<string, unknown>;
    await owner.put('/api/v1/people/dot', { ...fields, disabled: true });
    expect(await statusOf('/alarms', bearing(other.token))).toBe(401);
    const listed = (await owner.get('/api/v1/tokens')).body as { items: { id: string; lastUsedAt: string | null }[] };
    expect(listed.items.find(({ id }) => id === other.id)?.lastUsedAt).not.toBeNull();
    expect(JSON.stringify(listed)).not.toContain('Hash');
  });
});
