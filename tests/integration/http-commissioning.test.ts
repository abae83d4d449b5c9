import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { DAY_MS, HOUR_MS } from '../../src/domain/local-day.js';
import type {
  CommissioningItemJson,
  CommissioningJson,
  LevelNowJson,
  PourRecordJson,
  PourResultJson,
  TableOfShapeJson,
} from '../../src/http/schemas/index.js';
import { startTestServer, type TestClient, TestClock, type TestServer } from '../support/server.js';
import { TWO_ACCOUNTS, twoAccountsWrites } from '../support/two-accounts.js';

const NOW_MS = Date.UTC(2026, 2, 20, 9);
/** A tapering vessel: 3 L raise the level by less and less. */
const POURS = [
  { litres: 3, levelMm: 22 },
  { litres: 3, levelMm: 43 },
  { litres: 3, levelMm: 63 },
  { litres: 3, levelMm: 82 },
  { litres: 3, levelMm: 100 },
  { litres: 3, levelMm: 117 },
  { litres: 2, levelMm: 120 },
  { litres: 2, levelMm: 120.3 },
];

let server: TestServer;
let installer: TestClient;
beforeAll(async () => {
  server = await startTestServer({ seed: twoAccountsWrites(), clock: new TestClock(NOW_MS) });
  installer = await server.login('installer');
});
afterAll(() => server.close());

describe('a first table from shape and size', () => {
  const size = { heightMm: 150, overflowMm: 120, feetAreaMm2: 2_000, wickAreaMm2: 5_000, wickFootMm: 10 };

  it('leaves out what feet and wick take', async () => {
    const shape = { kind: 'round', bottomDiameterMm: 300, topDiameterMm: 300 };
    const answer = await installer.post('/api/v1/first-table', { shape, size });
    const table = answer.body as Extract<TableOfShapeJson, { kind: 'table' }>;
    // A cylinder by arithmetic: (π 150² - 2000) mm² × 120 mm, less the wick beside the upper 110 mm.
    const litres = ((Math.PI * 150 ** 2 - 2_000) * 120 - 5_000 * 110) / 1e6;
    expect(table.strapping.at(-1)).toEqual([120, expect.closeTo(litres, 2)]);
  });

  it('is refused with the place and a message for people', async () => {
    const shape = { kind: 'box', bottomLengthMm: 0, bottomWidthMm: 200, topLengthMm: 300, topWidthMm: 200 };
    const { body } = await installer.post('/api/v1/first-table', { shape, size: { ...size, overflowMm: 160 } });
    const refused = body as Extract<TableOfShapeJson, { kind: 'refused' }>;
    expect(refused.faults.map((fault) => [fault.pointer, fault.message.code])).toEqual([
      ['/shape/bottomLengthMm', 'shape.above_zero'],
      ['/size/overflowMm', 'shape.overflow_above_plate'],
    ]);
  });
});

describe('a table from pours', () => {
  it('is shown before it is kept, then holds for the pot with its pours and its band', async () => {
    const looked = (await installer.post('/api/v1/containers/C1/pours', { pours: POURS })).body as PourResultJson;
    expect(looked).toMatchObject({ kind: 'table', kept: false });
    expect(((await installer.get('/api/v1/containers/C1/pours')).body as { poured: unknown }).poured).toBe(null);

    const kept = await installer.post('/api/v1/containers/C1/pours', { pours: POURS, keep: true });
    expect(kept.body).toMatchObject({ kind: 'table', kept: true, ranOver: [5, 6, 7] });
    const detail = (await installer.get('/api/v1/containers/C1')).body as {
      container: { reservoir: { overflowMm: number; strapping: [number, number][] } };
    };
    const { reservoir } = detail.container;
    expect(reservoir.overflowMm).toBeGreaterThan(115);
    expect(reservoir.overflowMm).toBeLessThan(122);
    const { poured } = (await installer.get('/api/v1/containers/C1/pours')).body as { poured: PourRecordJson };
    expect(poured).toMatchObject({ actorId: installer.person.id, pours: POURS });
    expect(poured.band.every((point) => point.lowLitres <= point.litres && point.litres <= point.highLitres)).toBe(
      true,
    );

    // A table that somebody types over is no longer that of the pours.
    const container = TWO_ACCOUNTS.containers[0]!;
    const { id, ...change } = container;
    expect((await installer.put(`/api/v1/containers/${id}`, change)).status).toBe(200);
    expect(((await installer.get('/api/v1/containers/C1/pours')).body as { poured: unknown }).poured).toBe(null);
  });

  it('is refused with the pour that does not fit, and changes nothing', async () => {
    const before = (await installer.get('/api/v1/containers/C2')).body;
    const odd = POURS.map((one, i) => (i === 3 ? { ...one, litres: 9 } : one));
    const answer = await installer.post('/api/v1/containers/C2/pours', { pours: odd, keep: true });
    expect(answer.body).toMatchObject({ kind: 'refused', faults: [{ pointer: '/pours/3' }] });
    expect((await installer.get('/api/v1/containers/C2')).body).toEqual(before);
  });

  it('is not kept while it ends far below the port', async () => {
    const answer = await installer.post('/api/v1/containers/C2/pours', { pours: POURS.slice(0, 4), keep: true });
    expect([answer.status, answer.body]).toEqual([400, expect.objectContaining({ code: 'invalid_input' })]);
  });
});

