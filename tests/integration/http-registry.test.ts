import mqtt from 'mqtt';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { AssignmentJson, ContainerDetail, PageJson, Series } from '../../src/http/schemas/index.js';
import { startTestServer, type TestClient, TestClock, type TestServer } from '../support/server.js';
import { TWO_ACCOUNTS, twoAccountsWrites } from '../support/two-accounts.js';

const NOW_MS = Date.UTC(2026, 5, 5, 8);
const DAY_MS = 86_400_000;

let server: TestServer;
let owner: TestClient;

beforeAll(async () => {
  server = await startTestServer({ seed: twoAccountsWrites(), clock: new TestClock(NOW_MS) });
  owner = await server.login('owner');
});

afterAll(() => server.close());

const iso = (ms: number): string => new Date(ms).toISOString();

async function levelsOf(containerId: string): Promise<readonly (number | null)[]> {
  const path = `/api/v1/containers/${containerId}/series?from=${iso(NOW_MS - 10 * DAY_MS)}&to=${iso(NOW_MS)}&resolution=raw`;
  return ((await owner.get(path)).body as Series).levelMm;
}

describe('the registry', () => {
  it('takes an account, a site, a gateway, a node and a container, and gives them back', async () => {
    const account = { id: 'A9', name: 'Heron Court', dryRisk: 0.1 };
    const site = { ...TWO_ACCOUNTS.sites[0]!, id: 'S9', accountId: 'A9', name: 'Heron Court, yard' };
    const gateway = { id: 'G9', siteId: 'S9', name: 'Cellar' };
    const node = { id: 'N9', gatewayId: 'G9', promisedIntervalS: 600 };
    const container = { ...TWO_ACCOUNTS.containers[0]!, id: 'C9', siteId: 'S9', name: 'Fig' };
    for (const [path, row] of [
      ['accounts', account],
      ['sites', site],
      ['gateways', gateway],
      ['nodes', node],
      ['containers', container],
    ] as const) {
      const made = await owner.post(`/api/v1/${path}`, row);
      expect(made.status, JSON.stringify(made.body)).toBe(201);
      expect(made.body).toEqual(row);
      expect((await owner.post(`/api/v1/${path}`, row)).status).toBe(409);
    }
    const detail = (await owner.get('/api/v1/containers/C9')).body as ContainerDetail;
    expect(detail).toMatchObject({ container, site, accountName: 'Heron Court', events: [], assignments: [] });
  });

  it('changes what is there, and nothing that is not', async () => {
    const { id: _id, ...fields } = TWO_ACCOUNTS.accounts[0]!;
    expect((await owner.put('/api/v1/accounts/A1', { ...fields, name: 'Larkspur Hall' })).body).toMatchObject({
      id: 'A1',
      name: 'Larkspur Hall',
    });
    expect((await owner.put('/api/v1/accounts/none', fields)).status).toBe(404);
  });

  it.each([
    ['sites', { ...TWO_ACCOUNTS.sites[0]!, id: 'S8', accountId: 'none' }, '/accountId'],
    ['containers', { ...TWO_ACCOUNTS.containers[0]!, id: 'C8', siteId: 'none' }, '/siteId'],
    ['gateways', { id: 'G8', siteId: 'none', name: 'x' }, '/siteId'],
    ['nodes', { id: 'N8', gatewayId: 'none', promisedIntervalS: null }, '/gatewayId'],
  ])('refuses %s that lead nowhere, with the field', async (path, row, pointer) => {
    const answer = await owner.post(`/api/v1/${path}`, row);
    expect(answer.status).toBe(400);
    expect(answer.body).toMatchObject({ faults: [{ pointer }] });
  });

  it('refuses a strapping table that falls, with the pair', async () => {
    const strapping = [
      [0, 0],
      [60, 20],
      [120, 9],
    ];
    const row = { ...TWO_ACCOUNTS.containers[0]!, id: 'C8', reservoir: { strapping, overflowMm: 120, wickFootMm: 8 } };
    const answer = await owner.post('/api/v1/containers', row);
    expect(answer.status).toBe(400);
    expect(answer.body).toMatchObject({ faults: [{ pointer: '/reservoir/strapping/2' }] });
  });

  it('pages its lists by cursor, each row once', async () => {
    const seen: string[] = [];
    let cursor: string | null = null;
    do {
      const query: string = cursor === null ? '' : `&cursor=${cursor}`;
      const page = (await owner.get(`/api/v1/nodes?limit=2${query}`)).body as PageJson<{ id: string }>;
      expect(page.items.length).toBeLessThanOrEqual(2);
      seen.push(...page.items.map(({ id }) => id));
      cursor = page.nextCursor;
    } while (cursor !== null);
    const all = await server.store.registry.nodes({ kind: 'all' });
    expect(seen).toEqual(all.map(({ id }) => id).sort());
    expect((await owner.get('/api/v1/nodes?cursor=made-up')).status).toBe(400);
  });

  it('finds containers by a word of their name', async () => {
    const answer = await owner.get('/api/v1/containers?text=olive');
    expect((answer.body as PageJson<{ id: string }>).items.map(({ id }) => id)).toEqual(['C1']);
  });
});

