import { describe, expect, it } from 'vitest';
import { drainTimeS, orificeFlowM3PerS, roundHoleAreaM2 } from '../../src/domain/formulas/orifice.js';

const METRES_PER_FOOT = 0.3048;

function expectNear(value: number, expected: number, relative: number): void {
  expect(Math.abs(value / expected - 1), `${value} against ${expected}`).toBeLessThanOrEqual(relative);
}

/* Y. A. Çengel, J. M. Cimbala: Fluid Mechanics, Example 5-2 (quoted from memory): printed 757 s and 43.1 min. */
describe('Çengel and Cimbala, discharge of water from a tank', () => {
  const tankArea = roundHoleAreaM2(3 * METRES_PER_FOOT * 1000);
  const jetArea = roundHoleAreaM2(0.5 * 25.4);
  const gravity = 32.2 * METRES_PER_FOOT;

  it('takes 757 s from 4 ft to 2 ft', () => {
    expectNear(drainTimeS(tankArea, jetArea, 4 * METRES_PER_FOOT, 2 * METRES_PER_FOOT, 1, gravity), 756.818, 1e-5);
  });

  it('takes 43.1 min to empty', () => {
    expectNear(drainTimeS(tankArea, jetArea, 4 * METRES_PER_FOOT, 0, 1, gravity), 2583.938, 1e-5);
  });
});

/* Computed from the same law with Cd 0.61 and standard gravity: regression values for small holes and ports. */
describe('small holes and overflow ports', () => {
  for (const [diameterMm, litresPerHour, emptyHours] of [
    [0.5, 0.854, 56.207],
    [1, 3.416, 14.052],
    [2, 13.664, 3.513],
    [3, 30.744, 1.561],
  ] as const) {
    it(`loses ${litresPerHour} L/h through ${diameterMm} mm at 200 mm, and empties 0.12 m² in ${emptyHours} h`, () => {
      const hole = roundHoleAreaM2(diameterMm);
      expectNear(orificeFlowM3PerS(hole, 0.2) * 3.6e6, litresPerHour, 5e-4);
      expectNear(drainTimeS(0.12, hole, 0.2, 0) / 3600, emptyHours, 5e-4);
    });
  }

  for (const [diameterMm, litresPerMinute] of [
    [10, 1.8],
    [12.5, 2.81],
    [15, 4.05],
    [20, 7.2],
    [25, 11.25],
  ] as const) {
    it(`passes ${litresPerMinute} L/min through a ${diameterMm} mm port 20 mm under water`, () => {
      expectNear(orificeFlowM3PerS(roundHoleAreaM2(diameterMm), 0.02) * 6e4, litresPerMinute, 5e-3);
    });
  }

  it('lets nothing out above the water', () => {
    expect(orificeFlowM3PerS(roundHoleAreaM2(2), -0.01)).toBe(0);
  });
});
