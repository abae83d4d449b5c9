import { expect, it } from 'vitest';
import { AT, type PackedDay } from '../../../src/analytics/day-record.js';
import { probeGain } from '../../../src/analytics/probe-gain.js';
import { potContext } from '../../support/pot-series.js';

const ctx = potContext();
const soilLitres = ctx.container.soil!.litres;

/** Days on which the plants use `useLitres` each and the probe falls as if it were `gain` times that. */
function days(count: number, gain: number, hoursDry: number): readonly PackedDay[] {
  const useLitres = 0.02 * soilLitres;
  return Array.from({ length: count }, (_, i) => {
    const day: (number | null)[] = new Array(30).fill(0);
    day[AT.dawnMoisture] = 0.42 - (gain * i * useLitres) / soilLitres;
    day[AT.moistureReference] = 0.42;
    day[AT.hoursDry] = hoursDry;
    day[AT.et0Mm] = 4;
    day[AT.kappa] = Math.log(useLitres / 4);
    return day;
  });
}

it('learns from dry days how much of a litre the probe shows, little by little', () => {
  const few = probeGain(ctx, days(2, 1.3, 24));
  const more = probeGain(ctx, days(5, 1.3, 24));
  expect(few).toBeGreaterThan(1.05);
  expect(more).toBeGreaterThan(few);
  expect(more).toBeLessThan(1.3);
});

it('takes a probe to be true while the reservoir had water, and where the expected use is what it shows', () => {
  expect(probeGain(ctx, days(10, 1.3, 3))).toBe(1);
  expect(probeGain(ctx, days(5, 1, 24))).toBeCloseTo(1, 10);
});

it('leaves out what came after the plants may have closed their stomata', () => {
  expect(probeGain(ctx, days(40, 1.3, 24))).toBeCloseTo(probeGain(ctx, days(5, 1.3, 24)), 10);
});
