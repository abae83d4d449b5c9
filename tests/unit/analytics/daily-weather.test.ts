import { describe, expect, it } from 'vitest';
import { dayFromSamples } from '../../../src/analytics/daily-weather.js';
import { type ForecastPair, forecastSkill } from '../../../src/analytics/forecast-skill.js';
import { distanceKm, sharedFrom, shareWeather, weatherNeighbours } from '../../../src/analytics/weather-sharing.js';
import { HOUR_MS } from '../../../src/domain/local-day.js';
import type { WeatherDay, WeatherSample } from '../../../src/domain/weather.js';
import { seeded } from '../../support/leak-record.js';
import { START_MS, site } from '../../support/pot-view.js';

const sample = (hour: number, parts: Partial<WeatherSample> = {}): WeatherSample => ({
  siteId: 'S1',
  timeMs: START_MS + hour * HOUR_MS,
  receivedMs: START_MS + hour * HOUR_MS,
  temperatureC: 10 + hour,
  humidityFraction: 0.6,
  windMPerS: 2,
  solarWPerM2: hour >= 6 && hour < 18 ? 500 : 0,
  rainMm: 0,
  pressurePa: null,
  ...parts,
});

const day = (parts: Partial<WeatherDay> = {}): WeatherDay => ({
  siteId: 'S1',
  day: '2026-03-01',
  tminC: 10,
  tmaxC: 20,
  humidityFraction: null,
  windMPerS: null,
  solarMjPerM2: null,
  rainMm: null,
  et0Mm: null,
  rainProbability: null,
  issuedMs: null,
  ...parts,
});

describe('a day made of a station’s samples', () => {
  const hours = Array.from({ length: 24 }, (_, hour) => hour);
  const make = (samples: readonly WeatherSample[]) =>
    dayFromSamples('S1', '2026-03-01', START_MS, START_MS + 24 * HOUR_MS, samples);

  it('has extremes, means, the sun’s energy and the rain’s sum', () => {
    const made = make(hours.map((hour) => sample(hour, { rainMm: hour === 15 ? 4.2 : 0 })))!;
    expect(made.tminC).toBe(10);
    expect(made.tmaxC).toBe(33);
    expect(made.humidityFraction).toBeCloseTo(0.6, 12);
    // 500 W/m² for twelve hours.
    expect(made.solarMjPerM2).toBeCloseTo(21.6, 6);
    expect(made.rainMm).toBeCloseTo(4.2, 12);
    expect(made.issuedMs).toBeNull();
  });

  it('leaves unknown what the samples do not cover, but keeps the rain', () => {
    const made = make(hours.slice(0, 9).map((hour) => sample(hour, { rainMm: 1 })))!;
    expect(made).toMatchObject({ tminC: null, tmaxC: null, humidityFraction: null, solarMjPerM2: null, rainMm: 9 });
  });

  it('is nothing where nothing was sent', () => {
    expect(make([])).toBeNull();
    expect(make([sample(30)])).toBeNull();
  });
});

describe('weather shared between sites', () => {
  const near = { ...site, id: 'S2', latitude: site.latitude + 0.1 };
  const far = { ...site, id: 'S3', latitude: site.latitude + 1 };
  const high = { ...site, id: 'S4', latitude: site.latitude + 0.01, elevationM: 900 };

  it('comes from the nearest sites at about the same height', () => {
    expect(distanceKm(site, far)).toBeCloseTo(111.2, 1);
    expect(weatherNeighbours(site, [far, high, near, site]).map((other) => other.id)).toEqual(['S2']);
  });

  it('fills days and values that the own site lacks, and marks a whole shared day by its site', () => {
    const shared = shareWeather(
      [day({ humidityFraction: 0.5 })],
      [[day({ siteId: 'S2', rainMm: 3, humidityFraction: 0.9 }), day({ siteId: 'S2', day: '2026-03-02' })]],
    );
    expect(shared).toHaveLength(2);
    expect(shared[0]).toMatchObject({ siteId: 'S1', humidityFraction: 0.5, rainMm: 3 });
    expect(sharedFrom(shared[0]!, 'S1')).toBeNull();
    expect(sharedFrom(shared[1]!, 'S1')).toBe('S2');
  });
});

describe('the skill of a forecast by lead', () => {
  const gauss = (rng: () => number) => Math.sqrt(-2 * Math.log(1 - rng())) * Math.cos(2 * Math.PI * rng());

  it('is what is expected before anything was seen', () => {
    const skills = forecastSkill([]);
    expect(skills.map((skill) => Math.round(100 * skill.correlation))).toEqual([
      92, 88, 83, 77, 70, 62, 53, 45, 38, 30,
    ]);
  });

  it('is learnt from the archive, whatever constant factor lies between forecast and observation', () => {
    const rng = seeded(5);
    const pairs = Array.from({ length: 400 }, (): ForecastPair => {
      const truth = 0.3 * gauss(rng);
      const noise = 0.3 * gauss(rng);
      return {
        leadDays: 2,
        forecastEt0Mm: 1.4 * 4 * Math.exp(0.6 * truth + 0.8 * 0.6 * noise),
        observedEt0Mm: 4 * Math.exp(truth),
        usualEt0Mm: 4,
        forecastRainMm: null,
        rainProbability: 0.2,
        observedRainMm: rng() < 0.3 ? 5 : 0,
      };
    });
    const skill = forecastSkill(pairs)[2]!;
    // Correlation of 0.6 t + 0.48 n with t.
    expect(Math.abs(skill.correlation - 0.6 / Math.hypot(0.6, 0.48))).toBeLessThan(0.05);
    expect(Math.abs(skill.usualSd - 0.3)).toBeLessThan(0.03);
    expect(skill.rainReliability!).toBeGreaterThan(1.2);
  });
});
