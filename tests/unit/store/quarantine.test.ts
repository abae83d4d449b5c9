import { expect, test } from 'vitest';
import type { QuarantinedRecord } from '../../../src/domain/reading.js';
import { openTempStore } from '../../support/temp-store.js';
import { changeSet, HOUR, T0 } from './worlds.js';

const record = (id: string, more: Partial<QuarantinedRecord> = {}): QuarantinedRecord => ({
  id,
  receivedMs: T0,
  source: 'nodes/N1/readings',
  nodeId: 'N1',
  refusal: 'unknown_unit',
  detail: 'level: unit "ft"',
  raw: Buffer.from([0xff, 0x00, 0x7b]),
  contentType: 'application/senml+json',
  recordIndex: 2,
  resolvedMs: null,
  ...more,
});

test('a refused record keeps its very bytes and its reason', async () => {
  const { store } = await openTempStore();
  await store.commit(changeSet([{ kind: 'quarantined', rows: [record('q1')] }]));
  expect(await store.readings.quarantined('q1')).toEqual(record('q1'));
  expect(await store.readings.quarantined('q2')).toBeNull();
});

test('refused records come by page, the latest first, and those that wait can be asked for alone', async () => {
  const { store } = await openTempStore();
  const rows = [0, 1, 2, 2].map((hour, index) => record(`q${index}`, { receivedMs: T0 + hour * HOUR }));
  await store.commit(changeSet([{ kind: 'quarantined', rows }]));
  await store.commit(changeSet([{ kind: 'quarantine_resolved', id: 'q1', atMs: T0 + 9 * HOUR }]));
  const first = await store.readings.quarantine({ limit: 3, cursor: null });
  expect(first.rows.map(({ id }) => id)).toEqual(['q3', 'q2', 'q1']);
  const rest = await store.readings.quarantine({ limit: 3, cursor: first.nextCursor });
  expect(rest).toMatchObject({ rows: [{ id: 'q0' }], nextCursor: null });
  const waiting = await store.readings.quarantine({ limit: 9, cursor: null }, { unresolvedOnly: true });
  expect(waiting.rows.map(({ id }) => id)).toEqual(['q3', 'q2', 'q0']);
  expect(await store.readings.quarantined('q1')).toMatchObject({ resolvedMs: T0 + 9 * HOUR });
});

test('a record refused or resolved twice is so once, and the rows of one file share a line in the log', async () => {
  const { store } = await openTempStore();
  const rows = [3, 4].map((line) => record(`f${line}`, { nodeId: null, source: `file:readings.csv:${line}` }));
  await store.commit(changeSet([{ kind: 'quarantined', rows }]));
  await store.commit(changeSet([{ kind: 'quarantined', rows }]));
  await store.commit(changeSet([{ kind: 'quarantine_resolved', id: 'f3', atMs: T0 }]));
  await store.commit(changeSet([{ kind: 'quarantine_resolved', id: 'f3', atMs: T0 + HOUR }]));
  expect((await store.changes.after(0, 10)).map(({ kind, key }) => [kind, key])).toEqual([
    ['quarantined', 'file:readings.csv'],
    ['quarantine_resolved', 'f3'],
  ]);
  expect(await store.readings.quarantined('f3')).toMatchObject({ resolvedMs: T0 });
});
