import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { type Scope, WHOLE_FLEET } from '../../../src/domain/access.js';
import { makeTempStore, openTempStore, type TempStore } from '../../support/temp-store.js';
import { SCOPED } from './asks.js';
import { changeSet, DAY, idsOf, T0, worldOf } from './worlds.js';

const MINE: Scope = { kind: 'account', accountId: idsOf('A').account };

describe('a reader bound to one account', () => {
  // The tests only read, so they share one store.
  let temp: TempStore;
  beforeAll(async () => {
    temp = await makeTempStore();
    await temp.store.commit(changeSet([...worldOf('A'), ...worldOf('B')]));
  });
  afterAll(() => temp.remove());

  test.each(SCOPED)('%s gives rows of that account', async (_name, ask) => {
    expect(JSON.stringify(await ask(temp.store, MINE, idsOf('A')))).toMatch(/A-/);
  });

  test.each(SCOPED)('%s gives nothing of another account, also when asked for its ids', async (_name, ask) => {
    expect(JSON.stringify(await ask(temp.store, MINE, idsOf('B')))).not.toMatch(/B-/);
    expect(JSON.stringify(await ask(temp.store, WHOLE_FLEET, idsOf('B')))).toMatch(/B-/);
  });
});

test('a node that moved to another account is seen by the new one only', async () => {
  const { store } = await openTempStore();
  const [a, b] = [idsOf('A'), idsOf('B')];
  await store.commit(changeSet([...worldOf('A'), ...worldOf('B')]));
  await store.commit(
    changeSet([
      {
        kind: 'assignment',
        row: { id: a.assignment, nodeId: a.node, containerId: a.container, fromMs: T0 - 30 * DAY, toMs: T0, zeroMm: 5 },
      },
      {
        kind: 'assignment',
        row: { id: 'move', nodeId: a.node, containerId: b.container, fromMs: T0, toMs: null, zeroMm: 0 },
      },
    ]),
  );
  const seenBy = async (accountId: string) =>
    (await store.registry.nodes({ kind: 'account', accountId })).map((node) => node.id);
  expect(await seenBy(a.account)).toEqual([a.spareNode]);
  expect(await seenBy(b.account)).toEqual([a.node, b.node, b.spareNode]);
});
