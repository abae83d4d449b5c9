import { describe, expect, it } from 'vitest';
import { dayFromSamples } from '../../../src/analytics/daily-weather.js';
import { type ForecastPair, forecastSkill, leadOfIssue } from '../../../src/analytics/forecast-skill.js';
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

  const said = (lead: number, forecastEt0Mm: number, observedEt0Mm: number): ForecastPair => ({
    leadDays: lead,
    forecastEt0Mm,
    observedEt0Mm,
    usualEt0Mm: 4,
  });

  it('is what is expected before anything was seen: less and less of the spread is foreseen', () => {
    const skills = forecastSkill([]);
    for (const skill of skills) expect(skill.slope).toBeCloseTo(0.9, 9);
    const shares = skills.map((skill) => skill.errorSd / skill.usualSd);
    expect(shares[0]).toBeCloseTo(Math.sqrt(1 - 0.92 ** 2), 9);
    expect(shares[9]).toBeCloseTo(Math.sqrt(1 - 0.3 ** 2), 9);
  });

  it('is learnt from the archive: how much of a departure comes, what factor lies between, and what is left open', () => {
    const rng = seeded(5);
    const pairs = Array.from({ length: 4000 }, () => {
      const departure = 0.25 * gauss(rng);
      return said(2, 1.4 * 4 * Math.exp(departure), 4 * Math.exp(0.6 * departure + 0.1 * gauss(rng)));
    });
    const skill = forecastSkill(pairs)[2]!;
    expect(Math.abs(skill.slope - 0.6)).toBeLessThan(0.01);
    // A forecast of the usual, 4 mm, stands for less than usual where the provider says 1.4 times too much.
    expect(Math.abs(skill.offset + 0.6 * Math.log(1.4))).toBeLessThan(0.01);
    expect(Math.abs(skill.errorSd - 0.1)).toBeLessThan(0.01);
  });

  it('is not taken from a handful of days alone', () => {
    const few = [said(5, 5, 3.2), said(5, 3.2, 5), said(5, 4.5, 3.5)];
    expect(forecastSkill(few)[5]!.slope).toBeGreaterThan(0.6);
    expect(forecastSkill(few)[5]!.slope).toBeLessThan(0.9);
    expect(forecastSkill(few)[4]).toEqual(forecastSkill([])[4]);
  });

  it('counts leads from the day under way on, whenever in the night or morning a forecast is issued', () => {
    const dawnMs = Date.UTC(2026, 5, 10, 3, 30);
    const hours = (h: number): number => h * 3_600_000;
    expect([-6, 1.5, 20, 25.5, 49].map((h) => leadOfIssue(dawnMs - hours(h), dawnMs))).toEqual([0, 0, 1, 1, 2]);
  });
});
