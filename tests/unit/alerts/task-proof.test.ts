import { describe, expect, it } from 'vitest';
import { judgeWork, type ProvedKind } from '../../../src/alerts/task-proof.js';
import type { PotReading } from '../../../src/domain/pot.js';
import { HOUR, MONDAY } from '../../support/situations.js';

const DONE = MONDAY;

const reading = (hours: number, more: Partial<PotReading>): PotReading => ({
  nodeId: 'N1',
  timeMs: DONE + hours * HOUR,
  receivedMs: DONE + hours * HOUR,
  levelMm: null,
  moistureFraction: null,
  temperatureC: null,
  batteryV: null,
  batteryFraction: null,
  ...more,
});

function outcome(kind: ProvedKind, readings: readonly PotReading[], hoursLater: number): string | null {
  const evidence = { kind, doneMs: DONE, readings, overflowMm: 120, usualMoisture: 0.4 };
  return judgeWork(evidence, DONE + hoursLater * HOUR)?.outcome ?? null;
}

const level = (hours: number, levelMm: number) => reading(hours, { levelMm });
const soil = (hours: number, moistureFraction: number) => reading(hours, { moistureFraction });
const cell = (hours: number, batteryV: number) => reading(hours, { batteryV });

describe('what readings say of work', () => {
  it('is of a cleared overflow that the level falls to the invert, and within a day', () => {
    expect(outcome('clear_overflow', [level(-1, 140), level(3, 122)], 4)).toBe('confirmed');
    expect(outcome('clear_overflow', [level(-1, 140), level(3, 139)], 4)).toBeNull();
    expect(outcome('clear_overflow', [level(-1, 140), level(3, 139), level(25, 138)], 26)).toBe('contradicted');
  });

  it('is nothing of an overflow under which the water stood already: its finding decides', () => {
    expect(outcome('clear_overflow', [level(-1, 90), level(3, 89), level(25, 88)], 26)).toBeNull();
  });

  it('is of a drained pot that the level fell', () => {
    expect(outcome('drain', [level(-1, 110), level(3, 20)], 4)).toBe('confirmed');
    expect(outcome('drain', [level(-1, 110), level(3, 109), level(25, 105)], 26)).toBe('contradicted');
  });

  it('is of wetted soil that its moisture goes up, where it was dry', () => {
    expect(outcome('rewet_from_above', [soil(-1, 0.2), soil(6, 0.28)], 7)).toBe('confirmed');
    expect(outcome('rewet_from_above', [soil(-1, 0.2), soil(6, 0.205), soil(25, 0.2)], 26)).toBe('contradicted');
    expect(outcome('retest_wick', [soil(-1, 0.39), soil(25, 0.39)], 26)).toBeNull();
  });

  it('is of a new battery that its voltage is that of a fresh one', () => {
    expect(outcome('replace_battery', [cell(-1, 2.3), cell(1, 3.1)], 2)).toBe('confirmed');
    expect(outcome('replace_battery', [cell(-1, 2.3), cell(1, 2.32), cell(25, 2.31)], 26)).toBe('contradicted');
  });

  it('is of a recovered node that it is heard, and after a day of silence that it is not', () => {
    expect(outcome('recover_node', [level(-30, 80), level(1, 79)], 2)).toBe('confirmed');
    expect(outcome('recover_node', [level(-30, 80)], 20)).toBeNull();
    expect(outcome('recover_node', [level(-30, 80)], 25)).toBe('contradicted');
  });

  it('is that nobody can say, where two days bring no reading at all', () => {
    expect(outcome('drain', [level(-1, 110)], 30)).toBeNull();
    expect(outcome('drain', [level(-1, 110)], 49)).toBe('no_data');
  });
});
