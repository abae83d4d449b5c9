import { describe, expect, it } from 'vitest';
import { advance, assess, type PotState, startAnalysis } from '../../../src/analytics/analysis.js';
import { resolve, spreadAt, updateCalibration } from '../../../src/analytics/calibration.js';
import type { PotContext } from '../../../src/domain/analysis.js';
import { DAY_MS } from '../../../src/domain/local-day.js';
import type { Forecast } from '../../../src/domain/pot.js';
import { potContext, potSeries, weatherDay } from '../../support/pot-series.js';

function folded(ctx: PotContext, options: Parameters<typeof potSeries>[1]): { state: PotState; nowMs: number } {
  const inputs = potSeries(ctx, options);
  return { state: advance(ctx, startAnalysis(ctx), inputs).state, nowMs: inputs.at(-1)!.timeMs };
}

function ordered(forecast: Forecast): void {
  for (const quantiles of [forecast.dry, forecast.stress]) {
    if (quantiles === null) continue;
    const { p10Ms, p50Ms, p90Ms } = quantiles;
    if (p10Ms !== null && p50Ms !== null) expect(p10Ms).toBeLessThanOrEqual(p50Ms);
    if (p50Ms !== null && p90Ms !== null) expect(p50Ms).toBeLessThanOrEqual(p90Ms);
    if (p50Ms === null) expect(p90Ms).toBeNull();
  }
}

describe('the forecast', () => {
  it.each([true, false])('keeps its quantiles in order and dry before stress (covered: %s)', (covered) => {
    const ctx = potContext({ covered });
    for (const days of [3, 9, 20, 33]) {
      const { state, nowMs } = folded(ctx, { days, seed: days });
      for (const hours of [0, 5, 30]) {
        const { forecast } = assess(ctx, state, nowMs + hours * 3_600_000, []).status;
        ordered(forecast);
        if (forecast.dry?.p50Ms != null && forecast.stress?.p50Ms != null) {
          expect(forecast.stress.p50Ms).toBeGreaterThanOrEqual(forecast.dry.p50Ms);
        }
        for (const value of [forecast.litres, forecast.rateLitresPerDay, forecast.rateSdLitresPerDay]) {
          expect(value === null || Number.isFinite(value)).toBe(true);
        }
      }
    }
  });

  it('says that it is learning, and gives no date, after a day', () => {
    const ctx = potContext();
    const { state, nowMs } = folded(ctx, { days: 1 });
    const { forecast } = assess(ctx, state, nowMs, []).status;
    expect(forecast.knowledge).toBe('learning');
    expect(forecast.dry).toBeNull();
    expect(forecast.basis.map((message) => message.code)).toEqual(['analysis.too_young']);
  });

  it('says that nothing is known of a pot without readings', () => {
    const ctx = potContext();
    const { status, findings } = assess(ctx, startAnalysis(ctx), Date.parse('2026-06-01T10:00:00Z'), []);
    expect(status.forecast.knowledge).toBe('no_node');
    expect([status.litres, status.levelMm, status.forecast.dry]).toEqual([null, null, null]);
    expect(findings).toEqual([]);
  });

  it('goes on from the last level while the node is silent, and widens', () => {
    const ctx = potContext();
    const { state, nowMs } = folded(ctx, { days: 20 });
    const fresh = assess(ctx, state, nowMs, []).status.forecast;
    const later = assess(ctx, state, nowMs + 3 * DAY_MS, []).status.forecast;
    expect(later.knowledge).toBe('silent');
    expect(later.litres!).toBeLessThan(fresh.litres!);
    const width = (forecast: Forecast): number => forecast.dry!.p90Ms! - forecast.dry!.p10Ms!;
    expect(width(later)).toBeGreaterThan(0.9 * width(fresh));
    expect(Math.abs(later.dry!.p50Ms! - fresh.dry!.p50Ms!)).toBeLessThan(1.5 * DAY_MS);
  });

  it('brings the date forward when hot days are forecast, and uses no forecast issued later than now', () => {
    const ctx = potContext();
    const { state, nowMs } = folded(ctx, { days: 25, et0Mm: () => 4 });
    const hot = (issuedMs: number) =>
      Array.from({ length: 8 }, (_, i) => weatherDay(`2026-06-${26 + i > 30 ? '30' : 26 + i}`, 7, 0, issuedMs));
    const plain = assess(ctx, state, nowMs, []).status.forecast;
    const warned = assess(ctx, state, nowMs, hot(nowMs - 3_600_000)).status.forecast;
    const tooLate = assess(ctx, state, nowMs, hot(nowMs + 1)).status.forecast;
    expect(warned.dry!.p50Ms!).toBeLessThan(plain.dry!.p50Ms!);
    expect(tooLate).toEqual(plain);
  });

  it('shifts with its data: the same history a week of days later gives the same litres to the millilitre', () => {
    const ctx = potContext();
    const shift = 7;
    const early = folded(ctx, { days: 16, startDay: '2026-06-01', weather: false });
    const late = folded(ctx, { days: 16, startDay: '2026-06-08', weather: false });
    const a = assess(ctx, early.state, early.nowMs, []).status.forecast;
    const b = assess(ctx, late.state, late.nowMs, []).status.forecast;
    expect(b.litres).toBeCloseTo(a.litres!, 2);
    // The sun stands a little higher or lower a week later; the use that was seen is the same.
    expect(Math.abs(b.dry!.p50Ms! - a.dry!.p50Ms! - shift * DAY_MS)).toBeLessThan(0.15 * DAY_MS);
  });

  it('keeps local days right when the clocks change', () => {
    for (const startDay of ['2026-03-25', '2026-10-20']) {
      const ctx = potContext();
      const inputs = potSeries(ctx, { days: 10, startDay });
      const { derived, checkpoints, state } = advance(ctx, startAnalysis(ctx), inputs);
      const lengths = checkpoints.slice(1).map((checkpoint, i) => (checkpoint.atMs - checkpoints[i]!.atMs) / 3_600_000);
      expect(lengths.filter((hours) => hours !== 24)).toEqual([startDay.startsWith('2026-03') ? 23 : 25]);
      expect(new Set(derived.ledgerDays.map((day) => day.day)).size).toBe(derived.ledgerDays.length);
      ordered(assess(ctx, state, inputs.at(-1)!.timeMs, []).status.forecast);
    }
  });
});

