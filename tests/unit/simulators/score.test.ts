import { describe, expect, it } from 'vitest';
import { naiveAnswers } from '../../../simulators/score/baselines.js';
import { scoreEvents } from '../../../simulators/score/events.js';
import { oneNightLitresPerDay, scoreFindings } from '../../../simulators/score/findings.js';
import {
  CAP_DAYS,
  dryPairs,
  type OriginSample,
  scoreLeads,
  scoreRules,
  stressPairs,
} from '../../../simulators/score/forecasts.js';
import type { LevelSeries } from '../../../simulators/score/series.js';

const DAY_MS = 86_400_000;

function series(points: readonly (readonly [day: number, levelMm: number, delayDays?: number])[]): LevelSeries {
  return {
    timeMs: Float64Array.from(points, ([day]) => day * DAY_MS),
    receivedMs: Float64Array.from(points, ([day, , delay]) => (day + (delay ?? 0)) * DAY_MS),
    levelMm: Float64Array.from(points, ([, level]) => level),
    nodeStartsMs: [0],
  };
}

const falling = (from: number, to: number, start: number, mmPerDay: number): [number, number][] =>
  Array.from({ length: Math.round((to - from) * 24) }, (_, k) => [from + k / 24, start - (k / 24) * mmPerDay]);

describe('the naive ways', () => {
  it('all find the date exactly when the level falls in a straight line', () => {
    const answers = naiveAnswers(series(falling(0, 10, 150, 10)), 10 * DAY_MS, 20);
    for (const lead of Object.values(answers.leadDays)) expect(lead).toBeCloseTo(3, 1);
  });

  it('draw their line through what came after the last refill only', () => {
    const points = [...falling(0, 8, 150, 10), ...falling(8, 10, 150, 5)];
    const answers = naiveAnswers(series(points), 10 * DAY_MS, 20);
    expect(answers.leadDays['OLS 3 d']).toBeCloseTo(24, 1);
    expect(answers.leadDays['OLS 7 d']).toBeCloseTo(24, 1);
  });

  it('are not stopped by one wild value', () => {
    const points = falling(0, 10, 150, 10);
    points[225] = [points[225]![0], 0];
    expect(naiveAnswers(series(points), 10 * DAY_MS, 20).leadDays['Theil-Sen']).toBeCloseTo(3, 0);
  });

  it('use nothing that was received after the origin', () => {
    const late = falling(0, 10, 150, 10).map(([day, level]) => [day, level, day > 9 ? 5 : 0] as const);
    const answers = naiveAnswers(series(late), 10 * DAY_MS, 20);
    expect(answers.lastLevelMm).toBeCloseTo(60, 0);
  });

  it('have no answer for a level that does not fall', () => {
    const flat = Array.from({ length: 100 }, (_, k) => [k / 24, 100] as const);
    expect(naiveAnswers(series(flat), 4 * DAY_MS, 20).leadDays['OLS 3 d']).toBeNull();
    expect(naiveAnswers(undefined, 0, 20).lastLevelMm).toBeNull();
  });
});

const origin = (changes: Partial<OriginSample>): OriginSample => ({
  containerId: 'C1',
  covered: true,
  cam: false,
  moisture: true,
  climate: 'coast',
  young: false,
  health: 'healthy',
  dryLead: 1,
  stressLead: 5,
  alreadyDry: false,
  alreadyStressed: false,
  dry: { p10: 0.8, p50: 1.1, p90: 1.4 },
  stress: { p10: 3, p50: 5, p90: 7 },
  naive: { leadDays: { 'last two': null, 'OLS 3 d': null, 'OLS 7 d': null, 'Theil-Sen': null }, lastLevelMm: 50 },
  fill: 0.3,
  ...changes,
});

