import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  areaRisk,
  chanceDryWithin,
  daysToRisk,
  FORECAST_HORIZON_DAYS,
  fitDryTime,
  sharedLatestDay,
  siteLatestDay,
  visitDeadlines,
  WEATHER_SCENARIOS,
} from '../../../src/dispatch/risk.js';
import { DAY_MS } from '../../../src/domain/local-day.js';

const atDays = (days: number) => days * DAY_MS;
const spread = { p10Ms: atDays(4), p50Ms: atDays(5), p90Ms: atDays(8) };

describe('the chance that a pot is dry', () => {
  it('is 10, 50 and 90 % at the three dates of the forecast', () => {
    const time = fitDryTime(spread, 0);
    expect(chanceDryWithin(time, 4)).toBeCloseTo(0.1, 6);
    expect(chanceDryWithin(time, 5)).toBeCloseTo(0.5, 6);
    expect(chanceDryWithin(time, 8)).toBeCloseTo(0.9, 6);
  });

  it('never falls with time, and its inverse leads back', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 0.01, max: 59, noNaN: true }),
        fc.double({ min: 0.01, max: 0.99, noNaN: true }),
        (days, risk) => {
          const time = fitDryTime(spread, 0);
          expect(chanceDryWithin(time, days + 0.5)).toBeGreaterThanOrEqual(chanceDryWithin(time, days));
          expect(chanceDryWithin(time, daysToRisk(time, risk))).toBeCloseTo(risk, 5);
        },
      ),
    );
  });

  it('is certain where the pot is dry already and nothing where it outlasts every forecast', () => {
    expect(chanceDryWithin(fitDryTime({ p10Ms: -2, p50Ms: -1, p90Ms: atDays(1) }, 0), 0.1)).toBe(1);
    const lasting = fitDryTime({ p10Ms: null, p50Ms: null, p90Ms: null }, 0);
    expect(chanceDryWithin(lasting, 59)).toBe(0);
    expect(daysToRisk(lasting, 0.05)).toBe(FORECAST_HORIZON_DAYS);
  });

  it('takes a median beyond the horizon as on it, so that an early date still counts', () => {
    const time = fitDryTime({ p10Ms: atDays(20), p50Ms: null, p90Ms: null }, 0);
    expect(chanceDryWithin(time, 20)).toBeCloseTo(0.1, 6);
  });
});

describe('pots of one area', () => {
  it('dry up together in heat: more of them, and less often any, than if each stood alone', () => {
    const times = Array.from({ length: 20 }, () => fitDryTime(spread, 0));
    const risk = areaRisk(times, 4);
    const alone = 1 - 0.9 ** 20;
    expect(risk.dryByScenario[0]!).toBeGreaterThan(3 * risk.dryByScenario[2]!);
    expect(risk.chanceAny).toBeLessThan(alone);
    expect(risk.chanceAny).toBeGreaterThan(0.1);
    expect(WEATHER_SCENARIOS.reduce((sum, one) => sum + one.weight, 0)).toBeCloseTo(1, 12);
  });
});

describe('deadlines', () => {
  const pot = { dryTime: fitDryTime(spread, 0), roomLitres: 20, drawableLitres: 40, litresPerDay: 4, rateSpread: 0.1 };
  const visits = [0.4, 1.4, 2.4, 3.4, 4.4, 5.4];

  it('let the first visit wait as long as the accepted risk lasts', () => {
    const { latestDay } = visitDeadlines(pot, visits, [1], 0.05);
    expect(chanceDryWithin(pot.dryTime, visits[latestDay[0]!]!)).toBeLessThanOrEqual(0.05);
    expect(chanceDryWithin(pot.dryTime, visits[latestDay[0]! + 1]!)).toBeGreaterThan(0.05);
  });

  it('come sooner after a fill before a heat wave, and for those who accept less risk', () => {
    const calm = visitDeadlines(pot, visits, [1], 0.05).latestDay;
    const hot = visitDeadlines(pot, visits, [1, 1.5, 1.5, 1.5], 0.05).latestDay;
    const careful = visitDeadlines(pot, visits, [1], 0.001).latestDay;
    // 40 L at 4 L/d and the 95 % thirst of exp(1.645 * 0.1) last 8.48 days.
    expect(calm[1]).toBe(8);
    expect(hot[1]!).toBeLessThan(calm[1]!);
    expect(careful[1]!).toBeLessThan(calm[1]!);
  });

  it('count litres up from the last fill and never past what the reservoir holds', () => {
    const { litres } = visitDeadlines(pot, [...visits, 6.4, 7.4], [1, 2], 0.05);
    expect(litres[0]!.slice(0, 3)).toEqual([20, 24, 32]);
    expect(litres[2]!.slice(0, 4)).toEqual([0, 0, 8, 16]);
    expect(Math.max(...litres.flat())).toBe(40);
  });

  it('of a site are those of its thirstiest pot', () => {
    const thirsty = visitDeadlines({ ...pot, drawableLitres: 12 }, visits, [1], 0.05);
    const site = siteLatestDay([visitDeadlines(pot, visits, [1], 0.05), thirsty], 6);
    expect(site[1]).toBe(thirsty.latestDay[1]);
  });

  it('say that today is too late for a dry pot', () => {
    expect(visitDeadlines({ ...pot, dryTime: 'dry' }, visits, [1], 0.05).latestDay[0]).toBe(-1);
  });
});

describe('pots that share their weather', () => {
  const pot = {
    dryTime: { medianDays: 6, spreadBefore: 0.12, spreadAfter: 0.12 },
    roomLitres: 16,
    drawableLitres: 40,
    litresPerDay: 4,
    rateSpread: 0.12,
  };
  const days = Array.from({ length: 14 }, (_, d) => d + 0.5);

  it('are due earlier together than alone, by less than if each had a weather of its own', () => {
    const alone = visitDeadlines(pot, days, [1], 0.05).latestDay;
    const many = Array.from({ length: 8 }, () => pot);
    const together = sharedLatestDay(many, days, [1], 0.05, alone);
    expect(together[0]).toBeLessThanOrEqual(alone[0]!);
    expect(together[1]).toBeLessThan(alone[1]!);
    const risk = (day: number) =>
      areaRisk(
        many.map((one) => one.dryTime),
        days[day]!,
      ).chanceAny;
    expect(risk(together[0]!)).toBeLessThanOrEqual(0.05);
    const separate = (day: number) => 1 - (1 - chanceDryWithin(pot.dryTime, days[day]!)) ** 8;
    expect(risk(together[0]! + 1)).toBeLessThan(separate(together[0]! + 1));
  });

  it('leave a single pot as it is', () => {
    const alone = visitDeadlines(pot, days, [1], 0.05).latestDay;
    expect(sharedLatestDay([pot], days, [1], 0.05, alone)).toEqual(alone);
  });
});
