import { describe, expect, test } from 'vitest';
import type { WeatherDay, WeatherSample } from '../../../src/domain/weather.js';
import { openTempStore } from '../../support/temp-store.js';
import { changeSet, DAY, HOUR, idsOf, registryOf, T0 } from './worlds.js';

const { site: siteId } = idsOf('A');

const day = (name: string, more: Partial<WeatherDay> = {}): WeatherDay => ({
  siteId,
  day: name,
  tminC: null,
  tmaxC: null,
  humidityFraction: null,
  windMPerS: null,
  solarMjPerM2: null,
  rainMm: null,
  et0Mm: null,
  rainProbability: null,
  issuedMs: null,
  ...more,
});

const sample = (timeMs: number, more: Partial<WeatherSample> = {}): WeatherSample => ({
  siteId,
  timeMs,
  receivedMs: timeMs + 1_000,
  temperatureC: null,
  humidityFraction: null,
  windMPerS: null,
  solarWPerM2: null,
  rainMm: null,
  pressurePa: null,
  ...more,
});

async function siteStore() {
  const { store } = await openTempStore();
  await store.commit(changeSet(registryOf('A')));
  const take = (...rows: WeatherDay[]) => store.commit(changeSet([{ kind: 'weather_days', rows }]));
  const sampled = (...rows: WeatherSample[]) => store.commit(changeSet([{ kind: 'weather_samples', rows }]));
  return { store, take, sampled };
}

describe('observed days', () => {
  test('are kept with what is known, and what another file knows is filled in', async () => {
    const { store, take } = await siteStore();
    await take(day('2026-06-10', { tminC: 14, rainMm: 0 }), day('2026-06-12'));
    await take(day('2026-06-10', { tmaxC: 27, humidityFraction: 0.6, et0Mm: 5.1, windMPerS: 2, solarMjPerM2: 25 }));
    await take(day('2026-06-10', { rainMm: 3 }));
    expect(await store.weather.observedDays(siteId, '2026-06-10', '2026-06-11')).toEqual([
      day('2026-06-10', {
        tminC: 14,
        tmaxC: 27,
        humidityFraction: 0.6,
        windMPerS: 2,
        solarMjPerM2: 25,
        rainMm: 3,
        et0Mm: 5.1,
      }),
    ]);
    expect(await store.weather.observedDays(siteId, '2026-06-10', '2026-06-12')).toHaveLength(2);
  });

  test('make one line a site and commit over the local days, and none where nothing is new', async () => {
    const { store, take } = await siteStore();
    const from = await store.changes.lastSeq();
    await take(day('2026-06-10', { rainMm: 1 }), day('2026-06-12', { rainMm: 2 }), day('2026-06-11', { rainMm: 0 }));
    await take(day('2026-06-10', { rainMm: 1 }), day('2026-06-11'));
    expect(await store.changes.after(from, 10)).toMatchObject([
      { kind: 'weather_days', key: siteId, siteId, fromMs: T0 - 2 * HOUR, toMs: T0 - 2 * HOUR + 3 * DAY },
    ]);
  });
});

describe('forecast days', () => {
  test('are those issued last, but not after the instant at which they are to be known', async () => {
    const { store, take } = await siteStore();
    const issued = (name: string, issuedMs: number, rainMm: number) =>
      day(name, { issuedMs, rainMm, rainProbability: 0.4 });
    const rows = [
      issued('2026-06-11', T0, 1),
      issued('2026-06-11', T0 + HOUR, 2),
      issued('2026-06-11', T0 + 3 * HOUR, 3),
      issued('2026-06-12', T0, 4),
      issued('2026-06-10', T0, 5),
    ];
    await take(...rows, day('2026-06-11', { rainMm: 9 }));
    expect(await store.weather.forecastDays(siteId, '2026-06-11', T0 + 2 * HOUR)).toEqual([rows[1], rows[3]]);
    expect(await store.weather.forecastDays(siteId, '2026-06-11', T0 - 1)).toEqual([]);
    expect(await store.weather.forecastsOf(siteId, '2026-06-10', '2026-06-11', T0 + 2 * HOUR)).toEqual([
      rows[4],
      rows[0],
      rows[1],
    ]);
    expect(await store.weather.observedDays(siteId, '2026-06-11', '2026-06-11')).toMatchObject([
      { rainMm: 9, issuedMs: null },
    ]);
  });
});

describe('station samples', () => {
  test('come by time, are filled in and corrected by the latest receipt in either order', async () => {
    for (const order of [
      [0, 1],
      [1, 0],
    ] as const) {
      const { store, sampled } = await siteStore();
      const offers = [
        sample(T0, { temperatureC: 20, receivedMs: T0 + 1 }),
        sample(T0, { temperatureC: 21, humidityFraction: 0.5, receivedMs: T0 + 2 }),
      ];
      for (const index of order) await sampled(offers[index]!);
      await sampled(sample(T0 + HOUR, { windMPerS: 3, solarWPerM2: 400, rainMm: 0.2, pressurePa: 101_300 }));
      expect(await store.weather.samples(siteId, T0, T0 + HOUR + 1)).toEqual([
        sample(T0, { temperatureC: 21, humidityFraction: 0.5, receivedMs: T0 + 1 }),
        sample(T0 + HOUR, { windMPerS: 3, solarWPerM2: 400, rainMm: 0.2, pressurePa: 101_300 }),
      ]);
      expect(await store.weather.samples(siteId, T0, T0 + HOUR)).toHaveLength(1);
    }
  });

  test('that are repeated are no news', async () => {
    const { store, sampled } = await siteStore();
    await sampled(sample(T0, { rainMm: 1 }));
    const seq = await store.changes.lastSeq();
    await sampled(sample(T0, { rainMm: 1, receivedMs: T0 + DAY }));
    expect(await store.changes.lastSeq()).toBe(seq);
  });
});
