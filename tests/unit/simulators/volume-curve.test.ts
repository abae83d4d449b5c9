import { describe, expect, it } from 'vitest';
import { drawShape, SHAPE_KINDS, sectionMm2 } from '../../../simulators/pot/shapes.js';
import { pourStrapping, VolumeCurve } from '../../../simulators/pot/volume-curve.js';
import { Draw } from '../../../simulators/rng.js';
import { partFilledFrustumLitres, prismoidLitres } from '../../../src/domain/formulas/geometry.js';

const bare = { footMm: 0, wickMm2: 0, feetMm2: 0, plateMm: 1000, topMm: 200 };

describe('the true volume of a reservoir', () => {
  // Cone frustum, bottom radius 0.15 m, top 0.20 m, height 0.20 m, computed from pi h/3 (R2 + R r + r2).
  it.each([
    [50, 3.836997],
    [100, 8.312131],
    [150, 13.474487],
    [200, 19.373155],
  ])('of a round frustum filled to %d mm is %d L', (levelMm, litres) => {
    const curve = VolumeCurve.ofShape(
      { kind: 'round_taper', bottomRadiusMm: 150, topRadiusMm: 200, heightMm: 200 },
      bare,
      1,
    );
    expect(curve.litresAt(levelMm)).toBeCloseTo(litres, 5);
    expect(curve.litresAt(levelMm)).toBeCloseTo(partFilledFrustumLitres(150, 200, 200, levelMm), 6);
  });

  it('of a square frustum from 0.30 m to 0.40 m over 0.15 m is 18.5 L', () => {
    const curve = VolumeCurve.ofShape(
      { kind: 'square_taper', bottomSideMm: 300, topSideMm: 400, heightMm: 150 },
      bare,
      1,
    );
    expect(curve.litresAt(150)).toBeCloseTo(18.5, 6);
    expect(prismoidLitres(300 ** 2, 400 ** 2, 150)).toBeCloseTo(18.5, 6);
  });

  it('of a bowl is the spherical segment between its floor and the water', () => {
    const curve = VolumeCurve.ofShape({ kind: 'bowl', sphereRadiusMm: 300, flatMm: 50, heightMm: 200 }, bare, 1);
    // Cap of depth d: pi d2 (3 R - d) / 3.
    const cap = (depth: number): number => (Math.PI * depth ** 2 * (900 - depth)) / 3 / 1e6;
    expect(curve.litresAt(120)).toBeCloseTo(cap(170) - cap(50), 5);
  });

  it.each(SHAPE_KINDS)('of a %s grows with the level, and the level is found again from it', (kind) => {
    const draw = new Draw('shapes', kind);
    for (let i = 0; i < 20; i++) {
      const shape = drawShape(kind, draw.uniform(0.4, 2.2), draw.uniform(90, 200), draw);
      const section = sectionMm2(shape, 50);
      const curve = VolumeCurve.ofShape(
        shape,
        { footMm: 12, wickMm2: section * 0.05, feetMm2: section * 0.02, plateMm: 170, topMm: 240 },
        0.22,
      );
      let before = -1;
      for (let levelMm = 0; levelMm <= 240; levelMm += 7) {
        const litres = curve.litresAt(levelMm);
        expect(litres).toBeGreaterThan(before);
        before = litres;
        expect(curve.levelAt(litres, draw.uniform(0, 240))).toBeCloseTo(levelMm, 6);
      }
    }
  });

  it('differs from the poured table by about one percent of the capacity', () => {
    const curve = VolumeCurve.ofShape({ kind: 'cylinder', radiusMm: 215, heightMm: 180 }, bare, 1);
    const errors: number[] = [];
    for (let i = 0; i < 300; i++) {
      const table = pourStrapping(curve, 160, 6, new Draw('pours', i));
      for (let k = 1; k < table.length; k++) {
        expect(table[k]![0]).toBeGreaterThan(table[k - 1]![0]);
        expect(table[k]![1]).toBeGreaterThan(table[k - 1]![1]);
        errors.push((table[k]![1] - curve.litresAt(table[k]![0])) / curve.litresAt(160));
      }
    }
    const rms = Math.sqrt(errors.reduce((sum, e) => sum + e * e, 0) / errors.length);
    expect(rms).toBeGreaterThan(0.003);
    expect(rms).toBeLessThan(0.015);
  });
});
