import { request } from 'node:http';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { startTestServer, TEST_PASSWORD, type TestServer } from '../support/server.js';
import { twoAccountsWrites } from '../support/two-accounts.js';

let server: TestServer;

beforeAll(async () => {
  server = await startTestServer({ seed: twoAccountsWrites() });
});

afterAll(() => server.close());

const JSON_HEADERS = { 'content-type': 'application/json', 'x-brimline': '1' };

function signIn(body: unknown, headers: Record<string, string> = JSON_HEADERS): Promise<Response> {
  return fetch(`${server.url}/api/v1/session`, { method: 'POST', headers, body: JSON.stringify(body) });
}

async function problemOf(answer: Response): Promise<Record<string, unknown>> {
  expect(answer.headers.get('content-type')).toMatch(/^application\/problem\+json/);
  return (await answer.json()) as Record<string, unknown>;
}

describe('signing in', () => {
  it('gives a cookie that scripts cannot read and other sites cannot send', async () => {
    const person = await server.addPerson('owner');
    const answer = await signIn({ login: person.login, password: TEST_PASSWORD });
    expect(answer.status).toBe(200);
    const [cookie] = answer.headers.getSetCookie();
    expect(cookie).toMatch(/^brimline=[A-Za-z0-9_-]{43};/);
    expect(cookie).toMatch(/HttpOnly/);
    expect(cookie).toMatch(/SameSite=Strict/);
    expect(cookie).toMatch(/Path=\//);
    const me = (await answer.json()) as Record<string, unknown>;
    expect(me).toMatchObject({ person: { id: person.id, role: 'owner' }, demo: false, now: { speed: 1 } });
    expect(JSON.stringify(me)).not.toMatch(/hash|password/i);
  });

  it('stores a hash of the token, never the token', async () => {
    const { cookie } = await server.login('owner');
    const token = cookie.split('=')[1] ?? '';
    expect(await server.store.people.session(token)).toBeNull();
  });

  it('does not tell whether the log-in or the password was wrong', async () => {
    const person = await server.addPerson('dispatcher');
    const [wrongPassword, wrongLogin] = await Promise.all([
      signIn({ login: person.login, password: 'not the password' }),
      signIn({ login: 'nobody-of-that-name', password: TEST_PASSWORD }),
    ]);
    expect([wrongPassword.status, wrongLogin.status]).toEqual([401, 401]);
    const [one, other] = [await problemOf(wrongPassword), await problemOf(wrongLogin)];
    expect(one.detail).toBe(other.detail);
  });

  it('takes the log-in in any case', async () => {
    const person = await server.addPerson('dispatcher');
    const answer = await signIn({ login: ` ${person.login.toUpperCase()} `, password: TEST_PASSWORD });
    expect(answer.status).toBe(200);
  });

  it('is refused to a disabled person, whose open sessions end at once', async () => {
    const client = await server.login('technician', {});
    expect((await client.get('/api/v1/session')).status).toBe(200);
    const owner = await server.login('owner');
    const { id: _id, disabledAt: _since, ...fields } = client.person as unknown as Record<string, unknown>;
    const changed = await owner.put(`/api/v1/people/${client.person.id}`, { ...fields, disabled: true });
    expect(changed.status).toBe(200);
    expect((await client.get('/api/v1/session')).status).toBe(401);
    expect((await signIn({ login: client.person.login, password: TEST_PASSWORD })).status).toBe(401);
  });

  it('is slowed after a few wrong passwords, also with the right one, and says for how long', async () => {
    const person = await server.addPerson('installer');
    for (let i = 0; i < 5; i++) await signIn({ login: person.login, password: 'a wrong guess' });
    const answer = await signIn({ login: person.login, password: TEST_PASSWORD });
    expect(answer.status).toBe(429);
    const waitS = Number(answer.headers.get('retry-after'));
    expect(waitS).toBeGreaterThan(0);
    expect(waitS).toBeLessThanOrEqual(30);
    expect((await problemOf(answer)).code).toBe('too_many_attempts');
  });

  it('counts guesses that are sent all at once', async () => {
    const person = await server.addPerson('installer');
    const answers = await Promise.all(
      Array.from({ length: 20 }, () => signIn({ login: person.login, password: 'a wrong guess' })),
    );
    expect(answers.filter(({ status }) => status === 401).length).toBeLessThanOrEqual(5);
  });
});

describe('a session', () => {
  it('ends when the person signs out', async () => {
    const client = await server.login('owner');
    const answer = await client.delete('/api/v1/session');
    expect(answer.status).toBe(204);
    expect(answer.headers.getSetCookie()[0]).toMatch(/brimline=;.*Expires=Thu, 01 Jan 1970/);
    expect((await client.get('/api/v1/session')).status).toBe(401);
  });

  it('ends everywhere when the person wants it so', async () => {
    const person = await server.addPerson('owner');
    const [here, there] = [await server.loginAs(person.login), await server.loginAs(person.login)];
    expect((await here.delete('/api/v1/session?everywhere=true')).status).toBe(204);
    expect((await there.get('/api/v1/session')).status).toBe(401);
  });

  it('ends with the password that it was opened by', async () => {
    const owner = await server.login('owner');
    const person = await server.addPerson('dispatcher');
    const client = await server.loginAs(person.login);
    const answer = await owner.put(`/api/v1/people/${person.id}/password`, {});
    expect(answer.status).toBe(200);
    expect((await client.get('/api/v1/session')).status).toBe(401);
    const { password } = answer.body as { password: string };
    await server.loginAs(person.login, password);
  });

  it('ends when its time is over', async () => {
    const person = await server.addPerson('owner');
    const client = await server.loginAs(person.login);
    const token = client.cookie.split('=')[1] ?? '';
    const { createHash } = await import('node:crypto');
    const tokenHash = createHash('sha256').update(token).digest('hex');
    const found = await server.store.people.session(tokenHash);
    if (found === null) throw new Error('the session is not in the store');
    await server.store.commit({
      atMs: Date.now(),
      actor: { kind: 'command', id: 'test' },
      writes: [{ kind: 'session', row: { ...found.session, expiresMs: Date.now() - 1 } }],
      cursor: null,
    });
    expect((await client.get('/api/v1/session')).status).toBe(401);
  });

  it('is not opened by a made-up token', async () => {
    for (const token of ['x', 'A'.repeat(43), '../../etc', '%00', '']) {
      const answer = await fetch(`${server.url}/api/v1/session`, { headers: { cookie: `brimline=${token}` } });
      expect(answer.status).toBe(401);
    }
  });

  it('keeps language and units with the person', async () => {
    const client = await server.login('client', { accountId: 'A1' });
    const preferences = { language: 'es', units: { volume: 'US_gal', length: 'in', temperature: 'degF' } };
    expect((await client.put('/api/v1/preferences', preferences)).status).toBe(200);
    expect((await client.get('/api/v1/session')).body).toMatchObject({ person: preferences });
  });
});

describe('requests from other sites', () => {
  it('cannot change anything: another origin is refused', async () => {
    const client = await server.login('owner');
    const answer = await client.request('DELETE', '/api/v1/session', undefined, { origin: 'https://evil.example' });
    expect(answer.status).toBe(403);
    expect(answer.body).toMatchObject({ code: 'not_allowed' });
    expect((await client.get('/api/v1/session')).status).toBe(200);
  });

  it('cannot change anything: a request without our header is refused, with words that name it', async () => {
    const client = await server.login('owner');
    const answer = await fetch(`${server.url}/api/v1/session`, {
      method: 'DELETE',
      headers: { cookie: client.cookie },
    });
    expect(answer.status).toBe(403);
    expect((await problemOf(answer)).detail).toMatch(/x-brimline/);
  });

  it('cannot sign somebody in either', async () => {
    const person = await server.addPerson('owner');
    const body = { login: person.login, password: TEST_PASSWORD };
    expect((await signIn(body, { ...JSON_HEADERS, origin: 'https://evil.example' })).status).toBe(403);
    expect((await signIn(body, { 'content-type': 'application/json' })).status).toBe(403);
  });

  it('get no leave to read answers', async () => {
    const answer = await fetch(`${server.url}/api/v1/session`, { headers: { origin: 'https://evil.example' } });
    expect(answer.headers.get('access-control-allow-origin')).toBeNull();
  });

  it('cannot reach us under a name of their own that leads to this machine', async () => {
    const { port } = new URL(server.url);
    const status = await new Promise<number | undefined>((resolve, reject) => {
      const headers = { host: `rebound.example:${port}`, 'x-brimline': '1' };
      const asked = request(`${server.url}/api/v1/session`, { method: 'POST', headers }, (answer) => {
        answer.resume();
        resolve(answer.statusCode);
      });
      asked.once('error', reject);
      asked.end();
    });
    expect(status).toBe(403);
  });

  it('are taken from our own pages', async () => {
    const client = await server.login('owner');
    const preferences = { language: 'en', units: client.person.units };
    const answer = await client.request('PUT', '/api/v1/preferences', preferences, { origin: server.url });
    expect(answer.status).toBe(200);
  });
});

describe('behind https', () => {
  it('the cookie is held to this host and to encrypted connections', async () => {
    const behind = await startTestServer({ environment: { BRIMLINE_PUBLIC_URL: 'https://water.example' } });
    try {
      const person = await behind.addPerson('owner');
      const answer = await fetch(`${behind.url}/api/v1/session`, {
        method: 'POST',
        headers: { ...JSON_HEADERS, origin: 'https://water.example' },
        body: JSON.stringify({ login: person.login, password: TEST_PASSWORD }),
      });
      expect(answer.headers.getSetCookie()[0]).toMatch(/^__Host-brimline=.*Secure/);
      expect(answer.headers.get('strict-transport-security')).toMatch(/max-age=\d{7,}/);
    } finally {
      await behind.close();
    }
  });
});
