import { randomUUID } from 'node:crypto';
import { readFile } from 'node:fs/promises';
import { join } from 'node:path';
import Database from 'better-sqlite3';
import { describe, expect, it, onTestFinished } from 'vitest';
import { WHOLE_FLEET } from '../../src/domain/access.js';
import { FILE_NAME } from '../../src/store/database.js';
import { startTestServer, type TestClient } from '../support/server.js';
import { makeTempDir } from '../support/temp-store.js';
import { TWO_ACCOUNTS, twoAccountsWrites } from '../support/two-accounts.js';

/** Words that would tell whose account it was; each stands in another kind of row. */
const TELLING = {
  account: 'Villa Quintessa',
  site: 'Palisander court',
  container: 'Zinnia trough',
  place: 'beside the xylophone',
  person: 'Berengaria Lund',
  login: 'berengaria.lund',
  mail: 'berengaria@quintessa.example',
  code: 'Gate code 90210',
  note: 'Mrs Lund was in tears',
};

async function liveAccount() {
  const dir = await makeTempDir();
  const server = await startTestServer({ dir, seed: twoAccountsWrites() });
  let open = true;
  const close = async (): Promise<void> => {
    if (open) await server.close();
    open = false;
  };
  onTestFinished(close);
  const owner = await server.login('owner');
  const account = TWO_ACCOUNTS.accounts.find(({ id }) => id === 'A1')!;
  await put(owner, '/api/v1/accounts/A1', { name: TELLING.account, dryRisk: account.dryRisk });
  for (const { id, ...site } of TWO_ACCOUNTS.sites.filter(({ accountId }) => accountId === 'A1')) {
    await put(owner, `/api/v1/sites/${id}`, { ...site, name: TELLING.site, latitude: 41.23456 });
    await put(owner, `/api/v1/sites/${id}/access`, { notes: TELLING.code, contacts: [] });
  }
  const client = await server.login('client', {
    id: 'client-1',
    accountId: 'A1',
    name: TELLING.person,
    login: TELLING.login,
  });
  await server.store.commit({
    atMs: 1,
    actor: { kind: 'person', id: 'client-1' },
    writes: [
      {
        kind: 'address',
        row: {
          id: 'mail-1',
          personId: 'client-1',
          channel: 'email',
          target: TELLING.mail,
          secret: null,
          createdMs: 1,
          endedMs: null,
        },
      },
    ],
    cursor: null,
  });
  const technician = await server.addPerson('technician', { id: 'tom' });
  await put(owner, `/api/v1/visits/${randomUUID()}`, {
    siteId: 'S1',
    technicianId: technician.id,
    happenedAt: '2026-06-02T10:00:00Z',
    note: TELLING.note,
    actions: [{ containerId: 'C1', work: 'refill', litres: 5 }],
  });
  await rename(owner, null);
  await server.settle();
  return { server, owner, client, dir, close };
}

async function rename(owner: TestClient, removedOn: string | null): Promise<void> {
  const sites = TWO_ACCOUNTS.sites.filter(({ accountId }) => accountId === 'A1').map(({ id }) => id);
  for (const { id, ...pot } of TWO_ACCOUNTS.containers.filter(({ siteId }) => sites.includes(siteId))) {
    await put(owner, `/api/v1/containers/${id}`, { ...pot, name: TELLING.container, place: TELLING.place, removedOn });
  }
}

async function put(client: TestClient, path: string, body: unknown): Promise<void> {
  const answer = await client.put(path, body);
  expect(answer.status, `${path} ${JSON.stringify(answer.body)}`).toBe(200);
}

describe('a client account', () => {
  it('is handed out whole, without a secret', async () => {
    const { owner } = await liveAccount();
    const answer = await owner.get('/api/v1/accounts/A1/personal-data');
    expect(answer.status).toBe(200);
    const text = JSON.stringify(answer.body);
    for (const word of Object.values(TELLING)) expect(text).toContain(word);
    expect(text).not.toMatch(/A2|S3|C3|scrypt/);
  });

  it('is not erased while its containers stand, nor without saying so', async () => {
    const { owner } = await liveAccount();
    expect((await owner.post('/api/v1/accounts/A1/erase', { confirm: 'yes' })).status).toBe(400);
    const answer = await owner.post('/api/v1/accounts/A1/erase', { confirm: 'erase' });
    expect([answer.status, JSON.stringify(answer.body)]).toEqual([409, expect.stringContaining('still stand')]);
  });

  it('that was erased is told by no byte of the database, and its water and the other accounts are as they were', async () => {
    const { server, owner, client, dir, close } = await liveAccount();
    await rename(owner, '2026-06-30');
    await server.settle();
    const days = { containerId: null, fromDay: '2026-01-01', toDay: '2026-12-31' };
    const ledger = () => server.store.pots.ledgerDays(WHOLE_FLEET, days);
    const before = await ledger();
    expect((await owner.post('/api/v1/accounts/A1/erase', { confirm: 'erase' })).status).toBe(204);
    await server.settle();
    expect(await ledger()).toEqual(before);
    expect((await client.get('/api/v1/session')).status).toBe(401);
    expect((await server.store.registry.sites({ kind: 'account', accountId: 'A1' }))[0]).toMatchObject({
      name: 'Site S1',
      latitude: 41.2,
    });
    const others = (await server.store.registry.sites({ kind: 'account', accountId: 'A2' })).map(({ name }) => name);
    expect(others).toEqual(TWO_ACCOUNTS.sites.filter(({ accountId }) => accountId === 'A2').map(({ name }) => name));
    const edits = JSON.stringify((await owner.get('/api/v1/edits?key=S1')).body);
    expect(edits).toMatch(/"actor":\{"kind":"person"/);
    await close();

    const db = new Database(join(dir, FILE_NAME));
    expect(db.pragma('foreign_key_check')).toEqual([]);
    db.pragma('wal_checkpoint(TRUNCATE)');
    db.close();
    const bytes = await readFile(join(dir, FILE_NAME));
    const told = Object.entries(TELLING).filter(([, word]) => bytes.includes(word));
    expect(told.map(([kind]) => kind)).toEqual([]);
  });
});
