import { describe, expect, it } from 'vitest';
import { addPrincipal } from '../../src/app/people/add-principal.js';
import { generateSecret, hashSecret, PASSWORD_COST, verifySecret } from '../../src/app/people/secrets.js';
import { IngestDirectory } from '../../src/app/readings/ingest-directory.js';
import {
  type IncomingPack,
  packSource,
  packTopic,
  Recorder,
  sourceOf,
} from '../../src/app/readings/record-readings.js';
import type { Write } from '../../src/domain/change-set.js';
import { NOW_MS, openFleetStore, type TestApp } from '../support/ingest-fixtures.js';

function pack(records: unknown, overrides: Partial<IncomingPack> = {}): IncomingPack {
  return {
    kind: 'readings',
    subjectId: 'N1',
    source: 'nodes/N1/readings',
    payload: typeof records === 'string' ? Buffer.from(records) : Buffer.from(JSON.stringify(records)),
    contentType: null,
    receivedMs: NOW_MS,
    retained: false,
    cutFromBytes: null,
    ...overrides,
  };
}

const recorderOf = (app: TestApp, maxPayloadBytes = 10_000) =>
  new Recorder({ store: app.store, clock: app.clock, maxPayloadBytes });

const level = (v: number, minutesAgo = 0) => ({ n: 'level', u: 'mm', v, t: NOW_MS / 1000 - minutesAgo * 60 });

async function quarantineOf(app: TestApp) {
  return (await app.store.readings.quarantine({ limit: 500, cursor: null })).rows;
}

const readingsOf = (app: TestApp, nodeId = 'N1') => app.store.readings.ofNode(nodeId, 0, NOW_MS + 1e9);

describe('recording packs', () => {
  it('stores a batch of several nodes and keeps what it refuses, in one commit', async () => {
    const app = await openFleetStore();
    const recorder = recorderOf(app);
    const before = await app.store.changes.lastSeq();
    const outcome = await recorder.record([
      pack([level(80), level(81, 15)]),
      pack([level(7)], { subjectId: 'N9', source: 'nodes/N9/readings' }),
      pack([level(82, 30), { n: 'moisture', u: '%', v: 31 }]),
    ]);
    expect(outcome).toMatchObject({ readings: { added: 3 }, recordsTaken: 3, recordsRefused: 2 });
    expect((await readingsOf(app)).map((row) => row.levelMm)).toEqual([82, 81, 80]);
    expect((await quarantineOf(app)).map((row) => [row.nodeId, row.refusal, row.recordIndex])).toEqual(
      expect.arrayContaining([
        ['N9', 'unknown_node', null],
        ['N1', 'ratio_out_of_range', 1],
      ]),
    );
    const commits = new Set((await app.store.changes.after(before, 100)).map((change) => change.atMs));
    expect(commits.size).toBe(1);
  });

  it('keeps the raw bytes of what it refuses, also where they are not UTF-8', async () => {
    const app = await openFleetStore();
    const payload = Buffer.from([0x5b, 0xc3, 0x28, 0x00, 0xff]);
    await recorderOf(app).record([pack('', { payload })]);
    const [row] = await quarantineOf(app);
    expect(row?.refusal).toBe('not_senml');
    expect(Buffer.from(row?.raw ?? [])).toEqual(payload);
  });

  it('stores readings of a known node that stands nowhere', async () => {
    const app = await openFleetStore();
    await addPrincipal(app, { id: 'N7', kind: 'node', siteId: null, gatewayId: null, replace: false });
    await recorderOf(app).record([pack([level(50, 60 * 24 * 365)], { subjectId: 'N7' })]);
    expect(await readingsOf(app, 'N7')).toHaveLength(1);
  });

  it('refuses a time before the first assignment, which begins with the local day of the installation', async () => {
    const app = await openFleetStore();
    // 1 March 2026 begins at 23:00 UTC of the day before in Madrid.
    const startS = Date.UTC(2026, 1, 28, 23) / 1000;
    await recorderOf(app).record([
      pack([
        { n: 'level', u: 'mm', v: 1, t: startS },
        { n: 'level', u: 'mm', v: 2, t: startS - 1 },
      ]),
    ]);
    expect((await readingsOf(app)).map((row) => row.levelMm)).toEqual([1]);
    expect((await quarantineOf(app)).map((row) => row.refusal)).toEqual(['before_first_assignment']);
  });

  it('notes the interval that a node promises, once', async () => {
    const app = await openFleetStore();
    const recorder = recorderOf(app);
    const promise = (ut: number) => pack([{ ...level(80), ut }]);
    await recorder.record([promise(900)]);
    expect((await app.store.registry.node('N1'))?.promisedIntervalS).toBe(900);
    const seq = await app.store.changes.lastSeq();
    await recorder.record([promise(900)]);
    expect(await app.store.changes.lastSeq()).toBe(seq);
    await recorder.record([promise(300), promise(600)]);
    expect((await app.store.registry.node('N1'))?.promisedIntervalS).toBe(600);
  });

  it('sees a node that another process added after it began', async () => {
    const app = await openFleetStore();
    const recorder = recorderOf(app);
    await recorder.record([pack([level(1)], { subjectId: 'N8' })]);
    expect(await readingsOf(app, 'N8')).toHaveLength(0);
    await addPrincipal(app, { id: 'N8', kind: 'node', siteId: null, gatewayId: null, replace: false });
    await recorder.record([pack([level(2)], { subjectId: 'N8' })]);
    expect((await readingsOf(app, 'N8')).map((row) => row.levelMm)).toEqual([2]);
  });

  it('keeps of a payload that is too large its beginning and its length', async () => {
    const app = await openFleetStore();
    await recorderOf(app, 1_000).record([pack('x'.repeat(5_000))]);
    const [row] = await quarantineOf(app);
    expect(row?.refusal).toBe('payload_too_large');
    expect(row?.detail).toContain('5000 bytes');
    expect(row?.raw.length).toBe(4096);
  });

  it('keeps one row for a large pack of which thousands of records are refused', async () => {
    const app = await openFleetStore();
    const bad = Array.from({ length: 2_000 }, (_unused, i) => ({
      n: 'level',
      u: 'mm',
      v: 9_999,
      t: NOW_MS / 1000 - i,
    }));
    await recorderOf(app, 1_000_000).record([pack([level(80), ...bad])]);
    expect(await readingsOf(app)).toHaveLength(1);
    const rows = await quarantineOf(app);
    expect(rows).toHaveLength(1);
    expect(rows[0]).toMatchObject({ recordIndex: null, refusal: 'impossible_value' });
    expect(rows[0]?.detail).toContain('2000 records');
  });

  it('stores the weather of a known site, with the wind brought down to 2 m', async () => {
    const app = await openFleetStore();
    const weather = (subjectId: string) =>
      pack([{ n: 'wind10', u: 'm/s', v: 3.2 }], { kind: 'weather', subjectId, source: `sites/${subjectId}/weather` });
    await recorderOf(app).record([weather('S1'), weather('S2')]);
    const samples = await app.store.weather.samples('S1', NOW_MS - 1, NOW_MS + 1);
    // FAO-56 example 14: 3.2 m/s at 10 m are 2.4 m/s at 2 m.
    expect(samples[0]?.windMPerS).toBeCloseTo(2.393, 3);
    expect((await quarantineOf(app)).map((row) => row.refusal)).toEqual(['unknown_site']);
  });
});

