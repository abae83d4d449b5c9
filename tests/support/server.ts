import { randomUUID } from 'node:crypto';
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pino } from 'pino';
import type { App } from '../../src/app/context.js';
import { METRIC_UNITS } from '../../src/app/people/people.js';
import { hashSecret } from '../../src/app/people/secrets.js';
import { type RunningServer, startServer } from '../../src/commands/start-server.js';
import { readSettings } from '../../src/config.js';
import type { Write } from '../../src/domain/change-set.js';
import type { EpochMs } from '../../src/domain/ids.js';
import type { Clock } from '../../src/domain/ports/clock.js';
import type { Store } from '../../src/domain/ports/store.js';
import type { Person, Role } from '../../src/domain/registry.js';

/** A business clock that a test moves by hand. */
export class TestClock implements Clock {
  #nowMs: EpochMs;

  constructor(startMs: EpochMs) {
    this.#nowMs = startMs;
  }

  nowMs(): EpochMs {
    return this.#nowMs;
  }

  set(nowMs: EpochMs): void {
    this.#nowMs = nowMs;
  }

  advance(ms: number): void {
    this.#nowMs += ms;
  }
}

export interface TestServerOptions {
  /** A folder to use and keep; a new one, removed at the end, where it is left out. */
  readonly dir?: string;
  /** The business clock; the machine's where it is left out. */
  readonly clock?: Clock;
  /** The built pages; those of the last build where it is left out. */
  readonly dashboardDir?: string;
  /** Variables of the environment, as `serve` takes them. */
  readonly environment?: Readonly<Record<string, string>>;
  /** `silent` where it is left out; `debug` helps to find a fault. */
  readonly logLevel?: string;
  /** Written before the server starts. */
  readonly seed?: readonly Write[];
}

export interface Answer {
  readonly status: number;
  readonly headers: Headers;
  /** Parsed where it is JSON, text otherwise, null where there is none. */
  readonly body: unknown;
}

/** Somebody who is signed in. */
export interface TestClient {
  readonly person: Person;
  /** For the header `cookie`. */
  readonly cookie: string;
  request(method: string, path: string, body?: unknown, headers?: Readonly<Record<string, string>>): Promise<Answer>;
  get(path: string): Promise<Answer>;
  post(path: string, body?: unknown): Promise<Answer>;
  put(path: string, body: unknown): Promise<Answer>;
  delete(path: string): Promise<Answer>;
}

export interface TestServer {
  readonly url: string;
  /** Of the embedded broker. */
  readonly mqttUrl: string;
  readonly wsUrl: string;
  readonly dir: string;
  readonly store: Store;
  readonly app: App;
  readonly running: RunningServer;
  /** Adds somebody who can sign in with {@link TEST_PASSWORD}. */
  addPerson(role: Role, fields?: Partial<Person>): Promise<Person>;
  /** Adds somebody of that role, unless there is one, and signs in. */
  login(role: Role, fields?: Partial<Person>): Promise<TestClient>;
  loginAs(login: string, password?: string): Promise<TestClient>;
  /** Resolves when every stage has dealt with all that was committed. */
  settle(): Promise<void>;
  close(): Promise<void>;
}

export const TEST_PASSWORD = 'correct horse battery';

// Hashing at full cost would be most of what the tests do.
const TEST_COST = { n: 2 ** 4, r: 8, p: 1 };

const REQUEST_HEADERS = { 'x-brimline': '1' };

