import { describe, expect, it } from 'vitest';
import { addPrincipal } from '../../src/app/people/add-principal.js';
import { importReadings } from '../../src/app/readings/import-files.js';
import { importFleet } from '../../src/app/readings/import-fleet.js';
import { quarantine, rerunAllQuarantined, rerunQuarantined } from '../../src/app/readings/quarantine.js';
import { DEFAULT_MAX_PAYLOAD_BYTES, Recorder, sourceOf } from '../../src/app/readings/record-readings.js';
import { fileOf, NOW_MS, OWNER, openFleetStore, smallFleet, type TestApp } from '../support/ingest-fixtures.js';

async function record(app: TestApp, nodeId: string, records: unknown, retained = false): Promise<void> {
  await new Recorder({ store: app.store, clock: app.clock, maxPayloadBytes: DEFAULT_MAX_PAYLOAD_BYTES }).record([
    {
      kind: 'readings',
      subjectId: nodeId,
      source: sourceOf(`nodes/${nodeId}/readings`, retained),
      payload: Buffer.from(JSON.stringify(records)),
      contentType: null,
      receivedMs: NOW_MS,
      retained,
      cutFromBytes: null,
    },
  ]);
}

async function openRows(app: TestApp) {
  const page = await quarantine(app, OWNER, { limit: 500, cursor: null });
  return page.rows.filter((row) => row.resolvedMs === null);
}

const addNode = (app: TestApp, id: string) =>
  addPrincipal(app, { id, kind: 'node', siteId: null, gatewayId: null, replace: false });
const stored = (app: TestApp, nodeId: string) => app.store.readings.ofNode(nodeId, 0, NOW_MS + 1e9);

describe('running quarantined records again', () => {
  it('takes them once the node is known, with relative times counted from the original receipt', async () => {
    const app = await openFleetStore();
    await record(app, 'N9', [{ n: 'level', u: 'mm', v: 80, t: -900 }]);
    const [row] = await openRows(app);
    const ids = [row?.id ?? ''];
    expect(await rerunQuarantined(app, OWNER, ids)).toMatchObject({ taken: 0, refusedAgain: 1 });
    await addNode(app, 'N9');
    app.setNowMs(NOW_MS + 3_600_000);
    expect(await rerunQuarantined(app, OWNER, ids)).toMatchObject({ taken: 1, items: [{ id: ids[0], detail: null }] });
    expect(await stored(app, 'N9')).toMatchObject([{ timeMs: NOW_MS - 900_000, receivedMs: NOW_MS, levelMm: 80 }]);
    expect(await openRows(app)).toEqual([]);
  });

  it('changes nothing the second time', async () => {
    const app = await openFleetStore();
    await record(app, 'N9', [{ n: 'level', u: 'mm', v: 80 }]);
    const ids = (await openRows(app)).map((row) => row.id);
    await addNode(app, 'N9');
    await rerunQuarantined(app, OWNER, ids);
    const seq = await app.store.changes.lastSeq();
    expect(await rerunQuarantined(app, OWNER, ids)).toMatchObject({ taken: 1, refusedAgain: 0 });
    expect(await app.store.changes.lastSeq()).toBe(seq);
  });

  it('takes single records of a pack after the assignment was moved to before them', async () => {
    const app = await openFleetStore();
    const early = Date.UTC(2026, 1, 20) / 1000;
    await record(app, 'N1', [
      { n: 'level', u: 'mm', v: 80, t: early },
      { n: 'level', u: 'inch', v: 3, t: early },
      { n: 'level', u: 'mm', v: 81, t: early + 900 },
    ]);
    expect((await openRows(app)).map((row) => row.recordIndex).sort()).toEqual([0, 1, 2]);
    const fleet = smallFleet();
    const container = { ...fleet.containers?.[0], installedOn: '2026-02-01' };
    await importFleet(app, 'fleet.json', Buffer.from(JSON.stringify({ ...fleet, containers: [container] })));
    expect(await rerunAllQuarantined(app, OWNER)).toMatchObject({ taken: 2, refusedAgain: 1 });
    expect((await stored(app, 'N1')).map((row) => row.levelMm)).toEqual([80, 81]);
    expect((await openRows(app)).map((row) => row.refusal)).toEqual(['unknown_unit']);
  });

  it('resolves the row of a whole pack and keeps what is still refused in rows of their own', async () => {
    const app = await openFleetStore();
    await record(app, 'N9', [
      { n: 'level', u: 'mm', v: 80 },
      { n: 'moisture', u: '%', v: 31 },
    ]);
    await addNode(app, 'N9');
    expect(await rerunAllQuarantined(app, OWNER)).toMatchObject({ taken: 1 });
    expect(await stored(app, 'N9')).toMatchObject([{ levelMm: 80 }]);
    expect((await openRows(app)).map((row) => [row.refusal, row.recordIndex])).toEqual([['ratio_out_of_range', 1]]);
  });

  it('still does not believe "now" in a retained message', async () => {
    const app = await openFleetStore();
    await record(app, 'N1', [{ n: 'level', u: 'mm', v: 80 }], true);
    expect(await rerunAllQuarantined(app, OWNER)).toMatchObject({ taken: 0, refusedAgain: 1 });
  });

  it('takes rows of files', async () => {
    const app = await openFleetStore();
    const text = 'node,time,level_mm\nN9,2026-08-01T00:00:00Z,80\nN9,2026-08-01T00:15:00Z,deep\n';
    await importReadings(app, { name: 'readings.csv', input: fileOf(text) }, () => {});
    await addNode(app, 'N9');
    expect(await rerunAllQuarantined(app, OWNER)).toMatchObject({ taken: 1, refusedAgain: 1 });
    expect(await stored(app, 'N9')).toMatchObject([{ timeMs: Date.UTC(2026, 7, 1), levelMm: 80 }]);
    expect((await openRows(app)).map((row) => row.source)).toEqual(['file:readings.csv:3']);
  });

  it('is told of an unknown id, and runs none then', async () => {
    const app = await openFleetStore();
    await expect(rerunQuarantined(app, OWNER, ['q-none'])).rejects.toMatchObject({ code: 'not_found' });
  });

  it('is not for technicians', async () => {
    const app = await openFleetStore();
    const who = { personId: 'mia', role: 'technician', accountId: null } as const;
    await expect(rerunAllQuarantined(app, who)).rejects.toMatchObject({ code: 'not_allowed' });
  });
});
