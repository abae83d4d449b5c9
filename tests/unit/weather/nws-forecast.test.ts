import { createServer, type IncomingMessage, type Server } from 'node:http';
import type { AddressInfo } from 'node:net';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { ForecastUnavailable } from '../../../src/domain/ports/forecast-source.js';
import type { Site } from '../../../src/domain/registry.js';
import { NwsForecast } from '../../../src/weather/nws-forecast.js';
import { parseValidTime } from '../../../src/weather/nws-gridpoint.js';

/** Answers in the form that the service documents; the values are made up. */
const site: Site = {
  id: 'S1',
  accountId: 'A1',
  name: 'Deck',
  latitude: 28.04063,
  longitude: -82.48121,
  elevationM: 6,
  timeZone: 'America/New_York',
  tap: true,
};

const gridpoint = {
  properties: {
    updateTime: '2026-06-01T08:12:00+00:00',
    temperature: {
      uom: 'wmoUnit:degC',
      values: [
        { validTime: '2026-06-01T04:00:00+00:00/PT12H', value: 22 },
        { validTime: '2026-06-01T16:00:00+00:00/PT6H', value: 31 },
        { validTime: '2026-06-01T22:00:00+00:00/PT6H', value: 26 },
        { validTime: '2026-06-02T04:00:00+00:00/PT4H', value: 23 },
      ],
    },
    maxTemperature: { uom: 'wmoUnit:degC', values: [{ validTime: '2026-06-01T12:00:00+00:00/PT13H', value: 32.2 }] },
    relativeHumidity: { uom: 'wmoUnit:percent', values: [{ validTime: '2026-06-01T04:00:00+00:00/P1D', value: 70 }] },
    windSpeed: { uom: 'wmoUnit:km_h-1', values: [{ validTime: '2026-06-01T04:00:00+00:00/P1D', value: 18 }] },
    skyCover: { uom: 'wmoUnit:percent', values: [{ validTime: '2026-06-01T04:00:00+00:00/P1D', value: 40 }] },
    probabilityOfPrecipitation: {
      uom: 'wmoUnit:percent',
      values: [
        { validTime: '2026-06-01T04:00:00+00:00/PT12H', value: 10 },
        { validTime: '2026-06-01T16:00:00+00:00/PT12H', value: 60 },
      ],
    },
    quantitativePrecipitation: {
      uom: 'wmoUnit:mm',
      values: [
        { validTime: '2026-06-01T16:00:00+00:00/PT6H', value: 4 },
        { validTime: '2026-06-02T01:00:00+00:00/PT6H', value: 6 },
      ],
    },
  },
};

describe('the forecast of the US National Weather Service', () => {
  let server: Server;
  let base: string;
  let asked: IncomingMessage[];
  let fail: { status: number; headers: Record<string, string> } | null;
  let nowMs: number;

  beforeEach(async () => {
    asked = [];
    fail = null;
    nowMs = Date.parse('2026-06-01T09:00:00Z');
    server = createServer((request, response) => {
      asked.push(request);
      if (fail !== null) {
        response.writeHead(fail.status, fail.headers).end();
        return;
      }
      if (request.url === '/points/28.0406,-82.4812') {
        response
          .writeHead(200, { 'content-type': 'application/geo+json', 'cache-control': 'max-age=3600' })
          .end(JSON.stringify({ properties: { forecastGridData: `${base}/gridpoints/TBW/71,98` } }));
      } else if (request.url === '/gridpoints/TBW/71,98') {
        if (request.headers['if-modified-since'] !== undefined) {
          response.writeHead(304, { 'cache-control': 'max-age=600' }).end();
          return;
        }
        response
          .writeHead(200, { 'cache-control': 'max-age=600', 'last-modified': 'Mon, 01 Jun 2026 08:12:00 GMT' })
          .end(JSON.stringify(gridpoint));
      } else response.writeHead(404).end();
    });
    await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
    base = `http://127.0.0.1:${(server.address() as AddressInfo).port}`;
  });

  afterEach(async () => {
    await new Promise((resolve) => server.close(resolve));
  });

  const source = () =>
    new NwsForecast({ baseUrl: base, userAgent: 'brimline-test (ops@example.org)', timeoutMs: 5000 }, () => nowMs);

  it('turns series of intervals into whole site-local days', async () => {
    const days = await source().forecast(site);
    expect(days).toHaveLength(1);
    const [day] = days;
    expect(day).toMatchObject({
      siteId: 'S1',
      day: '2026-06-01',
      tminC: 22,
      tmaxC: 32.2,
      humidityFraction: 0.7,
      rainProbability: 0.6,
      issuedMs: Date.parse('2026-06-01T08:12:00Z'),
    });
    // 4 mm by day, and the half of the night's 6 mm that falls before midnight on the wall.
    expect(day!.rainMm).toBeCloseTo(4 + 3, 6);
    // 18 km/h at 10 m is 3.74 m/s at 2 m (FAO-56, equation 47).
    expect(day!.windMPerS).toBeCloseTo(3.74, 2);
    // 60 % of clear sky at 28 N on 1 June: (0.25 + 0.3) x 40.9 MJ.
    expect(day!.solarMjPerM2).toBeCloseTo(22.5, 0);
  });

  it('says who asks, keeps answers while they are fresh, then asks whether they changed', async () => {
    const nws = source();
    await nws.forecast(site);
    await nws.forecast(site);
    expect(asked.map((request) => request.url)).toEqual(['/points/28.0406,-82.4812', '/gridpoints/TBW/71,98']);
    expect(asked[0]!.headers['user-agent']).toBe('brimline-test (ops@example.org)');
    nowMs += 15 * 60_000;
    expect(await nws.forecast(site)).toHaveLength(1);
    expect(asked).toHaveLength(3);
    expect(asked[2]!.headers['if-modified-since']).toBe('Mon, 01 Jun 2026 08:12:00 GMT');
  });

  it('waits longer after each failure and does not knock meanwhile', async () => {
    const nws = source();
    fail = { status: 503, headers: {} };
    await expect(nws.forecast(site)).rejects.toThrow(ForecastUnavailable);
    await expect(nws.forecast(site)).rejects.toThrow('waiting');
    expect(asked).toHaveLength(1);
    nowMs += 61_000;
    await expect(nws.forecast(site)).rejects.toMatchObject({ retryAfterMs: 120_000 });
    expect(asked).toHaveLength(2);
    nowMs += 121_000;
    fail = null;
    expect(await nws.forecast(site)).toHaveLength(1);
  });

  it('waits as long as the service asks', async () => {
    fail = { status: 429, headers: { 'retry-after': '900' } };
    await expect(source().forecast(site)).rejects.toMatchObject({ retryAfterMs: 900_000 });
  });

  it('has no days for a place that the service does not cover', async () => {
    expect(await source().forecast({ ...site, latitude: 41.2, longitude: 2.1 })).toEqual([]);
  });

  it('does not take an answer of another form', async () => {
    server.removeAllListeners('request');
    server.on('request', (_request, response) => response.end('{"properties":{}}'));
    await expect(source().forecast(site)).rejects.toThrow('unknown form');
  });
});

it('reads ISO 8601 intervals and refuses what is none', () => {
  expect(parseValidTime('2026-06-01T06:00:00+00:00/P1DT3H30M')).toEqual({
    fromMs: Date.parse('2026-06-01T06:00:00Z'),
    toMs: Date.parse('2026-06-02T09:30:00Z'),
  });
  expect(parseValidTime('2026-06-01T06:00:00+00:00')).toBeNull();
  expect(parseValidTime('soon/PT1H')).toBeNull();
});