describe('scores of dry dates', () => {
  it('count a missing answer as 45 days and as not covered', () => {
    const [bin] = scoreLeads([
      { truth: 1, said: { p10: 0.5, p50: 1.4, p90: 2 } },
      { truth: 1, said: null },
    ]);
    expect(bin!.n).toBe(2);
    expect(bin!.maeDays).toBeCloseTo((0.4 + CAP_DAYS - 1) / 2, 9);
    expect(bin!.cover80).toBe(0.5);
  });

  it('take an empty upper quantile for beyond the horizon', () => {
    const [, , , bin] = scoreLeads([{ truth: 15, said: { p10: 10, p50: 20, p90: null } }]);
    expect(bin!.cover80).toBe(1);
  });

  it('compute the pinball loss of the three quantiles', () => {
    const [bin] = scoreLeads([{ truth: 1, said: { p10: 0.5, p50: 1.2, p90: 0.9 } }]);
    // 0.1 * 0.5, 0.5 * 0.2, 0.9 * 0.1, averaged.
    expect(bin!.pinball).toBeCloseTo((0.05 + 0.1 + 0.09) / 3, 9);
  });

  it('leave out pots that are dry, too far from dry, or watched for less than two weeks', () => {
    const samples = [
      origin({}),
      origin({ alreadyDry: true, dryLead: 0 }),
      origin({ dryLead: null }),
      origin({ dryLead: 46 }),
      origin({ young: true }),
    ];
    expect(dryPairs(samples)).toHaveLength(1);
    expect(stressPairs([origin({ alreadyDry: true }), origin({ alreadyStressed: true })])).toHaveLength(1);
  });

  it('give recall and precision of the 48-hour rules', () => {
    const rules = scoreRules([
      origin({ dryLead: 1 }),
      origin({ dryLead: 1.9, dry: { p10: 2.1, p50: 2.4, p90: 3 } }),
      origin({ dryLead: 9, dry: { p10: 1.9, p50: 4, p90: 8 } }),
      origin({ dryLead: null, dry: { p10: 20, p50: null, p90: null } }),
    ]);
    const p10 = rules.find((r) => r.rule === 'p10 within 48 h')!;
    expect(p10).toMatchObject({ positives: 2, recall: 0.5, precision: 0.5 });
  });
});

describe('scores of events and findings', () => {
  it('measure refills and the confusion of rain with refills', () => {
    const score = scoreEvents([
      {
        refills: [
          { found: true, volumeError: 0.1 },
          { found: false, volumeError: null },
        ],
        saidRefills: [
          { right: true, tookRain: false },
          { right: false, tookRain: true },
          { right: true, tookRain: false },
        ],
        rises: [
          { truth: 'rain', said: 'rain' },
          { truth: 'rain', said: 'refill' },
          { truth: 'refill', said: 'refill' },
          { truth: 'refill', said: null },
        ],
        losses: [{ found: true }],
        falseLosses: 0,
      },
    ]);
    expect(score).toMatchObject({
      refillRecall: 0.5,
      refillPrecision: 2 / 3,
      refillVolumeErrorMedian: 0.1,
      falseRefillsFromRain: 1,
      rainAgainstRefill: 0.5,
      rainCalledRefill: 0.5,
    });
  });

  it('know what one night can show', () => {
    // 24 a sigma sqrt(12/n)/W: 0.15 m2, 1 mm, 15-minute readings over 7 h.
    expect(oneNightLitresPerDay({ areaM2: 0.15, noiseMm: 1, intervalS: 900 })).toBeCloseTo(
      (24 * 0.15 * Math.sqrt(12 / 28)) / 7,
      9,
    );
  });

  it('sort leaks into classes and measure size and height', () => {
    const score = scoreFindings([
      {
        leaks: [
          { litresPerDay: 1, flowRatio: 2, activeDays: 9, daysToFind: 10, saidSize: 0.8, heightErrorOfOverflow: 0.02 },
          {
            litresPerDay: 1.1,
            flowRatio: 0.5,
            activeDays: 40,
            daysToFind: null,
            saidSize: null,
            heightErrorOfOverflow: null,
          },
        ],
        faults: [
          {
            kind: 'overflow_blocked',
            daysToFind: 6,
            secondEvidenceDays: 7,
            evidence: 2,
            observable: true,
          },
          { kind: 'wick_failed', daysToFind: null, secondEvidenceDays: null, evidence: 0, observable: false },
        ],
        leakFalseAlarms: 1,
        leakFreeYears: 50,
        leakFalseAlarmsOnFaulty: 0,
        leakFreeYearsOnFaulty: 0,
        falseFindings: { sensor_stuck: 2 },
        faultFreeYears: 50,
        falseOnFaulty: { sensor_stuck: 3 },
        containerYears: 100,
      },
    ]);
    expect(score.leakFalseAlarmsPer100Years).toBe(2);
    expect(score.leakBySize.find((c) => c.name.startsWith('0.6'))).toMatchObject({
      n: 2,
      found: 0.5,
      within14Days: 0.5,
    });
    expect(score.leakSizeErrorMedian).toBeCloseTo(0.2, 9);
    expect(score.blockedShown).toEqual({ n: 1, foundAfterSecond: 1 });
    // A wick that nobody drank from is nobody's miss.
    expect(score.faults.find((f) => f.kind === 'wick_failed')!.n).toBe(0);
    expect(score.faults.find((f) => f.kind === 'sensor_stuck')).toMatchObject({
      falsePer100Years: 4,
      falseOnFaulty: 3,
    });
    expect(score.leakByActiveDays.find((c) => c.name === '7-14')).toMatchObject({ n: 1, found: 1 });
  });
});