describe('moving a node, entered late', () => {
  it('re-attributes what it measured since then', async () => {
    const rows = [4, 3, 2, 1].map((daysAgo, i) => ({
      nodeId: 'N3',
      timeMs: NOW_MS - daysAgo * DAY_MS,
      receivedMs: NOW_MS - daysAgo * DAY_MS,
      levelMm: 100 - 10 * i,
      moistureFraction: null,
      temperatureC: null,
      batteryV: null,
      batteryFraction: null,
      signalDbm: null,
    }));
    await server.store.commit({
      atMs: NOW_MS,
      actor: { kind: 'command', id: 'test' },
      writes: [{ kind: 'readings', rows }],
      cursor: null,
    });
    expect(await levelsOf('C3')).toEqual([105, 95, 85, 75]);
    const moved = await owner.post('/api/v1/assignments', {
      nodeId: 'N3',
      containerId: 'C2',
      from: iso(NOW_MS - 2.5 * DAY_MS),
      endOthers: true,
    });
    expect(moved.status, JSON.stringify(moved.body)).toBe(201);
    expect(await levelsOf('C3')).toEqual([105, 95]);
    expect(await levelsOf('C2')).toEqual([80, 70]);
    await server.settle();
    const detail = (await owner.get('/api/v1/containers/C2')).body as ContainerDetail;
    expect(detail.assignments).toHaveLength(1);
    await expect
      .poll(async () => ((await owner.get('/api/v1/containers/C2')).body as ContainerDetail).status, {
        timeout: 20_000,
      })
      .toMatchObject({ lastReadingAt: iso(NOW_MS - DAY_MS), nodeId: 'N3' });
  });

  it('is refused where two periods would overlap, in words that name them', async () => {
    const answer = await owner.post('/api/v1/assignments', {
      nodeId: 'N1',
      containerId: 'C3',
      from: iso(NOW_MS - DAY_MS),
    });
    expect(answer.status).toBe(409);
    expect((answer.body as { detail: string }).detail).toMatch(/“N1” is on container “C1” since .*endOthers/);
  });

  it('swaps two nodes that were mixed up, each pot keeping its own zero', async () => {
    const atMs = NOW_MS - 3.5 * DAY_MS;
    const added = await owner.post('/api/v1/assignments', {
      nodeId: 'N2',
      containerId: 'C3',
      from: iso(NOW_MS - 2.5 * DAY_MS),
      zeroMm: 5,
    });
    expect(added.status, JSON.stringify(added.body)).toBe(201);
    const answer = await owner.post('/api/v1/assignments/swap', { containerIds: ['C1', 'C3'], at: iso(atMs) });
    expect(answer.status, JSON.stringify(answer.body)).toBe(200);
    const rows = (answer.body as { items: readonly AssignmentJson[] }).items;
    expect(
      rows
        .map(({ nodeId, containerId, from, zeroMm }) => ({ nodeId, containerId, from, zeroMm }))
        .sort((a, b) => (a.nodeId < b.nodeId ? -1 : 1)),
    ).toEqual([
      { nodeId: 'N1', containerId: 'C3', from: iso(atMs), zeroMm: 5 },
      { nodeId: 'N2', containerId: 'C1', from: iso(NOW_MS - 2.5 * DAY_MS), zeroMm: 0 },
      { nodeId: 'N3', containerId: 'C1', from: iso(atMs), zeroMm: 0 },
    ]);
    expect(await levelsOf('C1')).toEqual([90]);
    expect(await levelsOf('C3')).toEqual([105]);
  });
});

