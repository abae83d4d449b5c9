import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { Write } from '../../src/domain/change-set.js';
import type { Reading } from '../../src/domain/reading.js';
import type {
  ContainerDetail,
  CorrectionJson,
  ExplanationJson as Explanation,
  LedgerDayJson,
  Series,
} from '../../src/http/schemas/index.js';
import { gaussian, seededRng } from '../support/pot-series.js';
import { startTestServer, type TestClient, TestClock, type TestServer } from '../support/server.js';
import { twoAccountsWrites } from '../support/two-accounts.js';

const HOUR = 3_600_000;
/** Midnight in Madrid. */
const START = Date.parse('2026-05-31T22:00:00Z');
const POUR = START + 34 * HOUR;
const DAYS = 'from=2026-06-01&to=2026-06-04';

/** Three days of C1, from 80 mm down, with a pour of 30 mm at ten in the morning of the second. */
function readings(): Reading[] {
  const rng = seededRng(11);
  return Array.from({ length: 3 * 96 }, (_, i) => {
    const timeMs = START + i * 900_000;
    const levelMm = 80 - 0.2 * (i / 4) + (timeMs >= POUR ? 30 : 0) + 0.4 * gaussian(rng);
    return {
      nodeId: 'N1',
      timeMs,
      receivedMs: timeMs + 4000,
      levelMm: Math.round(levelMm * 10) / 10,
      moistureFraction: null,
      temperatureC: null,
      batteryV: null,
      batteryFraction: null,
      signalDbm: null,
    };
  });
}