/** Starts a whole server of its own on free ports of this machine, in a folder of its own. */
export async function startTestServer(options: TestServerOptions = {}): Promise<TestServer> {
  const dir = options.dir ?? (await mkdtemp(join(tmpdir(), 'brimline-server-')));
  const settings = readSettings(
    { data: dir, http: '0', mqtt: '0', ws: '0' },
    {
      BRIMLINE_PLAN: 'off',
      BRIMLINE_PLAN_ITERATIONS: '60',
      BRIMLINE_REQUESTS_PER_MINUTE: '100000',
      BRIMLINE_LOG_INS_PER_MINUTE: '10000',
      ...options.environment,
    },
  );
  const log = pino({ level: options.logLevel ?? 'silent' });
  const { clock, seed, dashboardDir } = options;
  const running = await startServer(settings, log, {
    demo: false,
    ...(clock === undefined ? {} : { clock }),
    ...(dashboardDir === undefined ? {} : { dashboardDir }),
    beforeListening: async ({ store }) => {
      if (seed === undefined) return;
      const atMs = clock?.nowMs() ?? Date.now();
      await store.commit({ atMs, actor: { kind: 'command', id: 'test' }, writes: seed, cursor: null });
    },
  });
  const { app, store, url } = running;
  const passwordHash = await hashSecret(TEST_PASSWORD, TEST_COST);

  const addPerson = async (role: Role, fields: Partial<Person> = {}): Promise<Person> => {
    const id = fields.id ?? `${role}-${randomUUID().slice(0, 8)}`;
    const person: Person = {
      id,
      name: `The ${role}`,
      login: id.toLowerCase(),
      role,
      accountId: null,
      language: 'en',
      units: METRIC_UNITS,
      disabledAtMs: null,
      ...fields,
    };
    await store.commit({
      atMs: app.clock.nowMs(),
      actor: { kind: 'command', id: 'test' },
      writes: [
        { kind: 'person', row: person },
        { kind: 'person_secret', row: { personId: person.id, passwordHash } },
      ],
      cursor: null,
    });
    return person;
  };

  const loginAs = async (login: string, password = TEST_PASSWORD): Promise<TestClient> => {
    const answer = await fetch(`${url}/api/v1/session`, {
      method: 'POST',
      headers: { ...REQUEST_HEADERS, 'content-type': 'application/json' },
      body: JSON.stringify({ login, password }),
    });
    if (answer.status !== 200) throw new Error(`${login} cannot sign in: ${answer.status} ${await answer.text()}`);
    const { person } = (await answer.json()) as { person: Person };
    return clientOf(url, person, cookieOf(answer));
  };

  return {
    url,
    mqttUrl: running.mqttUrl ?? '',
    wsUrl: running.wsUrl ?? '',
    dir,
    store,
    app,
    running,
    addPerson,
    loginAs,
    login: async (role, fields = {}) => {
      const everybody = await store.people.people();
      const known = everybody.find((person) => person.role === role && Object.keys(fields).length === 0);
      return loginAs((known ?? (await addPerson(role, fields))).login);
    },
    settle: async () => {
      await running.stages.idle();
      // Nothing more of what was seeded comes: no need to wait until it could not.
      running.analysis.historyIsWhole();
      await running.stages.idle();
    },
    close: async () => {
      await running.stop();
      if (options.dir === undefined) await rm(dir, { recursive: true, force: true });
    },
  };
}

function cookieOf(answer: Response): string {
  const [cookie] = answer.headers.getSetCookie();
  if (cookie === undefined) throw new Error('the answer sets no cookie');
  return cookie.split(';', 1)[0] ?? '';
}

function clientOf(url: string, person: Person, cookie: string): TestClient {
  const request: TestClient['request'] = async (method, path, body, headers = {}) => {
    const answer = await fetch(`${url}${path}`, {
      method,
      headers: {
        ...REQUEST_HEADERS,
        cookie,
        ...(body === undefined ? {} : { 'content-type': 'application/json' }),
        ...headers,
      },
      ...(body === undefined ? {} : { body: JSON.stringify(body) }),
    });
    return { status: answer.status, headers: answer.headers, body: await bodyOf(answer) };
  };
  return {
    person,
    cookie,
    request,
    get: (path) => request('GET', path),
    post: (path, body = {}) => request('POST', path, body),
    put: (path, body) => request('PUT', path, body),
    delete: (path) => request('DELETE', path),
  };
}

async function bodyOf(answer: Response): Promise<unknown> {
  const text = await answer.text();
  if (text === '') return null;
  const type = answer.headers.get('content-type') ?? '';
  return /[/+]json/.test(type) ? (JSON.parse(text) as unknown) : text;
}