describe('what the sensor says now', () => {
  it('gives level, litres and the next word, and asks the node to hurry', async () => {
    const fresh = { receivedMs: NOW_MS, moistureFraction: 0.3, temperatureC: 20, batteryV: 3.4 };
    const at = (minutes: number, levelMm: number) => ({
      ...fresh,
      nodeId: 'N3',
      timeMs: NOW_MS - minutes * 60_000,
      levelMm,
      batteryFraction: null,
      signalDbm: null,
    });
    await server.store.commit({
      atMs: NOW_MS,
      actor: { kind: 'principal', id: 'N3' },
      writes: [
        { kind: 'assignment', row: { ...TWO_ACCOUNTS.assignments[1]!, fromMs: NOW_MS - DAY_MS } },
        { kind: 'readings', rows: [at(20, 50), at(5, 55)] },
      ],
      cursor: null,
    });
    const technician = await server.login('technician');
    const level = (await technician.get('/api/v1/containers/C3/level')).body as LevelNowJson;
    expect(level.readings.map((one) => one.levelMm)).toEqual([55, 60]);
    expect(level.readings[1]!.litres).toBeCloseTo(9.4, 3);
    expect(Date.parse(level.nextAt ?? '')).toBe(NOW_MS + 10 * 60_000);
    expect(level.fastUntil).toBe(null);

    const asked = await technician.post('/api/v1/containers/C3/fast-report', { minutes: 15 });
    expect(asked.body).toEqual({ until: new Date(NOW_MS + 15 * 60_000).toISOString() });
    const after = (await technician.get('/api/v1/containers/C3/level')).body as LevelNowJson;
    expect(after.fastUntil).toBe(new Date(NOW_MS + 15 * 60_000).toISOString());
    const none = await technician.post('/api/v1/containers/C2/fast-report', { minutes: 15 });
    expect(none.status).toBe(400);
  });
});

describe('how far a pot has come', () => {
  it('says what a new pot lacks, and that its wick is not yet proved', async () => {
    const { items } = (await installer.get('/api/v1/commissioning')).body as {
      items: readonly CommissioningItemJson[];
    };
    const bare = items.find((item) => item.containerId === 'C2');
    expect(bare).toMatchObject({ nodeId: null, lacks: ['node', 'table', 'plants', 'wick'], swapped: null });
    const state = (await installer.get('/api/v1/containers/C2/commissioning')).body as CommissioningJson;
    expect(state).toMatchObject({
      poured: null,
      assignment: null,
      wick: { proof: { kind: 'not_yet_proved', days: 0 } },
    });
  });

  it('proves a wick by days on which the soil held while the level fell', async () => {
    const days = Array.from({ length: 9 }, (_, i) => NOW_MS - (i + 1) * DAY_MS);
    const rollup = { readings: 1, levelMinMm: 60, levelMeanMm: 70, levelMaxMm: 80, litresMean: 10, batteryMinV: 3.3 };
    const values = { ...rollup, moistureMean: 0.31, temperatureMeanC: 15 };
    const empty = { refillCrewLitres: 0, refillOtherLitres: 0, rainLitres: 0, leakLitres: 0, overflowLitres: 0 };
    await server.store.commit({
      atMs: NOW_MS,
      actor: { kind: 'stage', id: 'test' },
      writes: [
        { kind: 'container', row: { ...TWO_ACCOUNTS.containers[1]!, covered: true, installedOn: '2026-03-10' } },
        {
          kind: 'derived',
          containerId: 'C2',
          derived: {
            fromMs: NOW_MS - 10 * DAY_MS,
            events: [],
            withdrawnEvents: [],
            hourRollups: days.map((ms) => {
              const hourMs = Math.floor(ms / DAY_MS) * DAY_MS + 4 * HOUR_MS;
              return { ...values, containerId: 'C2', hourMs };
            }),
            dayRollups: days.map((ms) => ({
              ...values,
              containerId: 'C2',
              day: new Date(ms).toISOString().slice(0, 10),
            })),
            ledgerDays: days.map((ms) => ({
              ...empty,
              containerId: 'C2',
              day: new Date(ms).toISOString().slice(0, 10),
              openingLitres: 12,
              uptakeLitres: 1,
              drainedLitres: 0,
              unexplainedLitres: 0,
              closingLitres: 11,
              sdLitres: 0.1,
              coverage: 1,
            })),
          },
        },
      ],
      cursor: null,
    });
    const state = (await installer.get('/api/v1/containers/C2/commissioning')).body as CommissioningJson;
    expect(state.wick.proof).toMatchObject({ kind: 'proved', days: 5 });
  });
});

it('sends long answers compressed to whoever takes it, and as they are to others', async () => {
  const ask = (encoding: string) =>
    fetch(`${server.url}/api/openapi.json`, { headers: { 'accept-encoding': encoding, cookie: installer.cookie } });
  const [packed, plain] = await Promise.all([ask('gzip'), ask('identity')]);
  expect([packed.headers.get('content-encoding'), plain.headers.get('content-encoding')]).toEqual(['gzip', null]);
  expect(await packed.text()).toBe(await plain.text());
});