describe('MQTT credentials made over HTTP', () => {
  it('open the broker until they are revoked, and the secret is never shown again', async () => {
    const made = await owner.post('/api/v1/credentials', { principalId: 'N2', kind: 'node' });
    expect(made.status).toBe(201);
    const { secret, credential } = made.body as { secret: string; credential: Record<string, unknown> };
    expect(credential).not.toHaveProperty('secretHash');
    const connect = () => mqtt.connectAsync(server.mqttUrl, { username: 'N2', password: secret, reconnectPeriod: 0 });
    const client = await connect();
    await client.publishAsync('nodes/N2/readings', '[{"n":"level","u":"mm","v":61}]', { qos: 1 });
    await client.endAsync();
    expect((await server.store.readings.latestOfNode('N2'))?.levelMm).toBe(61);
    expect((await owner.delete('/api/v1/credentials/N2')).status).toBe(200);
    await expect(connect()).rejects.toThrow();
  });

  it.each([
    [{ principalId: 'none', kind: 'node' }, '/principalId'],
    [{ principalId: 'none', kind: 'gateway' }, '/principalId'],
    [{ principalId: 'W1', kind: 'station' }, '/siteId'],
    [{ principalId: 'W1', kind: 'station', siteId: 'none' }, '/siteId'],
    [{ principalId: 'N1', kind: 'node', siteId: 'S1' }, '/siteId'],
  ])('are not made for %j', async (body, pointer) => {
    const answer = await owner.post('/api/v1/credentials', body);
    expect(answer.status).toBe(400);
    expect(answer.body).toMatchObject({ faults: [{ pointer }] });
  });
});

describe('people', () => {
  it('get a password that is shown once, and sign in with it', async () => {
    const made = await owner.post('/api/v1/people', { name: 'Ines', login: 'Ines', role: 'technician' });
    expect(made.status).toBe(201);
    const { password, person } = made.body as { password: string; person: { login: string } };
    expect(person.login).toBe('ines');
    const client = await server.loginAs('ines', password);
    expect((await client.get('/api/v1/people')).status).toBe(403);
    expect(JSON.stringify((await owner.get('/api/v1/people')).body)).not.toContain(password);
  });

  it.each([
    [{ name: 'X', login: 'x1', role: 'client' }, 400],
    [{ name: 'X', login: 'x1', role: 'client', accountId: 'none' }, 400],
    [{ name: 'X', login: 'x1', role: 'technician', accountId: 'A1' }, 400],
    [{ name: 'X', login: 'x1', role: 'owner', password: 'short' }, 400],
    [{ name: 'X', login: 'ines', role: 'owner' }, 409],
  ])('are not added as %j', async (body, status) => {
    expect((await owner.post('/api/v1/people', body)).status).toBe(status);
  });

  it('never leave the firm without an owner', async () => {
    const { id: _id, disabledAt: _since, ...fields } = owner.person as unknown as Record<string, unknown>;
    const answer = await owner.put(`/api/v1/people/${owner.person.id}`, {
      ...fields,
      role: 'technician',
      disabled: false,
    });
    expect(answer.status).toBe(409);
    expect((answer.body as { detail: string }).detail).toMatch(/last owner/);
  });
});

describe('the audit trail', () => {
  it('names who changed what, for the owner only', async () => {
    const { items } = (await owner.get('/api/v1/audit?limit=500')).body as PageJson<Record<string, unknown>>;
    expect(items).toContainEqual(
      expect.objectContaining({ kind: 'account', key: 'A9', actor: { kind: 'person', id: owner.person.id } }),
    );
  });
});
