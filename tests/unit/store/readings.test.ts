import { join } from 'node:path';
import Database from 'better-sqlite3';
import { describe, expect, test } from 'vitest';
import { WHOLE_FLEET } from '../../../src/domain/access.js';
import type { Reading } from '../../../src/domain/reading.js';
import { FILE_NAME } from '../../../src/store/database.js';
import { openTempStore } from '../../support/temp-store.js';
import { changeSet, DAY, HOUR, idsOf, reading, registryOf, T0 } from './worlds.js';

const ids = idsOf('A');
const take = (...rows: Reading[]) => changeSet([{ kind: 'readings', rows }]);

function superseded(dir: string): unknown[] {
  const db = new Database(join(dir, FILE_NAME), { readonly: true });
  try {
    return db.prepare('SELECT quantity, value, received_ms FROM reading_superseded ORDER BY 1, 2').raw().all();
  } finally {
    db.close();
  }
}

describe('a reading', () => {
  test('is kept as it was sent, also of a node that nobody registered', async () => {
    const { store } = await openTempStore();
    const sent = reading('stranger', T0, {
      levelMm: 41.25,
      moistureFraction: 0.31,
      temperatureC: -0.5,
      batteryV: 3.05,
      batteryFraction: 0.8,
      signalDbm: -71,
    });
    expect((await store.commit(take(sent))).readings).toEqual({ added: 1, completed: 0, corrected: 0, repeated: 0 });
    expect(await store.readings.ofNode('stranger', T0, T0 + 1)).toEqual([sent]);
    expect(await store.readings.ofNode('stranger', T0 - DAY, T0)).toEqual([]);
    expect(await store.changes.after(0, 10)).toMatchObject([
      { kind: 'readings', key: 'stranger', siteId: null, containerId: null, fromMs: T0, toMs: T0 },
    ]);
  });

  test('that is repeated changes nothing and is no news', async () => {
    const { store } = await openTempStore();
    const sent = reading(ids.node, T0, { levelMm: 41 });
    await store.commit(take(sent));
    const again = await store.commit(take(sent, { ...sent, receivedMs: sent.receivedMs + HOUR }));
    expect(again).toEqual({ seq: 1, readings: { added: 0, completed: 0, corrected: 0, repeated: 2 } });
    expect(await store.readings.ofNode(ids.node, T0, T0 + 1)).toEqual([sent]);
  });

  test('is filled in by a later one of the same instant', async () => {
    const { store } = await openTempStore();
    await store.commit(take(reading(ids.node, T0, { levelMm: 41 })));
    const more = await store.commit(take(reading(ids.node, T0, { batteryV: 3, receivedMs: T0 + HOUR })));
    expect(more.readings).toEqual({ added: 0, completed: 1, corrected: 0, repeated: 0 });
    expect(await store.readings.ofNode(ids.node, T0, T0 + 1)).toEqual([
      reading(ids.node, T0, { levelMm: 41, batteryV: 3 }),
    ]);
  });

  test('is corrected by a different value that was received later; the earlier value stays in the audit', async () => {
    const { store, dir } = await openTempStore();
    await store.commit(take(reading(ids.node, T0, { levelMm: 41, receivedMs: T0 + 1 })));
    const corrected = await store.commit(take(reading(ids.node, T0, { levelMm: 44, receivedMs: T0 + 2 })));
    expect(corrected.readings).toEqual({ added: 0, completed: 0, corrected: 1, repeated: 0 });
    expect(await store.readings.latestOfNode(ids.node)).toMatchObject({ levelMm: 44, receivedMs: T0 + 1 });
    expect(superseded(dir)).toEqual([['levelMm', 41, T0 + 1]]);
  });

  test('stays where a different value with an earlier receipt comes in after it, and that value is in the audit', async () => {
    const { store, dir } = await openTempStore();
    await store.commit(take(reading(ids.node, T0, { levelMm: 44, receivedMs: T0 + 2 })));
    await store.commit(take(reading(ids.node, T0, { levelMm: 41, receivedMs: T0 + 1 })));
    expect(await store.readings.latestOfNode(ids.node)).toMatchObject({ levelMm: 44, receivedMs: T0 + 1 });
    expect(superseded(dir)).toEqual([['levelMm', 41, T0 + 1]]);
    const again = await store.commit(take(reading(ids.node, T0, { levelMm: 41, receivedMs: T0 + 1 })));
    expect(again.readings.repeated).toBe(1);
  });

  test('with two values at one receipt keeps the greater', async () => {
    const { store, dir } = await openTempStore();
    await store.commit(take(reading(ids.node, T0, { levelMm: 44 }), reading(ids.node, T0, { levelMm: 41 })));
    await store.commit(take(reading(ids.node, T0, { levelMm: 45 })));
    expect(await store.readings.latestOfNode(ids.node)).toMatchObject({ levelMm: 45 });
    expect(superseded(dir)).toEqual([
      ['levelMm', 41, T0 + 1_000],
      ['levelMm', 44, T0 + 1_000],
    ]);
  });

  test('corrected back to its first value has that value again', async () => {
    const { store, dir } = await openTempStore();
    for (const [index, levelMm] of [41, 44, 41].entries()) {
      await store.commit(take(reading(ids.node, T0, { levelMm, receivedMs: T0 + index })));
    }
    expect(await store.readings.latestOfNode(ids.node)).toMatchObject({ levelMm: 41 });
    expect(superseded(dir)).toEqual([['levelMm', 44, T0 + 1]]);
  });

  test.each([Number.NaN, Number.POSITIVE_INFINITY])(
    'of %d is refused, since the file cannot hold it',
    async (levelMm) => {
      const { store } = await openTempStore();
      await expect(
        store.commit(take(reading(ids.node, T0), reading(ids.node, T0 + 1, { levelMm }))),
      ).rejects.toMatchObject({
        code: 'invalid_input',
        message: expect.stringContaining('levelMm of node A-node'),
      });
      expect(await store.readings.latestOfNode(ids.node)).toBeNull();
    },
  );
});