describe('the calibration', () => {
  const resolved = (outcomeDays: number, id: string, covered = true) => ({
    containerId: id,
    covered,
    originMs: 0,
    p10Ms: 6 * DAY_MS,
    p50Ms: 7 * DAY_MS,
    p90Ms: 8 * DAY_MS,
    outcome: 'dry' as const,
    outcomeMs: outcomeDays * DAY_MS,
  });
  const early = (outcomes: readonly ReturnType<typeof resolved>[], leadDays = 7, covered = true): number =>
    spreadAt(updateCalibration(null, outcomes, 1), covered, false, leadDays);

  it('widens the side on which the truth falls outside too often, narrows one where it never does, and no other', () => {
    const often = Array.from({ length: 100 }, (_, i) => resolved(i % 2 === 0 ? 5 : 7, `C${i}`));
    const calibration = updateCalibration(null, often, 1);
    expect(spreadAt(calibration, true, false, 7)).toBeGreaterThan(1.5);
    expect(spreadAt(calibration, true, true, 7)).toBeLessThan(0.8);
    expect(spreadAt(calibration, true, false, 1)).toBe(1);
    expect(spreadAt(calibration, false, false, 7)).toBe(1);
    expect(early(often.map((forecast) => ({ ...forecast, covered: false })))).toBe(1);
  });

  it('stands still where about one in eight seems to miss on each side', () => {
    const fair = Array.from({ length: 100 }, (_, i) => resolved(i % 25 < 3 ? 5 : i % 25 > 21 ? 9 : 7, `C${i}`));
    expect(early(fair)).toBeCloseTo(1, 6);
  });

  it('changes smoothly with the lead: half of a step at a lead between two is half a step for each', () => {
    const misses = Array.from({ length: 40 }, (_, i) => resolved(5, `C${i}`));
    const between = Math.sqrt(7 * 14);
    const late = early(misses, 7);
    expect(early(misses, between)).toBeCloseTo((1 + late) / 2, 6);
    expect(early(misses, 60)).toBe(1);
  });

  it('does not take a refill before the interval for a hit', () => {
    const refilled = { ...resolved(3, 'C1'), outcome: 'refilled' as const };
    expect(new Set(updateCalibration(null, [refilled], 1).spreadFactors)).toEqual(new Set([1]));
  });

  it('takes a refill late in the course for the date at which the rest would have gone', () => {
    const pot = { covered: true, deadLitres: 2 };
    const ctx = potContext();
    const { state, nowMs } = folded(ctx, { days: 20 });
    const said = { ...assess(ctx, state, nowMs, []).status.forecast, litres: 12 };
    const refill = (litres: number) => ({ kind: 'refilled' as const, atMs: nowMs + 6 * DAY_MS, litres });
    // Eight of ten litres in six days: the other two would have lasted another day and a half.
    expect(resolve(pot, said, refill(4))).toMatchObject({ outcome: 'dry', outcomeMs: nowMs + 7.5 * DAY_MS });
    expect(resolve(pot, said, refill(8))).toMatchObject({ outcome: 'refilled', outcomeMs: nowMs + 6 * DAY_MS });
    expect(resolve(pot, said, refill(1))).toMatchObject({ outcome: 'dry', outcomeMs: nowMs + 6 * DAY_MS });
  });

  it('of an older program, over other leads, is not applied', () => {
    const old = { frozenMs: 1, leadDays: [1.5, 4.5, 10, 60], spreadFactors: [2, 2, 2, 2] };
    expect(spreadAt(old, true, false, 3)).toBe(1);
  });
});
