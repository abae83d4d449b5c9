import { describe, expect, it } from 'vitest';
import { Draw } from '../../../simulators/rng.js';
import { Delivery } from '../../../simulators/sensor/delivery.js';
import { cellVolts, drawSensor, NodeSimulator, type SensorFault } from '../../../simulators/sensor/node.js';

const HOUR_MS = 3_600_000;
const START_MS = Date.UTC(2026, 5, 1);
const traits = {
  ...drawSensor(new Draw('traits'), { moistureShare: 1, rangeMm: 500 }),
  intervalS: 900,
  phaseS: 0,
  noiseMm: 1,
  slowNoiseMm: 0,
  quantumMm: 1,
  mmPerKelvin: 0,
  zeroErrorMm: 0,
  outlierShare: 0,
  lostShare: 0,
  clockErrorS: 0,
  cellAgeDays: 0,
};
const truth = { levelMm: 100, moistureFraction: 0.4, airC: 20 };

function levels(faults: readonly SensorFault[], count = 200): (number | null | undefined)[] {
  const node = new NodeSimulator('N1', traits, faults, 'seed', START_MS);
  return Array.from({ length: count }, (_, k) => node.sample(START_MS + k * 900_000, truth)?.levelMm);
}

const from = (kind: SensorFault['kind'], size: number): SensorFault => ({
  kind,
  fromMs: START_MS + 100 * 900_000,
  toMs: Number.MAX_SAFE_INTEGER,
  size,
});

describe('a simulated node', () => {
  it('scatters about the true level by its noise', () => {
    const values = levels([], 2000) as number[];
    const mean = values.reduce((sum, v) => sum + v, 0) / values.length;
    const sd = Math.sqrt(values.reduce((sum, v) => sum + (v - mean) ** 2, 0) / values.length);
    expect(mean).toBeCloseTo(100, 0);
    expect(sd).toBeGreaterThan(0.95);
    expect(sd).toBeLessThan(1.15);
  });

  it('repeats one value when stuck, and is the same as before up to the fault', () => {
    const healthy = levels([]);
    const stuck = levels([from('stuck', Number.NaN)]);
    expect(stuck.slice(0, 100)).toEqual(healthy.slice(0, 100));
    expect(new Set(stuck.slice(100)).size).toBe(1);
    expect(new Set(healthy.slice(100)).size).toBeGreaterThan(3);
  });

  it('reads a constant or nothing when unplugged, while its other quantities live', () => {
    expect(levels([from('unplugged', 0)])[150]).toBe(0);
    expect(levels([from('unplugged', Number.NaN)])[150]).toBeNull();
  });

  it('sends nothing when silent, and drifts by its rate when drifting', () => {
    expect(levels([from('silent', Number.NaN)])[150]).toBeUndefined();
    const drifted = levels([from('drift', 24)], 100 + 96) as number[];
    const last = drifted.slice(-8).reduce((sum, v) => sum + v, 0) / 8;
    expect(last).toBeGreaterThan(120);
    expect(last).toBeLessThan(127);
  });

  it('has cells that fall slowly or hold their voltage to the end, by their kind', () => {
    expect(cellVolts('alkaline', 0.2, 20) - cellVolts('alkaline', 0.7, 20)).toBeGreaterThan(0.2);
    expect(cellVolts('lithium', 0.2, 20) - cellVolts('lithium', 0.85, 20)).toBeLessThan(0.05);
    expect(cellVolts('lithium', 1, 20)).toBeLessThan(2.7);
  });
});

describe('delivery', () => {
  const outage = { fromMs: START_MS, toMs: START_MS + 10 * HOUR_MS };

  it('holds the readings of an outage back until after it', () => {
    const delivery = new Delivery([outage], 72, 0, 'seed', 'N1');
    expect(delivery.arrivalMs(START_MS + HOUR_MS)).toBeGreaterThanOrEqual(outage.toMs);
    expect(delivery.arrivalMs(outage.toMs + HOUR_MS)).toBeLessThan(outage.toMs + HOUR_MS + 60_000);
  });

  it('loses what a node without a memory sampled in an outage', () => {
    expect(new Delivery([outage], 0, 0, 'seed', 'N1').arrivalMs(START_MS + HOUR_MS)).toBeNull();
  });
});
