import fc from 'fast-check';
import { expect, it } from 'vitest';
import { advance, findingsAt, startAnalysis } from '../../../src/analytics/analysis.js';
import type { PotContext, PotInput } from '../../../src/domain/analysis.js';
import { DAY_MS, HOUR_MS } from '../../../src/domain/local-day.js';
import { container, START_MS, site } from '../../support/pot-view.js';

/** A winter: nothing grows, so a still level is what one expects. */
const winter: PotContext = { container: { ...container, plants: [] }, site, calibration: null };

function still(
  levelMm: number,
  moisture: number | null,
  days: number,
  intervalMs: number,
  temperatureC: number,
): readonly PotInput[] {
  const inputs: PotInput[] = [];
  for (let timeMs = START_MS; timeMs < START_MS + days * DAY_MS; timeMs += intervalMs) {
    inputs.push({
      kind: 'reading',
      timeMs,
      reading: {
        nodeId: 'N1',
        timeMs,
        receivedMs: timeMs + 1000,
        levelMm,
        moistureFraction: moisture,
        temperatureC,
        batteryV: 3.1,
        batteryFraction: null,
      },
    });
  }
  return inputs;
}

it('finds nothing in a pot that has always stood still', () => {
  fc.assert(
    fc.property(
      fc.integer({ min: 0, max: 200 }),
      fc.option(fc.double({ min: 0.1, max: 0.6, noNaN: true }), { nil: null }),
      fc.integer({ min: 3, max: 9 }),
      fc.constantFrom(HOUR_MS / 2, HOUR_MS, 3 * HOUR_MS),
      (levelMm, moisture, days, intervalMs) => {
        const inputs = still(levelMm, moisture, days, intervalMs, 8);
        const { state } = advance(winter, startAnalysis(winter), inputs);
        const kinds = findingsAt(winter, state, inputs.at(-1)!.timeMs).map((draft) => draft.kind);
        expect(kinds).toEqual([]);
      },
    ),
    { numRuns: 12 },
  );
});
