import { describe, expect, it } from 'vitest';
import { judgeRefill, type RefillEvidence } from '../../../src/alerts/refill-proof.js';
import type { PotReading } from '../../../src/domain/pot.js';
import { gainOf, HOUR, MONDAY } from '../../support/situations.js';

function reading(timeMs: number, levelMm: number, moistureFraction: number | null = null): PotReading {
  return {
    nodeId: 'N1',
    timeMs,
    receivedMs: timeMs,
    levelMm,
    moistureFraction,
    temperatureC: null,
    batteryV: null,
    batteryFraction: null,
  };
}

function evidence(more: Partial<RefillEvidence>): RefillEvidence {
  return {
    happenedMs: MONDAY,
    reportedLitres: 18,
    gains: [],
    readings: [reading(MONDAY - HOUR, 60)],
    lastReadingMs: MONDAY + 3 * HOUR,
    overflowMm: 200,
    wickFootMm: 10,
    usualMoisture: null,
    sensorInDoubt: false,
    ...more,
  };
}

const refill = (litres: number, startLevelMm = 60) => ({ ...gainOf('refill', litres, MONDAY - 600_000), startLevelMm });

describe('the proof of a refill by the level', () => {
  it('waits until the level has settled, and gives up after a day without readings', () => {
    const unheard = evidence({ lastReadingMs: MONDAY + HOUR });
    expect(judgeRefill(unheard, MONDAY + 3 * HOUR)).toBeNull();
    expect(judgeRefill(unheard, MONDAY + 25 * HOUR)).toMatchObject({
      outcome: 'no_data',
      message: { code: 'verify.no_data' },
    });
    expect(judgeRefill(evidence({ lastReadingMs: null }), MONDAY + 25 * HOUR)).toMatchObject({ outcome: 'no_data' });
  });

  it('confirms what the level bears out, within what meters and levels differ by', () => {
    for (const litres of [11, 17, 22]) {
      expect(judgeRefill(evidence({ gains: [refill(litres)] }), MONDAY + 3 * HOUR)).toMatchObject({
        outcome: 'confirmed',
        measuredLitres: litres,
      });
    }
  });

  it('contradicts a report that the level does not bear out', () => {
    expect(judgeRefill(evidence({ gains: [refill(2)] }), MONDAY + 3 * HOUR)).toMatchObject({
      outcome: 'contradicted',
      message: { code: 'verify.contradicted', params: { reportedLitres: 18, measuredLitres: 2 } },
    });
    expect(judgeRefill(evidence({}), MONDAY + 3 * HOUR)).toMatchObject({
      outcome: 'contradicted',
      message: { code: 'verify.no_rise' },
    });
  });

  it('does not take the word of a sensor that is in doubt', () => {
    expect(judgeRefill(evidence({ sensorInDoubt: true }), MONDAY + 3 * HOUR)).toMatchObject({
      outcome: 'no_data',
      message: { code: 'verify.sensor_in_doubt' },
    });
  });

  it('takes a pot that stands at its overflow as filled, whatever was poured', () => {
    const brim = evidence({ gains: [refill(5, 180)], readings: [reading(MONDAY + HOUR, 199)] });
    expect(judgeRefill(brim, MONDAY + 3 * HOUR)).toMatchObject({
      outcome: 'confirmed',
      message: { code: 'verify.confirmed_full' },
    });
  });

  it('allows dry soil its drink, and then asks whether it took the water up', () => {
    const dry = (afterHours: number, moisture: number) =>
      evidence({
        gains: [refill(8, 9)],
        usualMoisture: 0.3,
        readings: [reading(MONDAY - HOUR, 9, 0.12), reading(MONDAY + afterHours * HOUR, 60, moisture)],
        lastReadingMs: MONDAY + afterHours * HOUR,
      });
    expect(judgeRefill(dry(4, 0.2), MONDAY + 4 * HOUR)).toMatchObject({ outcome: 'confirmed', stillDrySoil: false });
    expect(judgeRefill(dry(4, 0.12), MONDAY + 4 * HOUR)).toBeNull();
    // Soil that was at its usual moisture has nothing to take up.
    expect(judgeRefill({ ...dry(4, 0.12), usualMoisture: 0.15 }, MONDAY + 4 * HOUR)).toMatchObject({
      outcome: 'confirmed',
      stillDrySoil: false,
    });
    expect(judgeRefill(dry(25, 0.125), MONDAY + 25 * HOUR)).toMatchObject({ outcome: 'confirmed', stillDrySoil: true });
  });

  it('is content with any rise where no litres were reported', () => {
    expect(judgeRefill(evidence({ reportedLitres: null, gains: [refill(3)] }), MONDAY + 3 * HOUR)).toMatchObject({
      outcome: 'confirmed',
      message: { code: 'verify.confirmed_unreported' },
    });
  });
});
