import { describe, expect, it } from 'vitest';
import { advance, assess, explain, startAnalysis } from '../../../src/analytics/analysis.js';
import { compareInputs } from '../../../src/app/analysis/pot-driver.js';
import type { PotInput } from '../../../src/domain/analysis.js';
import { DAY_MS } from '../../../src/domain/local-day.js';
import { EN } from '../../../src/domain/texts/en/index.js';
import { render } from '../../../src/domain/texts/render.js';
import { potContext, potSeries } from '../../support/pot-series.js';

const READER = {
  locale: 'en-GB',
  units: { volume: 'L', length: 'mm', temperature: 'Cel' },
  timeZone: 'Europe/Madrid',
} as const;

describe('the analysis of one pot', () => {
  it('learns a steady planting and dates the empty reservoir to within a day', () => {
    const ctx = potContext();
    const inputs = potSeries(ctx, { days: 30, et0Mm: () => 5 });
    const { state, derived } = advance(ctx, startAnalysis(ctx), inputs);
    const nowMs = inputs.at(-1)!.timeMs;
    const { status } = assess(ctx, state, nowMs, []);
    expect(status.forecast.knowledge).toBe('known');
    expect(status.forecast.rateLitresPerDay).toBeGreaterThan(1.15);
    expect(status.forecast.rateLitresPerDay).toBeLessThan(1.35);
    const truthMs = nowMs + ((status.litres! - 1.5) / 1.25) * DAY_MS;
    expect(Math.abs(status.forecast.dry!.p50Ms! - truthMs)).toBeLessThan(DAY_MS);
    expect(derived.events.filter((event) => event.kind === 'refill').length).toBe(1);
  });

  it('measures the soil by the probe in use: another probe has another scale', () => {
    const ctx = potContext();
    const plain = potSeries(ctx, { days: 30 });
    const changedMs = plain[0]!.timeMs + 20 * DAY_MS;
    const probed = plain.map((input) =>
      input.kind === 'reading'
        ? { ...input, reading: { ...input.reading, moistureFraction: input.timeMs < changedMs ? 0.42 : 0.33 } }
        : input,
    );
    const reference = (inputs: readonly PotInput[]) =>
      advance(ctx, startAnalysis(ctx), [...inputs].sort(compareInputs)).state.soil.reference;
    const changed: PotInput = { kind: 'assignment', timeMs: changedMs, nodeId: 'N2', promisedIntervalS: null };
    expect(reference(probed)).toBeGreaterThan(0.4);
    expect(reference([...probed, changed])).toBeCloseTo(0.33, 2);
  });

  it('says in words what it knows', () => {
    const ctx = potContext();
    const inputs = potSeries(ctx, { days: 12 });
    const { state } = advance(ctx, startAnalysis(ctx), inputs);
    const lines = explain(ctx, state, inputs.at(-1)!.timeMs, []).map((message) => render(EN, message, READER));
    expect(lines[0]).toMatch(/L left, using .* L\/d: dry/);
    expect(lines.join(' ')).not.toMatch(/NaN|undefined|null/);
  });
});
