import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { startTestServer, type TestClient, TestClock, type TestServer } from '../support/server.js';
import { twoAccountsWrites } from '../support/two-accounts.js';

let server: TestServer;
let owner: TestClient;
let paths: Paths;

interface Schema {
  readonly [keyword: string]: unknown;
}

interface Operation {
  readonly parameters?: readonly { readonly in: string; readonly name: string; readonly schema: Schema }[];
  readonly requestBody?: { readonly content: Readonly<Record<string, { readonly schema: Schema }>> };
}

type Paths = Readonly<Record<string, Readonly<Record<string, Operation>>>>;

beforeAll(async () => {
  server = await startTestServer({ seed: twoAccountsWrites(), clock: new TestClock(Date.UTC(2026, 5, 5, 8)) });
  owner = await server.login('owner');
  const document = (await (await fetch(`${server.url}/api/openapi.json`)).json()) as {
    readonly paths: Paths;
    readonly components: { readonly schemas: Readonly<Record<string, Schema>> };
  };
  paths = document.paths;
  components = document.components.schemas;
});

afterAll(() => server.close());

let components: Readonly<Record<string, Schema>> = {};

/** Values that belong to no schema, or to the edges of one. */
const NASTY: readonly unknown[] = [
  null,
  true,
  0,
  -1,
  1e308,
  -1e308,
  5e-324,
  2 ** 53,
  '',
  ' ',
  'NaN',
  'null',
  '\u0000',
  '\ud800',
  '💧'.repeat(200),
  'x'.repeat(5_000),
  '2026-02-30',
  '9999-12-31T23:59:59Z',
  '0000-01-01',
  "'; DROP TABLE container; --",
  '../../etc/passwd',
  '<script>alert(1)</script>',
  '%00',
  '__proto__',
  'constructor',
  [],
  [[]],
  {},
  { __proto__: { admin: true } },
  JSON.parse('{"__proto__":{"admin":true},"constructor":{"prototype":1}}'),
];

const nasty = fc.oneof(fc.constantFrom(...NASTY), fc.jsonValue({ maxDepth: 3 }), fc.string(), fc.double());

/** Values mostly of the schema's making, now and then with something else in their place. */
function valueFor(schema: Schema, depth = 0): fc.Arbitrary<unknown> {
  return fc.oneof({ weight: 6, arbitrary: fitting(schema, depth) }, { weight: 1, arbitrary: nasty });
}

function fitting(schema: Schema, depth: number): fc.Arbitrary<unknown> {
  const { $ref, anyOf, type, properties } = schema as {
    $ref?: string;
    anyOf?: readonly Schema[];
    type?: string;
    properties?: Readonly<Record<string, Schema>>;
  };
  if (depth > 6) return nasty;
  if ($ref !== undefined) {
    const target = components[$ref.replace('#/components/schemas/', '')];
    if (target === undefined) throw new Error(`${$ref} leads nowhere`);
    return fitting(target, depth);
  }
  if (anyOf !== undefined) return fc.oneof(...anyOf.map((one) => fitting(one, depth + 1)));
  if (Array.isArray(schema.enum)) return fc.constantFrom(...(schema.enum as unknown[]));
  if (schema.const !== undefined) return fc.constant(schema.const);
  switch (type) {
    case 'object':
      return fc.record(
        Object.fromEntries(Object.entries(properties ?? {}).map(([key, one]) => [key, valueFor(one, depth + 1)])),
        { requiredKeys: [...((schema.required as string[] | undefined) ?? [])] },
      );
    case 'array': {
      const prefix = schema.prefixItems as readonly Schema[] | undefined;
      if (prefix !== undefined) return fc.tuple(...prefix.map((one) => valueFor(one, depth + 1)));
      return fc.array(valueFor((schema.items as Schema | undefined) ?? {}, depth + 1), { maxLength: 4 });
    }
    case 'integer':
    case 'number':
      return fc.oneof(fc.integer({ min: -10, max: 1_000 }), fc.double({ noNaN: true, noDefaultInfinity: true }));
    case 'boolean':
      return fc.boolean();
    case 'null':
      return fc.constant(null);
    case 'string':
      return texts(schema);
    default:
      return nasty;
  }
}

function texts(schema: Schema): fc.Arbitrary<unknown> {
  const ids = fc.constantFrom('A1', 'S1', 'C1', 'C2', 'N1', 'N2', 'G1', 'AS1', 'none', 'x.y-z_1', 'Europe/Madrid');
  const format = schema.format;
  if (format === 'date') return fc.constantFrom('2026-06-01', '2026-06-05', '2000-01-01', '2200-12-31');
  if (format === 'date-time') {
    return fc.constantFrom(
      '2026-06-01T00:00:00Z',
      '2026-06-05T08:00:00.000Z',
      '2000-01-01T00:00:00Z',
      '2199-01-01T00:00:00Z',
    );
  }
  return fc.oneof(ids, fc.string({ maxLength: 30 }), fc.uuid());
}

/** Never in the way of the others: these end the session, or never end. */
const LEFT_OUT = new Set(['DELETE /api/v1/session', 'GET /api/v1/changes']);

function operations(): {
  readonly key: string;
  readonly method: string;
  readonly path: string;
  readonly operation: Operation;
}[] {
  return Object.entries(paths)
    .flatMap(([path, methods]) =>
      Object.entries(methods).map(([method, operation]) => ({
        key: `${method.toUpperCase()} ${path}`,
        method: method.toUpperCase(),
        path,
        operation,
      })),
    )
    .filter(({ key, path }) => path.startsWith('/api/v1/') && !LEFT_OUT.has(key));
}

function request(operation: Operation, path: string): fc.Arbitrary<{ readonly url: string; readonly body: unknown }> {
  const parameters = operation.parameters ?? [];
  const inPath = parameters.filter((parameter) => parameter.in === 'path');
  const inQuery = parameters.filter((parameter) => parameter.in === 'query');
  const json = operation.requestBody?.content['application/json']?.schema;
  return fc
    .record({
      path: fc.tuple(...inPath.map(({ schema }) => valueFor(schema))),
      query: fc.tuple(...inQuery.map(({ schema }) => fc.option(valueFor(schema)))),
      body: json === undefined ? fc.constant(undefined) : valueFor(json),
    })
    .map((values) => {
      let url = path;
      for (const [i, { name }] of inPath.entries()) {
        url = url.replace(`{${name}}`, encode(values.path[i]) || '%20');
      }
      const query = inQuery
        .flatMap(({ name }, i) => (values.query[i] === null ? [] : [`${name}=${encode(values.query[i])}`]))
        .join('&');
      return { url: query === '' ? url : `${url}?${query}`, body: values.body };
    });
}

function encode(value: unknown): string {
  const text = typeof value === 'string' ? value : JSON.stringify(value);
  // Lone surrogates cannot stand in an address.
  return encodeURIComponent(new TextDecoder().decode(new TextEncoder().encode((text ?? '').slice(0, 300))));
}

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
    const all = operations();
    expect(all.length).toBeGreaterThan(50);
    for (const { key, method, path, operation } of all) {
      await fc.assert(
        fc.asyncProperty(request(operation, path), async ({ url, body }) => {
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
