import { describe, expect, it } from 'vitest';
import { ARCHIVE_DAYS, SkillHistory } from '../../../src/analytics/forecast-archive.js';
import { forecastSkill } from '../../../src/analytics/forecast-skill.js';
import { addDays, DAY_MS } from '../../../src/domain/local-day.js';
import type { WeatherDay } from '../../../src/domain/weather.js';
import { potContext } from '../../support/pot-series.js';

const FIRST = '2026-03-01';
const DAYS = 200;
const ctx = potContext();

function weather(day: string, et0Mm: number, issuedMs: number | null = null): WeatherDay {
  return {
    siteId: ctx.site.id,
    day,
    tminC: null,
    tmaxC: null,
    humidityFraction: null,
    windMPerS: null,
    solarMjPerM2: null,
    rainMm: null,
    et0Mm,
    rainProbability: null,
    issuedMs,
  };
}

const startOf = (day: string): number => Date.parse(`${day}T02:00:00Z`);
const dayAt = (index: number): string => addDays(FIRST, index);
/** Fronts of some days' length; the forecast sees twice the departure that comes. */
const departure = (index: number): number => 0.3 * Math.sin(index * 2.4);
const observed = Array.from({ length: DAYS }, (_, i) => weather(dayAt(i), 4 * Math.exp(departure(i))));
const issuedTwoDaysAhead = Array.from({ length: DAYS }, (_, i) =>
  weather(dayAt(i), 4 * Math.exp(2 * departure(i)), startOf(dayAt(i - 2))),
);

describe('the history of a forecast’s skill', () => {
  it('is what is expected until days that were forecast are over', () => {
    const history = new SkillHistory(ctx, observed, issuedTwoDaysAhead);
    expect(history.at(startOf(dayAt(10)))).toEqual(forecastSkill([]));
    expect(new SkillHistory(ctx, observed, []).at(startOf(dayAt(150)))).toEqual(forecastSkill([]));
  });

  it('learns at the lead that was issued, and no other, how much of a departure comes', () => {
    const skill = new SkillHistory(ctx, observed, issuedTwoDaysAhead).at(startOf(dayAt(190)));
    expect(skill[2]!.pairs).toBe(ARCHIVE_DAYS);
    expect(Math.abs(skill[2]!.slope - 0.5)).toBeLessThan(0.05);
    expect(skill[3]).toEqual(forecastSkill([])[3]);
  });

  it('uses nothing of the day on which it is asked, nor of a later one', () => {
    const until = (count: number): SkillHistory =>
      new SkillHistory(ctx, observed.slice(0, count), issuedTwoDaysAhead.slice(0, count));
    const asked = startOf(dayAt(120)) + DAY_MS / 2;
    expect(until(DAYS).at(asked)).toEqual(until(120).at(asked));
    expect(until(DAYS).at(asked + DAY_MS)).not.toEqual(until(120).at(asked + DAY_MS));
  });

  it('does not depend on the order of the archive, and counts the first of several issues in a day', () => {
    const again = issuedTwoDaysAhead.map((day) => ({ ...day, et0Mm: 9, issuedMs: day.issuedMs! + 3_600_000 }));
    const plain = new SkillHistory(ctx, observed, issuedTwoDaysAhead).at(startOf(dayAt(150)));
    const shuffled = new SkillHistory(ctx, [...observed].reverse(), [...again, ...issuedTwoDaysAhead].reverse());
    expect(shuffled.at(startOf(dayAt(150)))).toEqual(plain);
  });
});
