import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { ReviewItemJson, Water, WaterReviewJson, WaterSum } from '../../src/http/schemas/index.js';
import { gardenWrites, NOW_MS } from '../browser/garden.js';
import { startTestServer, type TestClient, TestClock, type TestServer } from '../support/server.js';

const AUGUST = 'from=2026-08-01&to=2026-08-31';

let server: TestServer;
let owner: TestClient;
beforeAll(async () => {
  server = await startTestServer({ seed: gardenWrites(), clock: new TestClock(NOW_MS) });
  owner = await server.login('owner');
  await server.settle();
  const technician = await server.addPerson('technician');
  const at = '2026-08-28T04:00:00Z';
  const visit = await owner.put(`/api/v1/visits/${randomUUID()}`, {
    siteId: 'S4',
    technicianId: technician.id,
    happenedAt: at,
    actions: [
      { containerId: 'C8', work: 'refill', litres: 6 },
      { containerId: 'C9', work: 'refill', litres: 4, exception: 'no_water' },
    ],
  });
  expect(visit.status, JSON.stringify(visit.body)).toBe(200);
  await server.settle();
});
afterAll(() => server.close());

const review = async (who: TestClient, rest: string): Promise<WaterReviewJson> => {
  const answer = await who.get(`/api/v1/water/review?${AUGUST}${rest}`);
  expect(answer.status, JSON.stringify(answer.body)).toBe(200);
  return answer.body as WaterReviewJson;
};
const sum = (items: readonly ReviewItemJson[], pick: (item: ReviewItemJson) => number): number =>
  items.reduce((total, item) => total + pick(item), 0);

describe('the review of a period', () => {
  it('agrees with the ledger to the litre, by account, by site and by pot', async () => {
    for (const by of ['account', 'site', 'container'] as const) {
      const found = await review(owner, `&by=${by}`);
      const ledger = (await owner.get(`/api/v1/water?${AUGUST}&by=${by}`)).body as Water;
      const sums = new Map(ledger.items.map((row): [string, WaterSum] => [row.id, row]));
      expect(found.items.length).toBe(ledger.items.length);
      for (const item of found.items) {
        const row = sums.get(item.id)!;
        expect(item.uptakeLitres).toBeCloseTo(row.uptakeLitres, 6);
        expect(item.leakLitres).toBeCloseTo(row.leakLitres, 6);
        expect(item.tookLitres).toBeCloseTo(row.refillCrewLitres, 6);
        expect([item.containers, item.containerDays]).toEqual([row.containers, row.containerDays]);
      }
      expect(sum(found.items, (item) => item.uptakeLitres)).toBeCloseTo(found.total!.uptakeLitres, 6);
    }
  });

  it('counts visits and the meter, dry hours, and millimetres of evaporation', async () => {
    const found = await review(owner, '&by=container');
    const of = (id: string): ReviewItemJson => found.items.find((item) => item.id === id)!;
    expect(of('C8')).toMatchObject({ visits: 1, meterLitres: 6 });
    // What could not be done is a visit, and no water.
    expect(of('C9')).toMatchObject({ visits: 1, meterLitres: 0 });
    expect(of('C1')).toMatchObject({ visits: 0, meterLitres: 0 });
    // 4.8 mm on each day of the garden's weather.
    expect(of('C3').potMm).toBeCloseTo(4.8 * of('C3').containerDays, 6);
    expect(of('C3').dryHours).toBe(0);
    const site = (await review(owner, '&by=site')).items.find((item) => item.id === 'S4');
    expect(site).toMatchObject({ visits: 1, meterLitres: 6 });
  });

  it('tells how long a pot stood dry', async () => {
    const found = await review(owner, '&by=container');
    const levels = await owner.get(
      '/api/v1/containers/C4/series?from=2026-08-11T00:00:00Z&to=2026-08-31T00:00:00Z&resolution=hour',
    );
    const hours = (levels.body as { levelMm: (number | null)[] }).levelMm.filter(
      (level) => level !== null && level <= 11,
    );
    // The lemon tree ran down to the foot of its wick once, at 10 mm.
    expect(hours.length).toBeGreaterThan(5);
    expect(found.items.find((item) => item.id === 'C4')?.dryHours).toBe(hours.length);
    expect(found.total?.dryHours).toBeGreaterThanOrEqual(hours.length);
  });

  it('holds a span against the one before it and its weather', async () => {
    const path = '/api/v1/water/review?from=2026-08-21&to=2026-08-30&by=container';
    const found = (await owner.get(path)).body as WaterReviewJson;
    expect(found.before).toEqual({ from: '2026-08-11', to: '2026-08-20' });
    const agave = found.items.find((item) => item.id === 'C3')!;
    // The same weather on all days: what was drawn before, a day, is what the weather explains.
    const perDay = agave.before!.uptakeLitres / agave.before!.containerDays;
    expect(agave.weatherLitres).toBeCloseTo(perDay * agave.containerDays, 6);
    expect(agave.comparableLitres).toBeCloseTo(agave.uptakeLitres, 6);
  });

  it('answers for the earliest days that can be asked for, whose period before cannot', async () => {
    const { status, body } = await owner.get('/api/v1/water/review?from=2000-01-01&to=2000-01-01');
    expect([status, body]).toMatchObject([200, { before: { from: '1999-12-31', to: '1999-12-31' } }]);
  });

  it('keeps the tariff to the firm, and a client to the own account', async () => {
    const tariff = {
      name: 'Larch & Loam',
      currency: 'EUR',
      waterPricePerM3: 2.5,
      language: 'en',
      units: { volume: 'L', length: 'mm', temperature: 'Cel' },
    };
    expect((await owner.put('/api/v1/firm', tariff)).status).toBe(200);
    expect(await review(owner, '')).toMatchObject({ firmName: 'Larch & Loam', currency: 'EUR', pricePerM3: 2.5 });
    const client = await server.login('client', { accountId: 'A1' });
    const own = await review(client, '');
    expect([own.pricePerM3, own.items.map((item) => item.id)]).toEqual([null, ['A1']]);
    expect((await client.get(`/api/v1/water/review?${AUGUST}&accountId=A2`)).status).toBe(403);
    expect((await client.get('/api/v1/firm')).body).toMatchObject({ waterPricePerM3: null });
  });
});
