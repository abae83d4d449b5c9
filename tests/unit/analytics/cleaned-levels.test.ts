import { describe, expect, it } from 'vitest';
import { type CleaningReason, cleanedLevels, startAnalysis } from '../../../src/analytics/analysis.js';
import { atReferenceMm, temperatureCorrection } from '../../../src/analytics/temperature-correction.js';
import type { PotInput } from '../../../src/domain/analysis.js';
import { gaussian, potContext, reading, seededRng } from '../../support/pot-series.js';

const START_MS = Date.parse('2026-06-01T00:00:00Z');
const ctx = potContext();

function readings(levelAt: (index: number) => number | null, count: number): PotInput[] {
  const rng = seededRng(3);
  return Array.from({ length: count }, (_, i) => {
    const levelMm = levelAt(i);
    return reading(START_MS + i * 900_000, levelMm === null ? null : levelMm + 0.8 * gaussian(rng));
  });
}

function reasons(levelAt: (index: number) => number | null, count = 60): readonly CleaningReason[] {
  return cleanedLevels(ctx, startAnalysis(ctx), readings(levelAt, count)).levels.map((level) => level.reason);
}

describe('what is told of each level', () => {
  it('names a lone one that is far off as astray, and gives no level for it', () => {
    const { levels } = cleanedLevels(
      ctx,
      startAnalysis(ctx),
      readings((i) => (i === 30 ? 190 : 120), 60),
    );
    expect(levels[30]).toMatchObject({ levelMm: null, reason: 'astray' });
    expect(levels.filter((level) => level.reason !== 'smoothed')).toHaveLength(1);
    expect(levels[31]!.levelMm).toBeCloseTo(120, -1);
  });

  it('names both readings of a jump, and the last one as waiting where nothing came after it', () => {
    const jump = reasons((i) => (i < 30 ? 80 : 150));
    expect([jump[29], jump[30], jump[31], jump[32]]).toEqual(['smoothed', 'jump', 'jump', 'smoothed']);
    expect(reasons((i) => (i < 59 ? 80 : 150)).at(-1)).toBe('waits');
  });

  it('names what is missing and what no vessel can hold', () => {
    const told = reasons((i) => (i === 20 ? null : i === 40 ? 9000 : 120));
    expect([told[20], told[40]]).toEqual(['no_level', 'impossible']);
  });

  it('names what repeats to the last digit for half a day as stuck', () => {
    const moving = readings((i) => 120 - 0.1 * i, 200);
    const frozen = Array.from({ length: 60 }, (_, i) => reading(START_MS + (200 + i) * 900_000, 101));
    const { levels } = cleanedLevels(ctx, startAnalysis(ctx), [...moving, ...frozen]);
    expect(levels.at(-1)).toMatchObject({ levelMm: null, reason: 'stuck' });
  });

  it('is the same in one piece and in many', () => {
    const inputs = readings((i) => (i === 30 ? 190 : i < 40 ? 120 : 160), 80);
    let state = startAnalysis(ctx);
    let levels: ReturnType<typeof cleanedLevels>['levels'] = [];
    for (const input of inputs) ({ state, levels } = cleanedLevels(ctx, state, [input], levels));
    expect(levels).toEqual(cleanedLevels(ctx, startAnalysis(ctx), inputs).levels);
  });
});

describe('the correction for temperature', () => {
  it('waits until the coefficient is known well and is more than none', () => {
    expect(temperatureCorrection(null)).toBeNull();
    expect(temperatureCorrection({ mmPerK: 0.3, sdMmPerK: 0.09, nights: 40 })).toBeNull();
    expect(temperatureCorrection({ mmPerK: 0.1, sdMmPerK: 0.05, nights: 40 })).toBeNull();
    expect(temperatureCorrection({ mmPerK: 0.2, sdMmPerK: 0.05, nights: 40 })).toEqual({ mmPerK: 0.2 });
  });

  it('states a level as it would read at 20 degrees', () => {
    expect(atReferenceMm(100, 30, { mmPerK: 0.2 })).toBeCloseTo(98, 9);
    expect(atReferenceMm(100, null, { mmPerK: 0.2 })).toBe(100);
    expect(atReferenceMm(100, 30, null)).toBe(100);
  });
});
