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
});