describe('corrections of events over HTTP', () => {
  let server: TestServer;
  let dispatcher: TestClient;

  beforeAll(async () => {
    const seed: Write[] = [...twoAccountsWrites(), { kind: 'readings', rows: readings() }];
    server = await startTestServer({ clock: new TestClock(START + 72 * HOUR), seed });
    dispatcher = await server.login('dispatcher', { id: 'ada', name: 'Ada Dispatch' });
    await server.settle();
  });
  afterAll(() => server.close());

  const detail = async (): Promise<ContainerDetail> => {
    await server.settle();
    return (await dispatcher.get('/api/v1/containers/C1')).body as ContainerDetail;
  };
  const ledger = async (): Promise<readonly LedgerDayJson[]> => {
    await server.settle();
    const { body } = await dispatcher.get(`/api/v1/containers/C1/ledger?${DAYS}`);
    return (body as { items: LedgerDayJson[] }).items;
  };
  const corrections = async (): Promise<readonly CorrectionJson[]> =>
    ((await dispatcher.get('/api/v1/containers/C1/corrections')).body as { items: CorrectionJson[] }).items;
  const correct = (eventId: string, body: object) =>
    dispatcher.post(`/api/v1/events/${eventId}/correction`, { containerId: 'C1', ...body });

  it('changes kind, litres and instant, posts the account anew and keeps who said it and what stood before', async () => {
    const [found] = (await detail()).events;
    expect(found).toMatchObject({ kind: 'refill' });
    const before = await ledger();
    expect(before[1]!.refillOtherLitres).toBeCloseTo(found!.litres, 9);

    const startAt = new Date(POUR - 2 * HOUR).toISOString();
    expect((await correct(found!.id, { correctedKind: 'rain', litres: 4, startAt })).status).toBe(204);
    expect((await detail()).events).toMatchObject([{ id: found!.id, kind: 'rain', litres: 4, startAt, confidence: 1 }]);
    const after = await ledger();
    expect(after[1]).toMatchObject({ refillOtherLitres: 0, rainLitres: 4 });
    // The level rose by more than that, which nothing explains now.
    expect(after[1]!.unexplainedLitres).toBeLessThan(before[1]!.unexplainedLitres - 0.5);
    expect(await corrections()).toMatchObject([
      {
        eventId: found!.id,
        correctedKind: 'rain',
        litres: 4,
        startAt,
        before: { kind: 'refill', litres: found!.litres, startAt: found!.startAt },
        actorId: 'ada',
        actorName: 'Ada Dispatch',
      },
    ]);
    const { body } = await dispatcher.get('/api/v1/containers/C1/ledger/2026-06-02');
    const { items } = body as { items: (LedgerDayJson & { supersededAt: string | null })[] };
    expect(items.map((row) => [row.rainLitres, row.supersededAt === null])).toEqual([
      [4, true],
      [0, false],
    ]);
    const owner = await server.login('owner');
    const audit = (await owner.get('/api/v1/audit')).body as { items: { kind: string; key: string; actor: object }[] };
    expect(audit.items.find((entry) => entry.kind === 'event_correction')).toMatchObject({
      key: found!.id,
      actor: { kind: 'person', id: 'ada' },
    });

    expect((await correct(found!.id, { correctedKind: 'as_found' })).status).toBe(204);
    expect((await detail()).events).toEqual([found]);
    expect(await ledger()).toEqual(before);
    expect(await corrections()).toHaveLength(2);
  });

  it('takes an event out and brings it back', async () => {
    const [found] = (await detail()).events;
    await correct(found!.id, { correctedKind: 'none' });
    const without = await detail();
    expect(without.events).toEqual([]);
    expect(without.corrections[0]).toMatchObject({ correctedKind: 'none', before: { kind: 'refill' } });
    await correct(found!.id, { correctedKind: 'as_found' });
    expect((await detail()).events).toEqual([found]);
  });

  it('adds an event that nobody saw, counts it, and takes it out again', async () => {
    const before = await ledger();
    const startAt = new Date(START + 20 * HOUR).toISOString();
    const path = '/api/v1/containers/C1/events';
    const added = await dispatcher.post(path, { kind: 'drained', startAt, litres: 2.5 });
    expect(added.status).toBe(201);
    const { id } = added.body as { id: string };
    expect((await detail()).events.find((event) => event.id === id)).toMatchObject({ kind: 'drained', litres: 2.5 });
    expect((await ledger())[0]).toMatchObject({ drainedLitres: 2.5 });
    await correct(id, { correctedKind: 'none' });
    expect((await detail()).events.map((event) => event.kind)).toEqual(['refill']);
    expect(await ledger()).toEqual(before);
  });

  it('lets a person tell of a pour before it is seen, and counts it once', async () => {
    const [found] = (await detail()).events;
    const startAt = new Date(POUR).toISOString();
    const added = await dispatcher.post('/api/v1/containers/C1/events', { kind: 'refill', startAt, litres: 5 });
    const { id } = added.body as { id: string };
    expect((await detail()).events).toMatchObject([{ id, kind: 'refill', litres: 5 }]);
    await correct(id, { correctedKind: 'none' });
    expect((await detail()).events).toEqual([found]);
  });

  it('refuses what cannot be, says why, and changes nothing', async () => {
    const [found] = (await detail()).events;
    const farAway = new Date(POUR - 30 * HOUR).toISOString();
    const ahead = new Date(START + 100 * HOUR).toISOString();
    const refusals = await Promise.all([
      correct('C1.gain.1', { correctedKind: 'none' }),
      correct(found!.id, { correctedKind: 'rain', startAt: farAway }),
      correct(found!.id, { correctedKind: 'rain', litres: -1 }),
      dispatcher.post('/api/v1/containers/C1/events', { kind: 'refill', startAt: ahead, litres: 5 }),
    ]);
    expect(refusals.map((answer) => answer.status)).toEqual([404, 400, 400, 400]);
    const technician = await server.login('technician');
    const asked = await technician.post(`/api/v1/events/${found!.id}/correction`, {
      containerId: 'C1',
      correctedKind: 'none',
    });
    expect(asked.status).toBe(403);
    expect((await detail()).events).toEqual([found]);
  });

  it('says of any level what cleaning made of it and why, where that is asked for', async () => {
    await server.settle();
    const span = `from=${new Date(POUR - 6 * HOUR).toISOString()}&to=${new Date(POUR + HOUR).toISOString()}`;
    const series = (await dispatcher.get(`/api/v1/containers/C1/series?${span}&resolution=raw&cleaning=true`))
      .body as Series;
    const jump = series.time.findIndex((time) => Date.parse(time) === POUR);
    expect(series.cleaningReason?.slice(jump - 1, jump + 3)).toEqual(['smoothed', 'jump', 'jump', 'smoothed']);
    expect(series.cleanedLevelMm![jump - 1]).toBeCloseTo(series.levelMm[jump - 1]!, -1);
    const plain = (await dispatcher.get(`/api/v1/containers/C1/series?${span}&resolution=raw`)).body as Series;
    expect([plain.cleanedLevelMm, plain.cleaningReason]).toEqual([null, null]);
  });

  it('explains a past instant by what was known then, not by what came later', async () => {
    const atMs = POUR + 2 * HOUR;
    const path = `/api/v1/containers/C1/explanation?at=${new Date(atMs).toISOString()}`;
    const before = (await dispatcher.get(path)).body as Explanation;
    expect(before.messages[0]!.code).toMatch(/^analysis\.headline/);
    expect(before.messages.map((message) => message.code)).toContain('analysis.last_refill');
    // A level of the morning that is received days later, and a word on the pour, change nothing of what was known then.
    const late = {
      ...readings()[100]!,
      nodeId: 'N1',
      timeMs: POUR + HOUR + 1,
      receivedMs: START + 71 * HOUR,
      levelMm: 60,
    };
    await server.store.commit({
      atMs: START + 71 * HOUR,
      actor: { kind: 'principal', id: 'N1' },
      writes: [{ kind: 'readings', rows: [late] }],
      cursor: null,
    });
    const [found] = (await detail()).events;
    await correct(found!.id, { correctedKind: 'none' });
    await server.settle();
    expect((await dispatcher.get(path)).body).toEqual(before);
    await correct(found!.id, { correctedKind: 'as_found' });
    const ahead = new Date(START + 100 * HOUR).toISOString();
    expect((await dispatcher.get(`/api/v1/containers/C1/explanation?at=${ahead}`)).status).toBe(400);
  });
});
