import { mkdtemp, readFile, rm, stat, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import mqtt from 'mqtt';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { Page } from '../../src/domain/ports/store.js';
import type { ContainerItem, Me, Series } from '../../src/http/schemas/index.js';
import { type RunningCli, runHere, startCli } from '../support/cli.js';

/** Simulating and analysing 45 days of 120 pots takes most of a minute, more on a busy machine. */
const PREPARATION_MS = 400_000;
const START_BUSINESS = '2026-08-31T04:30:00.000Z';

let root: string;
let demo: RunningCli;
let url: string;
let cookie: string;

beforeAll(async () => {
  root = await mkdtemp(join(tmpdir(), 'brimline-demo-'));
  demo = startCli(['demo', '--dir', join(root, 'demo'), '--http', '0', '--mqtt', '0', '--ws', '0']);
  [, url = ''] = await demo.printed(/\n {2}(http:\/\/127\.0\.0\.1:\d+)\n/);
  await demo.printed(/Ctrl-C stops it/);
  cookie = await signIn('dispatcher');
}, PREPARATION_MS);

afterAll(async () => {
  await demo?.stop('SIGKILL');
  await rm(root, { recursive: true, force: true });
});

async function signIn(login: string): Promise<string> {
  const [, password = ''] = await demo.printed(/password of all is {2}(\S+)\n/);
  const answer = await fetch(`${url}/api/v1/session`, {
    method: 'POST',
    headers: { 'content-type': 'application/json', 'x-brimline': '1' },
    body: JSON.stringify({ login, password }),
  });
  expect(answer.status, login).toBe(200);
  return answer.headers.getSetCookie()[0]?.split(';', 1)[0] ?? '';
}

async function get<Body>(path: string): Promise<Body> {
  const answer = await fetch(url + path, { headers: { cookie } });
  expect(answer.status, path).toBe(200);
  return (await answer.json()) as Body;
}

describe('the demo', () => {
  it('shows the whole fleet, with a level and a dry date for nearly every pot', async () => {
    const { items } = await get<{ items: readonly ContainerItem[] }>('/api/v1/containers?limit=500');
    expect(items).toHaveLength(120);
    const known = items.filter(({ status }) => status?.forecast.knowledge === 'known' && status.forecast.dry !== null);
    expect(known.length).toBeGreaterThan(100);
  });

  it('has 45 days of history behind each page', async () => {
    const series = await get<Series>(
      `/api/v1/containers/C001/series?from=2026-07-17T00:00:00Z&to=${START_BUSINESS}&resolution=day`,
    );
    expect(series.time.length).toBeGreaterThanOrEqual(45);
  });

  it('lets each role in, by the log-ins that it prints', async () => {
    for (const role of ['dispatcher', 'technician', 'owner', 'installer', 'client']) {
      const [, login = ''] = await demo.printed(new RegExp(`\\n {4}${role} +([a-z]+)`));
      const headers = { cookie: await signIn(login) };
      const me = (await (await fetch(`${url}/api/v1/session`, { headers })).json()) as Me;
      expect(me).toMatchObject({ person: { role }, demo: true, now: { speed: 60 } });
    }
  });

  it('answers on its page', async () => {
    const answer = await fetch(url, { headers: { accept: 'text/html' } });
    // 503 where the pages were not built, with a page that says so.
    expect([200, 503]).toContain(answer.status);
    expect(answer.headers.get('content-type')).toMatch(/text\/html/);
    expect(await answer.text()).toContain('Brimline');
  });

  it('goes on living: readings from after its start arrive', async () => {
    await expect
      .poll(
        async () => {
          const { items } = await get<{ items: readonly ContainerItem[] }>('/api/v1/containers?limit=500');
          return items.filter(({ status }) => (status?.lastReadingAt ?? '') > START_BUSINESS).length;
        },
        { timeout: 90_000, interval: 1_000 },
      )
      .toBeGreaterThan(20);
  });

  it('takes a reading sent as the line says that it prints, and shows it', async () => {
    const line = /mosquitto_pub -h (\S+) -p (\d+) -q 1 -u (\S+) -P (\S+) -t (\S+) -m '(.+)'/;
    const [, host, port, user, password, topic = '', message = ''] = await demo.printed(line);
    const [, containerId] = await demo.printed(/\((C\d+)\) fell silent/);
    const [{ v: sentMm }] = JSON.parse(message) as [{ v: number }];
    const before = await get<Me>('/api/v1/session');
    const client = await mqtt.connectAsync(`mqtt://${host}:${port}`, {
      username: user ?? '',
      password: password ?? '',
      reconnectPeriod: 0,
    });
    await client.publishAsync(topic, message, { qos: 1 });
    await client.endAsync();
    const after = await get<Me>('/api/v1/session');
    const series = await get<Series>(
      `/api/v1/containers/${containerId}/series?from=${before.now.business}&to=${after.now.business}&resolution=raw`,
    );
    expect(series.levelMm).toEqual([sentMm]);
    await expect
      .poll(async () => (await get<Page<unknown> & { status: unknown }>(`/api/v1/containers/${containerId}`)).status, {
        timeout: 60_000,
        interval: 500,
      })
      .toMatchObject({ lastReadingAt: series.time[0], forecast: { knowledge: 'known' } });
  });

  it('keeps the simulator’s credentials to this user', async () => {
    const { mode } = await stat(join(root, 'demo', 'credentials.json'));
    expect(mode & 0o077).toBe(0);
  });

  it('stops in order, with the simulator, and remembers when', async () => {
    const result = await demo.stop('SIGINT');
    expect(result.status).toBe(0);
    expect(result.stderr).toContain('Closed.');
    const state = JSON.parse(await readFile(join(root, 'demo', 'demo.json'), 'utf8')) as { businessMs: number };
    expect(state.businessMs).toBeGreaterThan(Date.parse(START_BUSINESS));
    const log = await readFile(join(root, 'demo', 'demo.log'), 'utf8');
    expect(log).not.toMatch(/"level":"(error|fatal)"/);
    expect(log).not.toContain('the live simulator ended');
  });
});

describe('the demo’s folder', () => {
  it('is left alone where it holds files that no demo made', async () => {
    const file = join(root, 'precious.txt');
    await writeFile(file, 'mine');
    const result = await runHere(['demo', '--dir', root]);
    expect(result.status).toBe(1);
    expect(result.stderr).toMatch(/holds files that no demo made/);
    expect(await readFile(file, 'utf8')).toBe('mine');
  });

  it.each(['0', 'fast', '601'])('the speed %s is refused in words', async (speed) => {
    const result = await runHere(['demo', '--speed', speed]);
    expect(result.status).toBe(2);
    expect(result.stderr).toMatch(/1 to 600/);
  });
});
