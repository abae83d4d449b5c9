import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { Write } from '../../src/domain/change-set.js';
import { openStore } from '../../src/store/open.js';
import { followChanges } from '../support/event-stream.js';
import { startTestServer, type TestServer } from '../support/server.js';
import { silentLog } from '../support/temp-store.js';
import { TWO_ACCOUNTS, twoAccountsWrites } from '../support/two-accounts.js';

let server: TestServer;

beforeAll(async () => {
  server = await startTestServer({ seed: twoAccountsWrites() });
  await server.settle();
});

afterAll(() => server.close());

let renamed = 0;

/** Commits a change of one site's name. */
async function renameSite(id: string, store = server.store): Promise<void> {
  const site = TWO_ACCOUNTS.sites.find((candidate) => candidate.id === id);
  if (site === undefined) throw new Error(`no site ${id}`);
  renamed += 1;
  const row = { ...site, name: `${site.name} ${renamed}` };
  await store.commit({
    atMs: Date.now(),
    actor: { kind: 'command', id: 'test' },
    writes: [{ kind: 'site', row }],
    cursor: null,
  });
}

describe('the change stream', () => {
  it('tells of each change with the log’s number as its id', async () => {
    const owner = await server.login('owner');
    const stream = await followChanges(server.url, owner.cookie);
    expect(stream.status).toBe(200);
    expect(stream.contentType).toMatch(/^text\/event-stream/);
    const hello = await stream.next('hello');
    await renameSite('S1');
    const change = await stream.next('change', (data) => data.kind === 'site');
    expect(change.data).toMatchObject({ kind: 'site', key: 'S1', siteId: 'S1', seq: Number(change.id) });
    expect(Number(change.id)).toBeGreaterThan(Number(hello.id));
    expect(change.data).not.toHaveProperty('actor');
    await stream.close();
  });

  it('resumes after the last event that was seen, and misses nothing in between', async () => {
    const owner = await server.login('owner');
    const first = await followChanges(server.url, owner.cookie);
    await renameSite('S1');
    const seen = await first.next('change', (data) => data.key === 'S1');
    await first.close();
    await renameSite('S2');
    await renameSite('S3');
    const second = await followChanges(server.url, owner.cookie, seen.id);
    const missed = [
      await second.next('change', (data) => data.kind === 'site'),
      await second.next('change', (data) => data.kind === 'site'),
    ];
    expect(missed.map(({ data }) => data.key)).toEqual(['S2', 'S3']);
    await second.close();
  });

  it('shows a client the own account only', async () => {
    const client = await server.login('client', { accountId: 'A1' });
    const stream = await followChanges(server.url, client.cookie);
    await stream.next('hello');
    await renameSite('S3');
    await server.addPerson('technician');
    await renameSite('S1');
    const change = await stream.next('change');
    expect(change.data).toMatchObject({ kind: 'site', key: 'S1' });
    await stream.close();
  });

  it('says nothing of sessions, passwords and credentials to anybody', async () => {
    const owner = await server.login('owner');
    const stream = await followChanges(server.url, owner.cookie);
    await stream.next('hello');
    const person = await server.addPerson('dispatcher');
    await server.loginAs(person.login);
    await renameSite('S1');
    const kinds: string[] = [];
    for (;;) {
      const { data } = await stream.next('change');
      kinds.push(String(data.kind));
      if (data.kind === 'site') break;
    }
    expect(kinds).toEqual(['person', 'site']);
    await stream.close();
  });

  it('tells of what another process commits', async () => {
    const owner = await server.login('owner');
    const stream = await followChanges(server.url, owner.cookie);
    await stream.next('hello');
    const other = await openStore({ dir: server.dir, log: silentLog });
    await renameSite('S2', other);
    await other.close();
    expect((await stream.next('change', (data) => data.kind === 'site')).data.key).toBe('S2');
    await stream.close();
  });

  it('tells whoever missed too much to load everything anew', async () => {
    const owner = await server.login('owner');
    const many: Write[] = Array.from({ length: 10_100 }, (_unused, i) => ({
      kind: 'account',
      row: { id: `many-${i}`, name: `Account ${i}`, dryRisk: 0.05 },
    }));
    const { seq } = await server.store.commit({
      atMs: Date.now(),
      actor: { kind: 'command', id: 'test' },
      writes: many,
      cursor: null,
    });
    await server.settle();
    const stream = await followChanges(server.url, owner.cookie, '1');
    const reset = await stream.next('reset');
    expect(Number(reset.id)).toBeGreaterThanOrEqual(seq);
    await stream.close();
  });

  it('starts at the end for a number from another data folder', async () => {
    const owner = await server.login('owner');
    const stream = await followChanges(server.url, owner.cookie, '999999999');
    await stream.next('hello');
    await renameSite('S1');
    expect((await stream.next('change', (data) => data.kind === 'site')).data.key).toBe('S1');
    await stream.close();
  });

  it('is refused in words for an id that is none, and without a session', async () => {
    const owner = await server.login('owner');
    expect((await followChanges(server.url, owner.cookie, 'yesterday')).status).toBe(400);
    expect((await followChanges(server.url, 'brimline=none')).status).toBe(401);
  });

  it('ends with a word of goodbye when the server stops', async () => {
    const stopping = await startTestServer();
    const owner = await stopping.login('owner');
    const stream = await followChanges(stopping.url, owner.cookie);
    await stream.next('hello');
    const closing = stopping.close();
    expect((await stream.next('goodbye')).data.detail).toMatch(/Connect again/);
    await closing;
  });
});