describe('a batch', () => {
  test('counts each row once, and the log tells each node in one line over the time that changed', async () => {
    const { store } = await openTempStore();
    await store.commit(
      changeSet([...registryOf('A'), { kind: 'readings', rows: [reading(ids.node, T0, { levelMm: 40 })] }]),
    );
    const from = await store.changes.lastSeq();
    const result = await store.commit(
      take(
        reading(ids.node, T0 + 2 * HOUR, { levelMm: 38 }),
        reading(ids.node, T0, { levelMm: 40 }),
        reading(ids.node, T0 + HOUR, { levelMm: 39 }),
        reading(ids.spareNode, T0, { levelMm: 7 }),
      ),
    );
    expect(result.readings).toEqual({ added: 3, completed: 0, corrected: 0, repeated: 1 });
    expect(await store.changes.after(from, 10)).toMatchObject([
      { key: ids.node, siteId: ids.site, containerId: ids.container, fromMs: T0 + HOUR, toMs: T0 + 2 * HOUR },
      { key: ids.spareNode, siteId: ids.site, containerId: null, fromMs: T0, toMs: T0 },
    ]);
  });

  test('that spans a move has a line for each pot', async () => {
    const { store } = await openTempStore();
    await store.commit(
      changeSet([
        ...registryOf('A'),
        ...registryOf('B'),
        {
          kind: 'assignment',
          row: {
            id: ids.assignment,
            nodeId: ids.node,
            containerId: ids.container,
            fromMs: T0 - DAY,
            toMs: T0,
            zeroMm: 5,
          },
        },
        {
          kind: 'assignment',
          row: { id: 'next', nodeId: ids.node, containerId: 'B-pot', fromMs: T0, toMs: null, zeroMm: 0 },
        },
      ]),
    );
    const from = await store.changes.lastSeq();
    await store.commit(take(reading(ids.node, T0 - HOUR), reading(ids.node, T0 + HOUR)));
    expect(await store.changes.after(from, 10)).toMatchObject([
      { key: ids.node, containerId: 'A-pot', siteId: 'A-site', fromMs: T0 - HOUR, toMs: T0 },
      { key: ids.node, containerId: 'B-pot', siteId: 'B-site', fromMs: T0, toMs: T0 + HOUR },
    ]);
  });
});

