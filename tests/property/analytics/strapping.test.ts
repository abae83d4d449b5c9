import fc from 'fast-check';
import { expect, it } from 'vitest';
import { makeStrapping } from '../../../src/analytics/strapping.js';
import type { StrappingPair } from '../../../src/domain/registry.js';

const step = fc.double({ min: 0.5, max: 80, noNaN: true });
const tables = fc.array(fc.tuple(step, step), { minLength: 2, maxLength: 12 }).map((steps) => {
  const pairs: StrappingPair[] = [[0, 0]];
  for (const [mm, litres] of steps) {
    const [lastMm, lastLitres] = pairs.at(-1)!;
    pairs.push([lastMm + mm, lastLitres + litres / 5]);
  }
  return pairs;
});

it('rises with the level, inside the table and beyond it', () => {
  fc.assert(
    fc.property(tables, (strapping) => {
      const topMm = strapping.at(-1)![0];
      const vessel = makeStrapping({ strapping, overflowMm: topMm, wickFootMm: 0 });
      let before = Number.NEGATIVE_INFINITY;
      for (let i = -10; i <= 110; i++) {
        const litres = vessel.litresAt((topMm * i) / 100);
        expect(litres).toBeGreaterThanOrEqual(before);
        before = litres;
        expect(vessel.areaLitresPerMm((topMm * i) / 100)).toBeGreaterThan(0);
      }
    }),
  );
});

it('finds back the litres of any level', () => {
  fc.assert(
    fc.property(tables, fc.double({ min: -0.1, max: 1.2, noNaN: true }), (strapping, share) => {
      const topMm = strapping.at(-1)![0];
      const vessel = makeStrapping({ strapping, overflowMm: topMm, wickFootMm: 0 });
      const litres = vessel.capacityLitres * share;
      expect(Math.abs(vessel.litresAt(vessel.levelAt(litres)) - litres)).toBeLessThan(1e-6 * vessel.capacityLitres);
    }),
  );
});
