import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { WeatherDayJson } from '../../src/http/schemas/index.js';
import { startTestServer, type TestClient, TestClock, type TestServer } from '../support/server.js';

/** Noon of the day on which the days below are entered. */
const NOW_MS = Date.UTC(2026, 6, 20, 12);

let server: TestServer;
let owner: TestClient;
beforeAll(async () => {
  server = await startTestServer({
    clock: new TestClock(NOW_MS),
    seed: [
      { kind: 'account', row: { id: 'A1', name: 'Account', dryRisk: 0.05 } },
      {
        kind: 'site',
        row: {
          id: 'lyon',
          accountId: 'A1',
          name: 'Lyon',
          latitude: 45 + 43 / 60,
          longitude: 4.85,
          elevationM: 200,
          timeZone: 'Europe/Paris',
          tap: false,
        },
      },
    ],
  });
  owner = await server.login('owner');
});
afterAll(() => server.close());

describe('a day of weather', () => {
  it('comes back with the ET0 that is used for it, and with what of that is estimated', async () => {
    const days = [
      // Lyon in July, FAO Irrigation and Drainage Paper 56, example 20: 15 July is day 196.
      { siteId: 'lyon', day: '2026-07-15', tminC: 14.8, tmaxC: 26.6 },
      { siteId: 'lyon', day: '2026-07-16', tminC: 14.8, tmaxC: 26.6, et0Mm: 5.2 },
      { siteId: 'lyon', day: '2026-07-17', rainMm: 3 },
    ];
    expect((await owner.post('/api/v1/weather', { days })).status).toBeLessThan(300);
    const answer = await owner.get('/api/v1/weather?siteId=lyon&from=2026-07-15&to=2026-07-17');
    const [estimated, given, unknown] = (answer.body as { items: WeatherDayJson[] }).items;
    expect(estimated?.et0Mm).toBeNull();
    expect(estimated?.usedEt0?.et0Mm).toBeCloseTo(4.56, 2);
    expect(estimated?.usedEt0?.estimated).toEqual(['humidity', 'wind', 'solar']);
    expect(given?.usedEt0).toEqual({ et0Mm: 5.2, estimated: [] });
    expect(unknown?.usedEt0).toBeNull();
  });
});
