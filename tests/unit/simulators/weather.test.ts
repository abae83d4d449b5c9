import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { Calendar, monthly } from '../../../simulators/calendar.js';
import { CLIMATE_IDS, CLIMATES } from '../../../simulators/weather/climates.js';
import { observeDays, summariseDay } from '../../../simulators/weather/daily.js';
import { issueForecast } from '../../../simulators/weather/forecast.js';
import { drawRegion, type RegionWeather } from '../../../simulators/weather/region.js';
import { drawSiteWeather } from '../../../simulators/weather/site.js';
import { estimateEt0Mm } from '../../../src/domain/formulas/fao56.js';

const YEARS = 8;
/** Standard error of a month's mean over the years, for days that hang together with 0.72 (AR(1)). */
const MONTH_ERROR = Math.sqrt((1 + 0.72) / (1 - 0.72) / (30.4 * YEARS));
const made = new Map<string, RegionWeather>();
function region(id: keyof typeof CLIMATES): RegionWeather {
  let known = made.get(id);
  if (known === undefined) {
    known = drawRegion(CLIMATES[id], new Calendar(CLIMATES[id].timeZone, '2018-01-01', YEARS * 365), 'weather-test');
    made.set(id, known);
  }
  return known;
}

function monthlyMeans(weather: RegionWeather, value: (dayIndex: number) => number): number[] {
  const sums = new Array<number>(12).fill(0);
  const counts = new Array<number>(12).fill(0);
  weather.calendar.days.forEach((day, index) => {
    const month = Number(day.slice(5, 7)) - 1;
    sums[month]! += value(index);
    counts[month]! += 1;
  });
  return sums.map((sum, month) => sum / counts[month]!);
}

describe('drawn weather', () => {
  it('evaporates in Tampa what the published monthly means evaporate by Penman-Monteith', () => {
    // FAO-56 PM of the TMY3 monthly means of Tampa International (NREL), mm/day; annual about 1420 mm.
    const published = [2.27, 2.62, 3.44, 4.85, 5.45, 5.17, 4.96, 4.63, 4.2, 3.58, 3.1, 2.33];
    const weather = region('tampa');
    const { climate, calendar } = weather;
    const means = monthlyMeans(weather, (d) => {
      const day = summariseDay(weather, calendar, d);
      return estimateEt0Mm({
        latitudeDeg: climate.latitude,
        elevationM: climate.elevationM,
        dayOfYear: calendar.dayOfYear[d]!,
        tminC: day.tminC,
        tmaxC: day.tmaxC,
        humidityFraction: day.humidityPct / 100,
        windMPerS: day.windMPerS,
        solarMjPerM2: day.solarMj,
      }).et0Mm;
    });
    const annual = (values: readonly number[]): number => values.reduce((sum, v) => sum + v, 0) * 30.4;
    // Days vary about the mean and the equation is not linear, so months may stray; the year may not.
    means.forEach((mean, month) => {
      expect(Math.abs(mean - published[month]!)).toBeLessThan(0.55);
    });
    expect(annual(means)).toBeGreaterThan(0.93 * 1420);
    expect(annual(means)).toBeLessThan(1.07 * 1420);
  });

  it.each(CLIMATE_IDS)('keeps the monthly normals of %s: temperature, radiation, rain, days with rain', (id) => {
    const weather = region(id);
    const { climate, calendar } = weather;
    const days = calendar.days.map((_, d) => summariseDay(weather, calendar, d));
    const temperature = monthlyMeans(weather, (d) => (days[d]!.tminC + days[d]!.tmaxC) / 2);
    const solar = monthlyMeans(weather, (d) => days[d]!.solarMj);
    let rain = 0;
    let wet = 0;
    temperature.forEach((mean, month) => {
      expect(Math.abs(mean - climate.meanC[month]!)).toBeLessThan(0.4 + 3.2 * climate.daySdC[month]! * MONTH_ERROR);
      expect(Math.abs(solar[month]! / climate.solarMjPerM2[month]! - 1)).toBeLessThan(0.14);
    });
    for (const day of days) {
      rain += day.rainMm / YEARS;
      if (day.rainMm > 0.1) wet += 1 / YEARS;
    }
    const yearly = (values: readonly number[]): number => values.reduce((sum, v) => sum + v, 0);
    expect(Math.abs(rain / yearly(climate.rainMm) - 1)).toBeLessThan(0.2);
    expect(Math.abs(wet / yearly(climate.wetDays) - 1)).toBeLessThan(0.15);
  });

  it('agrees in the maritime climate with four years of Seattle as NOAA recorded them', () => {
    // vega-datasets, seattle-weather.csv: daily temp_max, temp_min, precipitation 2012-2015.
    const file = new URL('../../../node_modules/vega-datasets/data/seattle-weather.csv', import.meta.url);
    const lines = readFileSync(file, 'utf8').trim().split('\n').slice(1);
    const temp = new Array<number>(12).fill(0);
    const rain = new Array<number>(12).fill(0);
    const count = new Array<number>(12).fill(0);
    for (const line of lines) {
      const [date, precipitation, max, min] = line.split(',');
      const month = Number(date!.slice(5, 7)) - 1;
      temp[month]! += (Number(max) + Number(min)) / 2;
      rain[month]! += Number(precipitation);
      count[month]! += 1;
    }
    const { maritime } = CLIMATES;
    // Four warm years against thirty: the months may differ by up to 2.5 K.
    temp.forEach((sum, month) => {
      expect(Math.abs(sum / count[month]! - maritime.meanC[month]!)).toBeLessThan(2.5);
    });
    const recorded = rain.reduce((sum, v) => sum + v, 0) / 4;
    const normal = maritime.rainMm.reduce((sum, v) => sum + v, 0);
    expect(Math.abs(recorded / normal - 1)).toBeLessThan(0.2);
  });

  it('is the same up to a day, however far it is drawn', () => {
    const short = drawRegion(CLIMATES.coast, new Calendar('Europe/Madrid', '2026-07-17', 30), 's');
    const long = drawRegion(CLIMATES.coast, new Calendar('Europe/Madrid', '2026-07-17', 60), 's');
    expect(long.days.slice(0, 30)).toEqual(short.days);
    expect([...long.rainMmPerStep.slice(0, 28 * 96)]).toEqual([...short.rainMmPerStep.slice(0, 28 * 96)]);
  });

  it('rains on a scripted day what the script says, at its hour', () => {
    const calendar = new Calendar('Europe/Madrid', '2026-08-01', 10);
    const weather = drawRegion(CLIMATES.coast, calendar, 's', [{ day: '2026-08-05', rainMm: 30, stormHour: 17 }]);
    expect(summariseDay(weather, calendar, 4).rainMm).toBeCloseTo(30, 3);
    const first = weather.rainMmPerStep.findIndex((mm, step) => step >= 4 * 96 && mm > 0);
    expect((first - 4 * 96) / 4).toBeCloseTo(17, 5);
  });
});

