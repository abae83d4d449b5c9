import { describe, expect, it } from 'vitest';
import { firstTable } from '../../../src/analytics/first-table.js';
import { calibratePours, cumulativePours, type Pour } from '../../../src/analytics/pour-calibration.js';
import { frustumLitres } from '../../../src/domain/formulas/geometry.js';

/** 0.1 L/mm, straight sides. */
const straight = (levels: readonly number[]): Pour[] =>
  levels.map((levelMm) => ({ totalLitres: levelMm / 10, levelMm }));

describe('a calibration by pouring', () => {
  it('gives the table of a straight vessel', () => {
    const result = calibratePours(straight([30, 60, 90, 120, 150, 180]));
    if (result.kind !== 'table') throw new Error('refused');
    for (const [levelMm, litres] of result.strapping) expect(litres).toBeCloseTo(levelMm / 10, 1);
    expect(result.overflowMm).toBeNull();
  });

  it('finds the invert where further pouring no longer raises the level', () => {
    const pours = [
      ...straight([30, 60, 90, 120, 150]),
      { totalLitres: 18, levelMm: 168.4 },
      { totalLitres: 21, levelMm: 168 },
      { totalLitres: 24, levelMm: 168.3 },
    ];
    const result = calibratePours(pours);
    if (result.kind !== 'table') throw new Error('refused');
    expect(result.overflowMm).toBeCloseTo(168.3, 1);
    expect(result.ranOver).toEqual([5, 6, 7]);
    const [topMm, topLitres] = result.strapping.at(-1)!;
    expect(topMm).toBeCloseTo(168.3, 1);
    expect(Math.abs(topLitres - 16.83)).toBeLessThan(0.3);
  });

  it('adds up single pours', () => {
    expect(
      cumulativePours([
        { litres: 2, levelMm: 20 },
        { litres: 3, levelMm: 50 },
      ]),
    ).toEqual([
      { totalLitres: 2, levelMm: 20 },
      { totalLitres: 5, levelMm: 50 },
    ]);
  });

  it('names the pour after which the level fell', () => {
    const result = calibratePours([...straight([30, 60, 90]), { totalLitres: 12, levelMm: 70 }]);
    if (result.kind !== 'refused') throw new Error('taken');
    expect(result.faults[0]).toEqual({
      pointer: '/pours/3',
      detail: 'the level fell from 90 to 70 mm although water went in; let it settle and read again',
      message: { code: 'pours.level_fell', params: { pour: 4, beforeMm: 90, afterMm: 70 } },
    });
  });

  it('names the pour that was counted twice', () => {
    const pours = straight([30, 60, 90, 120, 150, 180]).map((pour, i) =>
      i >= 3 ? { ...pour, totalLitres: pour.totalLitres + 3 } : pour,
    );
    const result = calibratePours(pours);
    if (result.kind !== 'refused') throw new Error('taken');
    expect(result.faults).toHaveLength(1);
    expect(result.faults[0]!.detail).toContain('counted twice');
  });

  it('refuses totals that do not rise, numbers that are none and too few pours', () => {
    const fall = calibratePours([...straight([30, 60]), { totalLitres: 5, levelMm: 90 }, ...straight([120])]);
    expect(fall.kind).toBe('refused');
    expect(calibratePours([{ totalLitres: Number.NaN, levelMm: 3 }, ...straight([30, 60, 90])]).kind).toBe('refused');
    expect(calibratePours(straight([30, 60])).kind).toBe('refused');
  });

  it('refuses a record of which too little stayed below the port', () => {
    const result = calibratePours([
      { totalLitres: 8, levelMm: 80 },
      { totalLitres: 16, levelMm: 100 },
      { totalLitres: 24, levelMm: 100.5 },
      { totalLitres: 32, levelMm: 99.8 },
    ]);
    if (result.kind !== 'refused') throw new Error('taken');
    expect(result.faults[0]!.detail).toContain('stayed below the overflow');
  });
});

describe('a first table from shape and size', () => {
  const size = { heightMm: 200, overflowMm: 180, feetAreaMm2: 0, wickAreaMm2: 0, wickFootMm: 10 };

  it('is the frustum’s volume', () => {
    const result = firstTable({ kind: 'round', bottomDiameterMm: 300, topDiameterMm: 400 }, size);
    if (result.kind !== 'table') throw new Error('refused');
    const radiusAt180 = 150 + (50 * 180) / 200;
    expect(result.strapping.at(-1)).toEqual([180, Number(frustumLitres(150, radiusAt180, 180).toFixed(3))]);
  });

  it('leaves out the feet below the plate and the wick above its foot', () => {
    const shape = {
      kind: 'box',
      bottomLengthMm: 600,
      bottomWidthMm: 250,
      topLengthMm: 600,
      topWidthMm: 250,
    } as const;
    const result = firstTable(shape, { ...size, feetAreaMm2: 10_000, wickAreaMm2: 20_000 });
    if (result.kind !== 'table') throw new Error('refused');
    // 0.15 m² less 0.01 m² of feet over 180 mm, less 0.02 m² of wick over 170 mm.
    expect(result.strapping.at(-1)![1]).toBeCloseTo(0.14 * 180 - 0.02 * 170, 6);
  });

  it('refuses an overflow above the plate and a wick that fills the vessel', () => {
    const shape = { kind: 'round', bottomDiameterMm: 200, topDiameterMm: 200 } as const;
    expect(firstTable(shape, { ...size, overflowMm: 250 }).kind).toBe('refused');
    expect(firstTable(shape, { ...size, wickAreaMm2: 40_000 }).kind).toBe('refused');
    expect(firstTable({ ...shape, topDiameterMm: -1 }, size).kind).toBe('refused');
  });
});
