import { join } from 'node:path';
import Database from 'better-sqlite3';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { FILE_NAME } from '../../src/store/database.js';
import { startTestServer, type TestClient, type TestServer } from '../support/server.js';
import { TWO_ACCOUNTS, twoAccountsWrites } from '../support/two-accounts.js';

let server: TestServer;
let owner: TestClient;

beforeAll(async () => {
  server = await startTestServer({ seed: twoAccountsWrites() });
  owner = await server.login('owner', { id: 'ada' });
});

afterAll(() => server.close());

interface EditEntry {
  readonly kind: string;
  readonly actor: unknown;
  readonly before: unknown;
  readonly after: unknown;
}

async function editsOf(key: string): Promise<readonly EditEntry[]> {
  const answer = await owner.get(`/api/v1/edits?key=${key}`);
  expect(answer.status).toBe(200);
  return (answer.body as { items: EditEntry[] }).items;
}

describe('what a person changes', () => {
  it('is kept with who did it and the values before and after, and only those that differ', async () => {
    const { id, ...site } = TWO_ACCOUNTS.sites[0]!;
    expect((await owner.put(`/api/v1/sites/${id}`, { ...site, name: 'Upper terrace', tap: false })).status).toBe(200);
    const [latest] = await editsOf(id);
    expect(latest).toMatchObject({
      kind: 'site',
      actor: { kind: 'person', id: 'ada' },
      before: { name: site.name, tap: 1 },
      after: { name: 'Upper terrace', tap: 0 },
    });
    expect(Object.keys(latest?.after ?? {})).toEqual(['name', 'tap']);
    const before = (await editsOf(id)).length;
    await owner.put(`/api/v1/sites/${id}`, { ...site, name: 'Upper terrace', tap: false });
    expect(await editsOf(id), 'nothing changed').toHaveLength(before);
  });

  it('shows that a secret changed, and never what it is', async () => {
    await owner.put('/api/v1/sites/S1/access', { notes: 'Gate code 4711', contacts: [] });
    await owner.post('/api/v1/credentials', { principalId: 'N1', kind: 'node' });
    await owner.put('/api/v1/people/ada/password', { password: 'a few words in a row' });
    owner = await server.loginAs('ada', 'a few words in a row');
    expect((await editsOf('S1')).find(({ kind }) => kind === 'site_access')?.after).toMatchObject({ sealed: '•' });
    expect((await editsOf('N1'))[0]?.after).toMatchObject({ secret_hash: '•' });
    expect((await editsOf('ada'))[0]).toMatchObject({ kind: 'person_secret', after: { password_hash: '•' } });
    const all = JSON.stringify((await owner.get('/api/v1/edits?limit=500')).body);
    expect(all).not.toMatch(/scrypt|4711/);
  });

  it('is told to the owner alone', async () => {
    expect((await (await server.login('dispatcher')).get('/api/v1/edits')).status).toBe(403);
  });

  it('cannot be rewritten or removed, not even in the database itself', async () => {
    const db = new Database(join(server.dir, FILE_NAME));
    for (const text of [
      'DELETE FROM edit',
      `UPDATE edit SET actor_id = 'somebody else'`,
      `UPDATE edit SET after_json = '{}'`,
      `UPDATE edit SET before_json = NULL, after_json = NULL, erased_ms = 1, actor_id = 'somebody else'`,
      'DELETE FROM access_look',
      `UPDATE access_look SET person_id = 'ada'`,
    ]) {
      const isLook = text.includes('access_look');
      if (isLook) await owner.get('/api/v1/sites/S1/access');
      expect(() => db.prepare(text).run(), text).toThrow(/only added to/);
    }
    db.close();
  });
});
