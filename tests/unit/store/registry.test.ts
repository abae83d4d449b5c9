import { describe, expect, test } from 'vitest';
import { WHOLE_FLEET } from '../../../src/domain/access.js';
import type { Write } from '../../../src/domain/change-set.js';
import type { PageRequest } from '../../../src/domain/ports/store.js';
import type { Container } from '../../../src/domain/registry.js';
import { openTempStore } from '../../support/temp-store.js';
import { changeSet, containerOf, DAY, idsOf, registryOf, T0 } from './worlds.js';

const ids = idsOf('A');
const EVERYTHING = { text: null, siteId: null, accountId: null } as const;

/** The rows of a list of writes, as the reader should give them back. */
const rowsOf = (writes: readonly Write[], kind: Write['kind']) =>
  writes.flatMap((write) => (write.kind === kind && 'row' in write ? [write.row] : []));

describe('the registry', () => {
  test('gives back all that was entered, as it was entered', async () => {
    const { store } = await openTempStore();
    const bare: Container = {
      ...containerOf('A'),
      id: 'A-bare',
      place: null,
      covered: true,
      removedOn: '2026-07-01',
      soil: null,
      potKg: null,
      plants: [],
    };
    const writes: readonly Write[] = [
      ...registryOf('A'),
      { kind: 'container', row: bare },
      { kind: 'depot', row: { id: 'D1', name: 'Yard', latitude: 41, longitude: 2 } },
      { kind: 'truck', row: { id: 'T1', name: 'Blue', tankLitres: 800, depotId: 'D1' } },
      { kind: 'truck', row: { id: 'T2', name: 'Spare', tankLitres: 0, depotId: null } },
    ];
    await store.commit(changeSet(writes));
    expect(await store.registry.fleet()).toEqual({
      accounts: rowsOf(writes, 'account'),
      sites: rowsOf(writes, 'site'),
      containers: [bare, containerOf('A')],
      gateways: rowsOf(writes, 'gateway'),
      nodes: rowsOf(writes, 'node'),
      assignments: rowsOf(writes, 'assignment'),
      depots: rowsOf(writes, 'depot'),
      trucks: rowsOf(writes, 'truck'),
      people: rowsOf(writes, 'person'),
    });
    expect(await store.registry.container(WHOLE_FLEET, 'A-bare')).toEqual(bare);
    expect(await store.registry.node(ids.node)).toEqual(rowsOf(writes, 'node')[0]);
    expect(await store.registry.node('nobody')).toBeNull();
  });

  test('takes a change of one field and logs the row once more', async () => {
    const { store } = await openTempStore();
    await store.commit(changeSet(registryOf('A')));
    const from = await store.changes.lastSeq();
    await store.commit(changeSet([{ kind: 'container', row: { ...containerOf('A'), potKg: null } }]));
    await store.commit(
      changeSet([{ kind: 'node', row: { id: ids.node, gatewayId: ids.gateway, promisedIntervalS: 60 } }]),
    );
    expect(await store.registry.container(WHOLE_FLEET, ids.container)).toEqual({ ...containerOf('A'), potKg: null });
    expect(await store.changes.after(from, 10)).toMatchObject([
      { kind: 'container', key: ids.container, containerId: ids.container },
      { kind: 'node', key: ids.node, containerId: ids.container, siteId: ids.site },
    ]);
  });
});

