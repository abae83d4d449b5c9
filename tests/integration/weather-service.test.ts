import { createServer, type Server } from 'node:http';
import type { AddressInfo } from 'node:net';
import { afterEach, describe, expect, it } from 'vitest';
import { runDueJobs } from '../../src/app/jobs/run-jobs.js';
import { NwsForecast } from '../../src/weather/nws-forecast.js';
import { DAY, HOUR, jobParts, MONDAY, plantGarden } from '../support/garden.js';
import { openTempStore } from '../support/temp-store.js';

let server: Server | null = null;

afterEach(async () => {
  if (server !== null) await new Promise((resolve) => server?.close(resolve));
  server = null;
});

/** Answers in the form that the service documents, with one warm day; the values are made up. */
async function serve(issued: { at: string; hottest: number; fails: boolean }): Promise<string> {
  let base = '';
  server = createServer((request, response) => {
    if (issued.fails) {
      response.writeHead(503, { 'retry-after': '7200' }).end();
      return;
    }
    const grid = {
      properties: {
        updateTime: issued.at,
        temperature: {
          uom: 'wmoUnit:degC',
          values: [
            { validTime: '2026-08-31T22:00:00+00:00/PT12H', value: 18 },
            { validTime: '2026-09-01T10:00:00+00:00/PT12H', value: issued.hottest },
          ],
        },
      },
    };
    const body = request.url?.startsWith('/points/')
      ? { properties: { forecastGridData: `${base}/gridpoints/X/1,2` } }
      : grid;
    response.writeHead(200, { 'cache-control': 'max-age=60' }).end(JSON.stringify(body));
  });
  await new Promise<void>((resolve) => server?.listen(0, '127.0.0.1', resolve));
  base = `http://127.0.0.1:${(server.address() as AddressInfo).port}`;
  return base;
}

describe('the job that asks a weather service', () => {
  it('keeps each forecast as it was issued, and goes on with the last one where the service fails', async () => {
    const { store } = await openTempStore();
    const garden = await plantGarden(store, { draws: [[0.9], [0.5]], startMs: MONDAY - DAY });
    await garden.runTo(MONDAY);
    const issued = { at: '2026-08-31T04:00:00+00:00', hottest: 27, fails: false };
    const baseUrl = await serve(issued);
    let processMs = 0;
    const nws = new NwsForecast(
      { baseUrl, userAgent: 'Brimline (ops@firm.example)', timeoutMs: 5000 },
      () => processMs,
    );
    const tick = async (): Promise<readonly string[]> => {
      const ran = await runDueJobs({ ...jobParts(garden), forecasts: nws });
      await garden.settle();
      return ran;
    };
    const hottest = async (knownAtMs: number): Promise<readonly (number | null)[]> =>
      (await store.weather.forecastDays('S1', '2026-09-01', knownAtMs)).map((day) => day.tmaxC);

    expect(await tick()).toContain('outlook');
    expect(await hottest(MONDAY)).toEqual([27]);
    expect(await store.weather.forecastDays('S2', '2026-09-01', MONDAY)).toHaveLength(1);

    Object.assign(issued, { at: '2026-08-31T06:00:00+00:00', hottest: 31 });
    garden.clock.advance(2 * HOUR);
    processMs += 2 * HOUR;
    await tick();
    expect(await hottest(MONDAY + 2 * HOUR)).toEqual([31]);
    // What was known earlier stays on record.
    expect(await hottest(MONDAY)).toEqual([27]);

    issued.fails = true;
    garden.clock.advance(2 * HOUR);
    processMs += 2 * HOUR;
    expect(await tick()).toContain('outlook');
    expect(await hottest(MONDAY + 4 * HOUR)).toEqual([31]);
  });

  it('is not there where no service is set', async () => {
    const { store } = await openTempStore();
    const garden = await plantGarden(store, { draws: [[0.9]], startMs: MONDAY - DAY });
    expect(await runDueJobs(jobParts(garden))).not.toContain('outlook');
  });
});

describe('weather that a neighbouring site shares', () => {
  it('comes late and still changes what was derived, to the same as if it had come in time', async () => {
    const day = {
      siteId: 'S2',
      day: '2026-08-30',
      tminC: 19,
      tmaxC: 33,
      humidityFraction: 0.4,
      windMPerS: 3,
      solarMjPerM2: 24,
      rainMm: 0,
      et0Mm: null,
      rainProbability: null,
      issuedMs: null,
    };
    const stateOf = async (late: boolean): Promise<string | undefined> => {
      const { store } = await openTempStore();
      const garden = await plantGarden(store, { draws: [[0.9], [0.5]], startMs: MONDAY - 5 * DAY });
      const enter = () => garden.commit([{ kind: 'weather_days', rows: [day] }]);
      if (!late) await enter();
      await garden.runTo(MONDAY + DAY);
      if (late) await enter();
      await garden.settle();
      return (await store.pots.checkpoint('S1P1', MONDAY + DAY))?.stateJson;
    };
    const inTime = await stateOf(false);
    expect(inTime).toContain('"observedDays":1');
    expect(await stateOf(true)).toBe(inTime);
  });
});