describe('what the product is told of the weather', () => {
  it('is near the site’s own weather but not equal to it', () => {
    const weather = region('coast');
    const site = drawSiteWeather(weather, 'weather-test', 'S1');
    const observed = observeDays(site, weather.calendar, 'weather-test', 'S1', false).slice(0, 400);
    const differences = observed.map((day, d) => day.solarMj / summariseDay(site, weather.calendar, d).solarMj - 1);
    const mean = differences.reduce((sum, v) => sum + v, 0) / differences.length;
    const sd = Math.sqrt(differences.reduce((sum, v) => sum + (v - mean) ** 2, 0) / differences.length);
    expect(sd).toBeGreaterThan(0.015);
    expect(sd).toBeLessThan(0.12);
  });

  it('gets worse with the lead of the forecast, down to the normals', () => {
    const weather = region('coast');
    const { calendar, climate } = weather;
    const truth = calendar.days.map((_, d) => summariseDay(weather, calendar, d));
    const skill = (lead: number): number => {
      let xy = 0;
      let xx = 0;
      let yy = 0;
      for (let d = 0; d < 700; d++) {
        const position = calendar.monthPosition[d + lead]!;
        const normal = monthly(climate.meanC, position);
        const said = issueForecast(truth, climate, calendar, 'weather-test', d)[lead]!;
        const x = (said.tmaxC + said.tminC) / 2 - normal;
        const y = (truth[d + lead]!.tmaxC + truth[d + lead]!.tminC) / 2 - normal;
        xy += x * y;
        xx += x * x;
        yy += y * y;
      }
      return xy / Math.sqrt(xx * yy);
    };
    const skills = [0, 3, 6, 9].map(skill);
    expect(skills[0]).toBeGreaterThan(0.9);
    expect(skills[3]).toBeLessThan(0.6);
    expect([...skills].sort((a, b) => b - a)).toEqual(skills);
  });
});
