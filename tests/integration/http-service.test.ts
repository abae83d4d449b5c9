import { mkdir, mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { startTestServer, type TestServer } from '../support/server.js';
import { twoAccountsWrites } from '../support/two-accounts.js';

let server: TestServer;

beforeAll(async () => {
  server = await startTestServer({ seed: twoAccountsWrites() });
  await server.settle();
});

afterAll(() => server.close());

describe('for whoever runs the server', () => {
  it('says that it is alive and ready', async () => {
    expect(await (await fetch(`${server.url}/healthz`)).json()).toEqual({ status: 'ok' });
    const ready = await fetch(`${server.url}/readyz`);
    expect(ready.status).toBe(200);
    expect(await ready.json()).toEqual({ status: 'ready', reasons: [] });
  });

  it('is not ready while the broker that it should read from is away, and says so', async () => {
    const lonely = await startTestServer({ environment: { BRIMLINE_BROKER: 'mqtt://127.0.0.1:1' } });
    try {
      await expect.poll(async () => (await fetch(`${lonely.url}/readyz`)).status, { timeout: 30_000 }).toBe(503);
      const { reasons } = (await (await fetch(`${lonely.url}/readyz`)).json()) as { reasons: string[] };
      expect(reasons[0]).toMatch(/broker cannot be read/);
    } finally {
      await lonely.close();
    }
  });

  it('gives its numbers in the OpenMetrics format', async () => {
    const answer = await fetch(`${server.url}/metrics`);
    expect(answer.status).toBe(200);
    expect(answer.headers.get('content-type')).toMatch(/^application\/openmetrics-text; version=1\.0\.0/);
    const text = await answer.text();
    expect(text.trimEnd().endsWith('# EOF')).toBe(true);
    for (const name of [
      'brimline_change_log_seq',
      'brimline_stage_lag_changes{stage="analysis"} 0',
      'brimline_ingest_waiting 0',
      'brimline_containers_silent',
      'brimline_disk_free_bytes',
      'brimline_http_request_duration_seconds_bucket',
    ]) {
      expect(text).toContain(name);
    }
  });

  it('shows its numbers to nobody who comes through a proxy, unless with the token', async () => {
    const token = 'a-token-of-more-than-sixteen';
    const guarded = await startTestServer({ environment: { BRIMLINE_METRICS_TOKEN: token } });
    const ask = async (headers: Record<string, string>) => (await fetch(`${guarded.url}/metrics`, { headers })).status;
    try {
      const proxied = { 'x-forwarded-for': '203.0.113.9' };
      expect(await ask(proxied)).toBe(403);
      expect(await ask({ ...proxied, authorization: 'Bearer wrong' })).toBe(403);
      expect(await ask({ ...proxied, authorization: `Bearer ${token}` })).toBe(200);
    } finally {
      await guarded.close();
    }
  });

  it('explains each kind of refusal under the address that a problem names', async () => {
    const refused = await fetch(`${server.url}/api/v1/session`);
    const { type, code } = (await refused.json()) as { type: string; code: string };
    const explained = await fetch(server.url + type);
    expect(await explained.json()).toMatchObject({ code, status: 401, next: expect.stringMatching(/Sign in/) });
  });
});

describe('the pages', () => {
  let pages: TestServer;
  let dir: string;

  beforeAll(async () => {
    dir = await mkdtemp(join(tmpdir(), 'brimline-pages-'));
    await mkdir(join(dir, 'assets'));
    await writeFile(join(dir, 'index.html'), '<!doctype html><title>Brimline</title>');
    await writeFile(join(dir, 'sw.js'), 'self.skipWaiting();');
    await writeFile(join(dir, 'assets', 'main-4f2a.js'), 'export {};');
    pages = await startTestServer({ dashboardDir: dir });
  });

  afterAll(async () => {
    await pages.close();
    await rm(dir, { recursive: true, force: true });
  });

  const HTML = { accept: 'text/html,*/*' };

  it.each(['/', '/round', '/containers/C1?tab=water'])('answer under %s with the one page', async (path) => {
    const answer = await fetch(pages.url + path, { headers: HTML });
    expect(answer.status).toBe(200);
    expect(answer.headers.get('cache-control')).toBe('no-cache');
    expect(await answer.text()).toContain('<title>Brimline</title>');
  });

  it('let browsers keep files that bear a hash, and ask anew for the others', async () => {
    const asset = await fetch(`${pages.url}/assets/main-4f2a.js`);
    expect(asset.headers.get('cache-control')).toMatch(/immutable/);
    expect(asset.headers.get('content-type')).toMatch(/javascript/);
    expect((await fetch(`${pages.url}/sw.js`)).headers.get('cache-control')).toBe('no-cache');
  });

  it.each(['/assets/none.js', '/api/v1/none', '/api/none'])('do not stand in for %s', async (path) => {
    const answer = await fetch(pages.url + path, { headers: path.startsWith('/api') ? HTML : {} });
    expect(answer.status).toBe(404);
    expect(answer.headers.get('content-type')).toMatch(/problem\+json/);
  });

  it.each(['/../package.json', '/..%2fpackage.json', '/assets/..%2f..%2fpackage.json', '/%2e%2e/package.json'])(
    'give out nothing beside them for %s',
    async (path) => {
      const answer = await fetch(pages.url + path);
      expect(answer.status).toBeGreaterThanOrEqual(400);
    },
  );

  it('say how to build them where they are not built', async () => {
    const bare = await startTestServer({ dashboardDir: join(dir, 'none') });
    try {
      const answer = await fetch(bare.url, { headers: HTML });
      expect(answer.status).toBe(503);
      expect(await answer.text()).toContain('npm run build:dashboard');
    } finally {
      await bare.close();
    }
  });
});

describe('every answer', () => {
  it('forbids scripts from elsewhere, frames and guessing of types', async () => {
    const { headers } = await fetch(server.url, { headers: { accept: 'text/html' } });
    const policy = headers.get('content-security-policy') ?? '';
    expect(policy).toContain("default-src 'self'");
    expect(policy).toContain("frame-ancestors 'none'");
    expect(policy).not.toMatch(/unsafe|\*|https?:/);
    expect(headers.get('x-content-type-options')).toBe('nosniff');
    expect(headers.get('x-powered-by')).toBeNull();
  });

  it('bears a request id, which a refusal repeats', async () => {
    const answer = await fetch(`${server.url}/api/v1/session`);
    const { requestId } = (await answer.json()) as { requestId: string };
    expect(answer.headers.get('x-request-id')).toBe(requestId);
    expect(requestId).toMatch(/^[0-9a-f-]{36}$/);
  });

  it('of the API is kept by no cache', async () => {
    const owner = await server.login('owner');
    for (const path of ['/api/v1/accounts', '/api/v1/containers/none']) {
      expect((await owner.get(path)).headers.get('cache-control')).toBe('no-store');
    }
  });
});

describe('whoever asks too often', () => {
  it('is told to wait, in words and in Retry-After', async () => {
    const strict = await startTestServer({ environment: { BRIMLINE_REQUESTS_PER_MINUTE: '5' } });
    try {
      let last: Response | null = null;
      for (let i = 0; i < 7; i++) last = await fetch(`${strict.url}/api/v1/session`);
      expect(last?.status).toBe(429);
      expect(Number(last?.headers.get('retry-after'))).toBeGreaterThan(0);
      expect(await last?.json()).toMatchObject({ code: 'too_many_attempts', detail: expect.stringMatching(/Wait/) });
    } finally {
      await strict.close();
    }
  });

  it('is stopped sooner where passwords are tried', async () => {
    const strict = await startTestServer({ environment: { BRIMLINE_LOG_INS_PER_MINUTE: '3' } });
    try {
      const statuses: number[] = [];
      for (let i = 0; i < 5; i++) {
        const answer = await fetch(`${strict.url}/api/v1/session`, {
          method: 'POST',
          headers: { 'content-type': 'application/json', 'x-brimline': '1' },
          body: JSON.stringify({ login: `somebody-${i}`, password: 'a guess' }),
        });
        statuses.push(answer.status);
      }
      expect(statuses).toEqual([401, 401, 401, 429, 429]);
    } finally {
      await strict.close();
    }
  });
});