describe('topics and sources', () => {
  it('name the node or site, and nothing else passes for one', () => {
    expect(packTopic('nodes/N1/readings')).toEqual({ kind: 'readings', subjectId: 'N1' });
    expect(packTopic('sites/S1/weather')).toEqual({ kind: 'weather', subjectId: 'S1' });
    for (const topic of ['nodes/N1/weather', 'sites/S1/readings', 'nodes//readings', 'nodes/a/b/readings', 'x']) {
      expect(packTopic(topic)).toBeNull();
    }
  });

  it('a source remembers that the broker had retained the message', () => {
    expect(packSource(sourceOf('nodes/N1/readings', true))).toMatchObject({ subjectId: 'N1', retained: true });
    expect(packSource(sourceOf('nodes/N1/readings', false))).toMatchObject({ subjectId: 'N1', retained: false });
  });
});

describe('secrets', () => {
  it('verify against their own hash and no other, in whatever form the letters were typed', async () => {
    const hash = await hashSecret('caf\u00e9 terrace', PASSWORD_COST);
    expect(hash).toMatch(/^scrypt\$16384\$8\$5\$[\w-]{22}\$[\w-]{43}$/);
    expect(await verifySecret('cafe\u0301 terrace', hash)).toBe(true);
    expect(await verifySecret('cafe terrace', hash)).toBe(false);
  });

  it('are made new each time', () => {
    expect(new Set(Array.from({ length: 100 }, generateSecret)).size).toBe(100);
    expect(generateSecret()).toMatch(/^[\w-]{32}$/);
  });

  it('refuse a stored text that is no hash', async () => {
    await expect(verifySecret('x', 'md5$abc')).rejects.toThrow('scrypt$N$r$p$salt$hash');
  });
});

describe('the directory of ingest', () => {
  it('keeps up with the registry over any number of changes', async () => {
    const app = await openFleetStore();
    const directory = new IngestDirectory(app.store);
    await directory.refresh();
    // More lines of the change log than it reads one by one.
    const nodes = Array.from({ length: 12_000 }, (_unused, i) => ({
      id: `M${i}`,
      gatewayId: null,
      promisedIntervalS: null,
    }));
    await app.store.commit({
      atMs: NOW_MS,
      actor: { kind: 'command', id: 'test' },
      writes: nodes.map((row) => ({ kind: 'node', row })),
      cursor: null,
    });
    await Promise.all([directory.refresh(), directory.refresh()]);
    expect(directory.node('M11999')).not.toBeNull();
    const assignment = { id: 'a', nodeId: 'M5', containerId: 'C2', fromMs: 5_000, toMs: null, zeroMm: 0 };
    const write = (writes: readonly Write[]) =>
      app.store.commit({ atMs: NOW_MS, actor: { kind: 'command', id: 'test' }, writes, cursor: null });
    await write([{ kind: 'assignment', row: assignment }]);
    await directory.refresh();
    expect(directory.firstAssignmentMs('M5')).toBe(5_000);
    await write([{ kind: 'assignment_removed', id: 'a' }]);
    await directory.refresh();
    expect(directory.firstAssignmentMs('M5')).toBeNull();
    expect([directory.hasSite('S1'), directory.hasSite('S2')]).toEqual([true, false]);
  });
});