describe('when a node was last heard', () => {
  test('is the latest receipt, also of a repeat or of an old reading', async () => {
    const { store } = await openTempStore();
    await store.commit(take(reading(ids.node, T0, { levelMm: 40 }), reading(ids.spareNode, T0)));
    await store.commit(take(reading(ids.node, T0 - DAY, { levelMm: 50, receivedMs: T0 + HOUR })));
    await store.commit(take(reading(ids.spareNode, T0, { receivedMs: T0 + 2 * HOUR })));
    expect([...(await store.readings.lastHeard())]).toEqual([
      [ids.node, T0 + HOUR],
      [ids.spareNode, T0 + 2 * HOUR],
    ]);
    expect(await store.readings.latestOfNode(ids.node)).toMatchObject({ timeMs: T0, levelMm: 40 });
  });
});

describe('readings of a container', () => {
  const seen = async (store: Awaited<ReturnType<typeof openTempStore>>['store'], containerId: string) =>
    (await store.readings.ofContainer(WHOLE_FLEET, containerId, T0 - 10 * DAY, T0 + 10 * DAY)).map(
      ({ nodeId, timeMs, levelMm }) => [nodeId, (timeMs - T0) / HOUR, levelMm],
    );

  test('are those of its nodes while they stood in it, with the height of their zero added', async () => {
    const { store } = await openTempStore();
    await store.commit(changeSet(registryOf('A')));
    await store.commit(
      take(reading(ids.node, T0, { levelMm: 40 }), reading(ids.node, T0 + HOUR, { moistureFraction: 0.2 })),
    );
    expect(await seen(store, ids.container)).toEqual([
      [ids.node, 0, 45],
      [ids.node, 1, null],
    ]);
  });

  test('follow an assignment that is entered late, from its time on and with the end left out', async () => {
    const { store } = await openTempStore();
    await store.commit(changeSet([...registryOf('A'), ...registryOf('B')]));
    await store.commit(
      take(...[-1, 0, 1, 2].map((hour) => reading(ids.node, T0 + hour * HOUR, { levelMm: 40 + hour }))),
    );
    await store.commit(
      changeSet([
        {
          kind: 'assignment',
          row: {
            id: ids.assignment,
            nodeId: ids.node,
            containerId: ids.container,
            fromMs: T0 - 30 * DAY,
            toMs: T0,
            zeroMm: 5,
          },
        },
        {
          kind: 'assignment',
          row: { id: 'loan', nodeId: ids.node, containerId: 'B-pot', fromMs: T0, toMs: T0 + 2 * HOUR, zeroMm: 0 },
        },
        {
          kind: 'assignment',
          row: {
            id: 'back',
            nodeId: ids.node,
            containerId: ids.container,
            fromMs: T0 + 2 * HOUR,
            toMs: null,
            zeroMm: 1,
          },
        },
      ]),
    );
    expect(await seen(store, ids.container)).toEqual([
      [ids.node, -1, 44],
      [ids.node, 2, 43],
    ]);
    expect(await seen(store, 'B-pot')).toEqual([
      [ids.node, 0, 40],
      [ids.node, 1, 41],
    ]);
    await store.commit(changeSet([{ kind: 'assignment_removed', id: 'loan' }]));
    expect(await seen(store, 'B-pot')).toEqual([]);
    expect(await store.readings.ofNode(ids.node, T0, T0 + DAY)).toHaveLength(3);
  });

  test('of two nodes in one pot come in order of time', async () => {
    const { store } = await openTempStore();
    await store.commit(
      changeSet([
        ...registryOf('A'),
        {
          kind: 'assignment',
          row: { id: 'second', nodeId: ids.spareNode, containerId: ids.container, fromMs: T0, toMs: null, zeroMm: 0 },
        },
      ]),
    );
    await store.commit(
      take(
        ...[0, 2].map((hour) => reading(ids.node, T0 + hour * HOUR)),
        ...[1, 2].map((hour) => reading(ids.spareNode, T0 + hour * HOUR)),
      ),
    );
    expect((await seen(store, ids.container)).map(([nodeId, hour]) => `${nodeId} ${hour}`)).toEqual([
      'A-node 0',
      'A-spare 1',
      'A-node 2',
      'A-spare 2',
    ]);
  });
});