describe('a list of containers by page', () => {
  const names = ['Agave', 'bay', 'Cypress', 'citrus', 'Dwarf 100%', 'dwarf_2', 'Élan'];
  const filled = async () => {
    const { store } = await openTempStore();
    const rows = names.map((name, index) => ({
      ...containerOf('A'),
      id: `P${index}`,
      name,
      place: index === 1 ? 'pool' : null,
    }));
    const twin = { ...containerOf('A'), id: 'P9', name: 'bay' };
    await store.commit(
      changeSet([
        ...registryOf('A').filter((write) => write.kind === 'account' || write.kind === 'site'),
        ...[...rows, twin].map((row): Write => ({ kind: 'container', row })),
        ...registryOf('B'),
      ]),
    );
    return store;
  };

  test('comes whole and in order of name, whatever the size of the page', async () => {
    const store = await filled();
    for (const limit of [1, 2, 3, 9, 50]) {
      const seen: string[] = [];
      let page: PageRequest = { limit, cursor: null };
      for (;;) {
        const { rows, nextCursor } = await store.registry.containersPage(WHOLE_FLEET, page, EVERYTHING);
        expect(rows.length).toBeLessThanOrEqual(limit);
        seen.push(...rows.map((row) => row.id));
        if (nextCursor === null) break;
        page = { limit, cursor: nextCursor };
      }
      expect(seen).toEqual(['P0', 'B-pot', 'P1', 'P9', 'P3', 'P2', 'P4', 'P5', 'P6']);
    }
  });

  test.each([
    ['cy', ['P2']],
    ['POOL', ['P1']],
    ['100%', ['P4']],
    ['f_2', ['P5']],
    ['%', ['P4']],
    ['B-terrace', ['B-pot']],
    ['b-client', ['B-pot']],
    ['nothing', []],
  ])('finds %s in names, places, sites and accounts, letter by letter', async (text, found) => {
    const store = await filled();
    const { rows } = await store.registry.containersPage(
      WHOLE_FLEET,
      { limit: 50, cursor: null },
      { ...EVERYTHING, text },
    );
    expect(rows.map((row) => row.id)).toEqual(found);
  });

  test('is narrowed to a site or an account', async () => {
    const store = await filled();
    const count = async (filter: object) =>
      (await store.registry.containersPage(WHOLE_FLEET, { limit: 50, cursor: null }, { ...EVERYTHING, ...filter })).rows
        .length;
    expect(await count({ siteId: 'B-site' })).toBe(1);
    expect(await count({ accountId: 'A-account' })).toBe(8);
    expect(await count({ accountId: 'A-account', siteId: 'B-site' })).toBe(0);
  });

  test.each(['nonsense', Buffer.from('["one"]').toString('base64url'), Buffer.from('[1,2]').toString('base64url')])(
    'refuses the cursor %s, which it never gave out',
    async (cursor) => {
      const store = await filled();
      await expect(store.registry.containersPage(WHOLE_FLEET, { limit: 5, cursor }, EVERYTHING)).rejects.toMatchObject({
        code: 'invalid_input',
        faults: [{ pointer: 'cursor' }],
      });
    },
  );

  test.each([0, -1, 1.5, 1001, Number.NaN])('refuses a page of %d rows', async (limit) => {
    const store = await filled();
    await expect(store.registry.containersPage(WHOLE_FLEET, { limit, cursor: null }, EVERYTHING)).rejects.toMatchObject(
      { code: 'invalid_input' },
    );
  });
});

describe('people', () => {
  test('are found by login whatever its case, with their secret, and not without one', async () => {
    const { store } = await openTempStore();
    await store.commit(changeSet(registryOf('A')));
    expect(await store.people.personByLogin('A-login')).toBeNull();
    const secret = { personId: ids.person, passwordHash: 'scrypt$1' };
    await store.commit(changeSet([{ kind: 'person_secret', row: secret }]));
    const [person] = await store.people.people();
    expect(await store.people.personByLogin('a-LOGIN')).toEqual({ person, secret });
    expect(await store.people.person('nobody')).toBeNull();
  });

  test('lose sessions that ended before a new one began, and keep the others', async () => {
    const { store } = await openTempStore();
    const session = (tokenHash: string, createdMs: number) =>
      ({ kind: 'session', row: { tokenHash, personId: ids.person, createdMs, expiresMs: createdMs + DAY } }) as const;
    await store.commit(changeSet([...registryOf('A'), session('old', T0), session('fresh', T0 + DAY / 2)]));
    await store.commit(changeSet([session('new', T0 + DAY + 1)]));
    expect(await store.people.session('old')).toBeNull();
    expect(await store.people.session('fresh')).not.toBeNull();
    expect(await store.people.session('new')).not.toBeNull();
  });

  test('and principals have credentials that can be revoked', async () => {
    const { store } = await openTempStore();
    const row = {
      principalId: ids.node,
      kind: 'node',
      siteId: null,
      secretHash: 'scrypt$2',
      createdMs: T0,
      revokedMs: null,
      previousHash: 'scrypt$1',
      previousUntilMs: T0 + DAY,
    } as const;
    await store.commit(changeSet([{ kind: 'credential', row }]));
    expect(await store.people.credential(ids.node)).toEqual(row);
    await store.commit(changeSet([{ kind: 'credential', row: { ...row, revokedMs: T0 + 1 } }]));
    expect(await store.people.credential(ids.node)).toEqual({ ...row, revokedMs: T0 + 1 });
    expect(await store.people.credential('nobody')).toBeNull();
  });
});
