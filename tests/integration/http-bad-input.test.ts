import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { type ApiDescription, routeRequests } from '../support/bad-requests.js';
import { startTestServer, type TestClient, TestClock, type TestServer } from '../support/server.js';
import { twoAccountsWrites } from '../support/two-accounts.js';

let server: TestServer;
let owner: TestClient;
let description: ApiDescription;

beforeAll(async () => {
  server = await startTestServer({ seed: twoAccountsWrites(), clock: new TestClock(Date.UTC(2026, 5, 5, 8)) });
  owner = await server.login('owner');
  description = (await (await fetch(`${server.url}/api/openapi.json`)).json()) as ApiDescription;
});

afterAll(() => server.close());

function expectAnswer(answer: { status: number; body: unknown }, about: string): void {
  expect(answer.status, `${about} ${JSON.stringify(answer.body)}`).toBeLessThan(500);
  if (answer.status >= 400) {
    expect(answer.body, about).toMatchObject({
      type: expect.stringMatching(/^\/api\/problems\//),
      title: expect.any(String),
      status: answer.status,
      detail: expect.stringMatching(/\S/),
      next: expect.any(String),
      requestId: expect.any(String),
      faults: expect.any(Array),
    });
  }
}

describe('whatever is sent', () => {
  it('to any route gets an answer or a refusal in words, and never a fault of ours', async () => {
    const all = routeRequests(description);
    expect(all.length).toBeGreaterThan(50);
    for (const { key, method, requests } of all) {
      await fc.assert(
        fc.asyncProperty(requests, async ({ url, body }) => {
          const answer = await owner.request(method, url, body);
          expectAnswer(answer, `${key} ${url} ${JSON.stringify(body)}`);
        }),
        { numRuns: 12 },
      );
    }
  });

  it.each([
    ['nothing', '', 400],
    ['half a document', '{"id": ', 400],
    ['a document that is no object', '[1,2]', 400],
    ['two documents', '{}{}', 400],
    ['invalid UTF-8', new Uint8Array([0x22, 0xff, 0xfe, 0x22]), 400],
    ['a name twice', '{"id":"A9","id":"A8","name":"x","dryRisk":0.1}', 201],
    ['a prototype', '{"__proto__": {"x": 1}}', 400],
    ['more than the server takes', JSON.stringify({ name: 'x'.repeat(1_100_000) }), 413],
    ['ten megabytes', JSON.stringify({ name: 'x'.repeat(10_000_000) }), 413],
  ])('as a body that is %s is refused or taken in words', async (_name, body, status) => {
    const answer = await post('application/json', body);
    expect(answer.status).toBe(status);
    if (status >= 400) expect(answer.headers.get('content-type')).toMatch(/problem\+json/);
  });

  it.each(['text/plain', 'application/x-www-form-urlencoded', 'multipart/form-data; boundary=x', 'application/xml'])(
    'as %s is refused with the type that is taken',
    async (type) => {
      const answer = await post(type, 'id=A9');
      expect(answer.status).toBe(415);
      expect(((await answer.json()) as { detail: string }).detail).toContain('application/json');
    },
  );

  it.each([
    '/api/v1/containers/%E0%A4%A',
    '/api/v1/containers/%00',
    `/api/v1/containers/${'x'.repeat(3_000)}`,
    '/api/v1/containers/..%2f..%2fetc%2fpasswd',
    '/api/v1/nothing-of-the-kind',
    '/api/v2/containers',
    '//evil.example/api/v1/containers',
  ])('as the address %s is refused in words', async (path) => {
    const answer = await fetch(server.url + path, { headers: { cookie: owner.cookie } });
    expect([400, 403, 404, 414]).toContain(answer.status);
    expect(answer.headers.get('content-type')).toMatch(/problem\+json/);
  });

  it('says of each fault where it is and what was expected', async () => {
    const answer = await owner.post('/api/v1/sites', {
      id: 'has a blank',
      accountId: 'A1',
      name: '',
      latitude: 91,
      longitude: 'east',
      elevationM: 1,
      timeZone: 'Mars/Olympus',
      tap: 'yes',
    });
    expect(answer.status).toBe(400);
    const { faults } = answer.body as { faults: { pointer: string; detail: string }[] };
    expect(new Map(faults.map(({ pointer, detail }) => [pointer, detail]))).toEqual(
      new Map([
        ['/id', 'takes 1 to 64 letters, digits, dots, hyphens or underscores.'],
        ['/name', 'is empty.'],
        ['/latitude', 'is above 90.'],
        ['/longitude', 'is not a number.'],
        ['/timeZone', 'is not a zone of the IANA database, such as Europe/Madrid.'],
        ['/tap', expect.stringMatching(/boolean/)],
      ]),
    );
  });

  it('leaves the server at work', async () => {
    expect((await owner.get('/api/v1/containers/C3')).status).toBe(200);
    expect((await fetch(`${server.url}/readyz`)).status).toBe(200);
  });
});

function post(type: string, body: string | Uint8Array<ArrayBuffer>): Promise<Response> {
  return fetch(`${server.url}/api/v1/accounts`, {
    method: 'POST',
    headers: { 'content-type': type, 'x-brimline': '1', cookie: owner.cookie },
    body,
  });
}
