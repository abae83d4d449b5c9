import { expect, it } from 'vitest';
import { thermalExpansionLitres, waterDensityKgPerM3 } from '../../src/domain/formulas/water-density.js';

/* M. Tanaka, G. Girard, R. Davis, A. Peuto, N. Bignell 2001, Metrologia 38:301-309; values of its equation, to 0.001. */
for (const [temperatureC, density] of [
  [4, 999.975],
  [10, 999.703],
  [20, 998.207],
  [25, 997.047],
  [30, 995.649],
  [35, 994.033],
  [40, 992.215],
] as const) {
  it(`weighs ${density} kg/m³ at ${temperatureC} °C`, () => {
    expect(Math.abs(waterDensityKgPerM3(temperatureC) - density)).toBeLessThanOrEqual(0.00051);
  });
}

it('grows 15 L by 0.063 L from 20 to 35 °C', () => {
  expect(thermalExpansionLitres(15, 20, 35)).toBeCloseTo(0.063, 3);
});
