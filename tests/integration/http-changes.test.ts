import { connect } from 'node:net';
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
    for (;;) {
      const { data } = await stream.next('change');
      expect(['S1', 'S2'], JSON.stringify(data)).toContain(data.siteId);
      expect(['status', 'derived', 'finding', 'site'], JSON.stringify(data)).toContain(data.kind);
      if (data.kind === 'site') break;
    }
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
    expect(kinds).toContain('person');
    for (const kind of ['session', 'person_secret', 'credential', 'checkpoints']) expect(kinds).not.toContain(kind);
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

  it('lets go of a reader that takes nothing, and holds little for it meanwhile', async () => {
    const strict = await startTestServer({ environment: { BRIMLINE_CHANGE_PATIENCE_SECONDS: '1' } });
    try {
      const owner = await strict.login('owner');
      const socket = connect(Number(new URL(strict.url).port), '127.0.0.1');
      const gone = new Promise<void>((resolve) => socket.once('close', () => resolve()));
      socket.on('error', () => {});
      socket.pause();
      socket.write(`GET /api/v1/changes HTTP/1.1\r\nHost: 127.0.0.1\r\nCookie: ${owner.cookie}\r\n\r\n`);
      const follow = async (): Promise<number> => {
        const text = await (await fetch(`${strict.url}/metrics`)).text();
        return Number(/brimline_change_streams (\d+)/.exec(text)?.[1]);
      };
      await expect.poll(follow, { timeout: 30_000 }).toBe(1);
      // Until more waits than the sockets' own buffers hold; ids are as long as they may be. Asking for the number of
      // streams between two commits lets the stream keep up, so that it has no reason to begin anew.
      for (let round = 0; round < 400 && (await follow()) > 0; round++) {
        await strict.store.commit({
          atMs: Date.now(),
          actor: { kind: 'command', id: 'test' },
          writes: Array.from({ length: 1_000 }, (_unused, i): Write => {
            const id = `${round}-${i}-`.padEnd(64, 'x');
            return { kind: 'account', row: { id, name: 'x', dryRisk: 0.05 } };
          }),
          cursor: null,
        });
      }
      expect(await follow()).toBe(0);
      socket.destroy();
      await gone;
    } finally {
      await strict.close();
    }
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
