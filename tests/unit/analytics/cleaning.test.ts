import { describe, expect, it } from 'vitest';
import { type CleaningState, cleanLevel, isStuck, startCleaning } from '../../../src/analytics/cleaning.js';
import { gaussian, seededRng } from '../../support/pot-series.js';

const LIMITS = { fallMmPerHour: 1, topMm: 400 };
const STEP_MS = 900_000;

function feed(levels: readonly number[], from: CleaningState = startCleaning(), startMs = STEP_MS) {
  let state = from;
  const verdicts: string[] = [];
  const accepted: number[] = [];
  let outliers = 0;
  for (const [index, levelMm] of levels.entries()) {
    const result = cleanLevel(state, { timeMs: startMs + index * STEP_MS, levelMm, temperatureC: null }, LIMITS);
    state = result.state;
    verdicts.push(result.verdict);
    accepted.push(...result.accepted.map((point) => point.levelMm));
    if (result.heldWasOutlier) outliers++;
  }
  return { state, verdicts, accepted, outliers };
}

const steady = (count: number, levelMm: number): number[] =>
  Array.from({ length: count }, (_, i) => levelMm - 0.02 * i);

describe('the level filter', () => {
  it('holds one spike back and drops it when the next reading is where the level was', () => {
    const { verdicts, accepted, outliers } = feed([...steady(20, 100), 160, ...steady(5, 99.5)]);
    expect(verdicts[20]).toBe('held');
    expect(verdicts[21]).toBe('accepted');
    expect(outliers).toBe(1);
    expect(Math.max(...accepted)).toBeLessThan(101);
  });

  it('takes two readings that agree on a new level for a jump, and counts both', () => {
    const { verdicts, accepted } = feed([...steady(20, 60), 150, 150.5, 150.2]);
    expect(verdicts.slice(20)).toEqual(['held', 'jump', 'accepted']);
    expect(accepted.slice(20)).toEqual([150, 150.5, 150.2]);
  });

  it('follows a fall across a gap of a day instead of refusing it', () => {
    const { state } = feed(steady(20, 100));
    const after = cleanLevel(state, { timeMs: 20 * STEP_MS + 86_400_000, levelMm: 82, temperatureC: null }, LIMITS);
    expect(after.verdict).toBe('accepted');
  });

  it('refuses what no vessel holds', () => {
    expect(feed([...steady(5, 100), 900]).verdicts[5]).toBe('impossible');
    expect(feed([...steady(5, 100), -60]).verdicts[5]).toBe('impossible');
  });

  it('never lets the noise scale fall under what a 1 mm quantiser leaves', () => {
    const { state } = feed(Array.from({ length: 400 }, () => 100));
    expect(state.noiseMm).toBeGreaterThanOrEqual(1 / Math.sqrt(12));
  });

  it.each([0.5, 1, 2, 3])('finds a noise of %f mm to within a third', (noiseMm) => {
    const rng = seededRng(7);
    const levels = Array.from({ length: 600 }, (_, i) => 150 - 0.1 * i + noiseMm * gaussian(rng));
    const { state } = feed(levels);
    expect(state.noiseMm).toBeGreaterThan(noiseMm * 0.67);
    expect(state.noiseMm).toBeLessThan(noiseMm * 1.34);
  });

  it('finds a sensor stuck that was noisy and repeats itself for ten hours, and not a quiet full pot', () => {
    const rng = seededRng(3);
    const noisy = feed(Array.from({ length: 200 }, () => 100 + 1.2 * gaussian(rng)));
    const frozen = feed(
      Array.from({ length: 45 }, () => 100.4),
      noisy.state,
      201 * STEP_MS,
    );
    expect(isStuck(frozen.state, 246 * STEP_MS)).toBe(true);
    const quiet = feed(Array.from({ length: 300 }, () => 200));
    expect(isStuck(quiet.state, 301 * STEP_MS)).toBe(false);
  });

  it('finds the level again after a run of readings that never agreed', () => {
    const { state } = feed([...steady(10, 150), 110, 128, 95, 120, 90, 97, 96, 95, 96, 95]);
    expect(state.levelMm).toBeGreaterThan(88);
    expect(state.levelMm).toBeLessThan(102);
  });
});
