import { describe, expect, it } from 'vitest';
import { makeStrapping, strappingFaults } from '../../../src/analytics/strapping.js';
import { DomainError } from '../../../src/domain/errors.js';
import { partFilledBoxLitres, partFilledFrustumLitres, prismoidLitres } from '../../../src/domain/formulas/geometry.js';
import type { StrappingPair } from '../../../src/domain/registry.js';

const reservoir = (strapping: readonly StrappingPair[], overflowMm = 200, wickFootMm = 20) => ({
  strapping,
  overflowMm,
  wickFootMm,
});

const frustumTable = (levels: readonly number[]): StrappingPair[] =>
  levels.map((level) => [level, partFilledFrustumLitres(150, 200, 200, level)]);

describe('volumes of plain vessels', () => {
  it('fills a cone frustum of 150 to 200 mm radius as computed', () => {
    for (const [level, litres] of [
      [50, 3.836997],
      [100, 8.312131],
      [150, 13.474487],
      [200, 19.373155],
    ] as const) {
      expect(partFilledFrustumLitres(150, 200, 200, level)).toBeCloseTo(litres, 6);
    }
  });

  it('holds exactly 18.5 L in a square vessel of 300 to 400 mm, 150 mm high', () => {
    expect(prismoidLitres(300 ** 2, 400 ** 2, 150)).toBeCloseTo(18.5, 12);
    const side = (mm: number) => ({ lengthMm: mm, widthMm: mm });
    expect(partFilledBoxLitres(side(300), side(400), 150, 150)).toBeCloseTo(18.5, 12);
  });
});

describe('a strapping table', () => {
  it('gives the volume of a frustum between its pairs within 0.1 % of the capacity', () => {
    const strapping = makeStrapping(reservoir(frustumTable([0, 50, 100, 150, 200])));
    for (let level = 0; level <= 200; level += 5) {
      const error = strapping.litresAt(level) - partFilledFrustumLitres(150, 200, 200, level);
      expect(Math.abs(error)).toBeLessThan(0.001 * 19.37);
    }
    expect(strapping.capacityLitres).toBeCloseTo(19.373155, 5);
  });

  it('says what lies below the wick foot', () => {
    const strapping = makeStrapping(
      reservoir(
        [
          [0, 0],
          [100, 10],
          [200, 20],
        ],
        150,
        30,
      ),
    );
    expect(strapping.deadLitres).toBeCloseTo(3, 9);
    expect(strapping.capacityLitres).toBeCloseTo(15, 9);
  });

  it('goes on in a straight line beyond its ends, and back', () => {
    const strapping = makeStrapping(
      reservoir([
        [0, 0],
        [100, 10],
        [200, 20],
      ]),
    );
    expect(strapping.litresAt(-3)).toBeCloseTo(-0.3, 9);
    expect(strapping.litresAt(215)).toBeCloseTo(21.5, 9);
    expect(strapping.levelAt(-0.3)).toBeCloseTo(-3, 9);
    expect(strapping.levelAt(21.5)).toBeCloseTo(215, 9);
  });

  it('takes a table that begins above the floor to start empty at the floor', () => {
    const strapping = makeStrapping(
      reservoir([
        [50, 5],
        [200, 20],
      ]),
    );
    expect(strapping.litresAt(0)).toBeCloseTo(0, 9);
    expect(strapping.litresAt(25)).toBeCloseTo(2.5, 9);
  });

  it('refuses a table whose litres do not rise, and names the pair', () => {
    const table: StrappingPair[] = [
      [0, 0],
      [60, 9.4],
      [80, 9.1],
      [120, 20.1],
    ];
    expect(() => makeStrapping(reservoir(table))).toThrow(DomainError);
    expect(strappingFaults(reservoir(table))).toEqual([
      {
        pointer: '/reservoir/strapping/2',
        detail: '9.1 L at 80 mm is not more than the 9.4 L at 60 mm; a higher level must hold more water',
      },
    ]);
  });

  it('refuses repeated levels, too few pairs, numbers that are none, and a foot above the overflow', () => {
    expect(
      strappingFaults(
        reservoir([
          [0, 0],
          [0, 1],
        ]),
      ),
    ).toHaveLength(1);
    expect(strappingFaults(reservoir([[0, 0]]))).toHaveLength(1);
    expect(
      strappingFaults(
        reservoir([
          [0, 0],
          [Number.NaN, 4],
          [200, 20],
        ]),
      ).length,
    ).toBeGreaterThan(0);
    expect(
      strappingFaults(
        reservoir(
          [
            [0, 0],
            [200, 20],
          ],
          100,
          120,
        ),
      )[0]!.pointer,
    ).toBe('/reservoir/wickFootMm');
  });
});
