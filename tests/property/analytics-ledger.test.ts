import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { advance, startAnalysis } from '../../src/analytics/analysis.js';
import { compareInputs } from '../../src/app/analysis/pot-driver.js';
import type { PotInput } from '../../src/domain/analysis.js';
import type { LedgerDay } from '../../src/domain/pot.js';
import { gaussian, potContext, reading, seededRng, weatherInput } from '../support/pot-series.js';

/** A closing and an opening are the same number; sums of ten litre values err by a few units in the fifteenth digit. */
const ROUNDING = 1e-9;

function residual(day: LedgerDay): number {
  const gained = day.openingLitres + day.refillCrewLitres + day.refillOtherLitres + day.rainLitres;
  const lost = day.uptakeLitres + day.leakLitres + day.overflowLitres + day.drainedLitres + day.unexplainedLitres;
  return gained - lost - day.closingLitres;
}

describe('the ledger', () => {
  it('closes for any sequence of falls, pours, drains, gaps and reports, and each day opens as the last one closed', () => {
    const step = fc.record({
      kind: fc.constantFrom('fall', 'pour', 'drop', 'gap', 'report', 'spike'),
      size: fc.double({ min: 0, max: 1, noNaN: true }),
      hours: fc.integer({ min: 1, max: 30 }),
    });
    fc.assert(
      fc.property(
        fc.array(step, { minLength: 2, maxLength: 14 }),
        fc.boolean(),
        fc.integer(),
        (steps, covered, seed) => {
          const ctx = potContext({ covered });
          const rng = seededRng(seed);
          const inputs: PotInput[] = [weatherInput(ctx, '2026-06-02', 5, 14), weatherInput(ctx, '2026-06-03', 5, 0)];
          let ms = Date.parse('2026-06-01T03:10:00Z');
          let levelMm = 120;
          for (const { kind, size, hours } of steps) {
            if (kind === 'pour') levelMm = Math.min(205, levelMm + 150 * size);
            if (kind === 'drop') levelMm = Math.max(0, levelMm - 100 * size);
            if (kind === 'report') inputs.push({ kind: 'work', timeMs: ms, work: 'refill', litres: 30 * size });
            if (kind === 'gap') ms += hours * 3_600_000;
            for (let i = 0; i < hours * 2; i++) {
              levelMm = Math.max(0, levelMm - (kind === 'fall' ? 3 * size : 0.2));
              const spike = kind === 'spike' && i === 3 ? 60 : 0;
              inputs.push(reading(ms, Math.max(0, levelMm + spike + 0.6 * gaussian(rng))));
              ms += 1_800_000;
            }
          }
          const { derived } = advance(ctx, startAnalysis(ctx), inputs.sort(compareInputs));
          let before: LedgerDay | null = null;
          for (const day of derived.ledgerDays) {
            for (const [name, value] of Object.entries(day)) {
              if (typeof value === 'number') expect(Number.isFinite(value), `${name} of ${day.day}`).toBe(true);
            }
            expect(Math.abs(residual(day))).toBeLessThan(ROUNDING);
            if (before !== null) expect(day.openingLitres).toBe(before.closingLitres);
            before = day;
          }
          expect(derived.ledgerDays.length).toBeGreaterThan(0);
        },
      ),
      { numRuns: 25 },
    );
  });
});
