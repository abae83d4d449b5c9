import { describe, expect, it } from 'vitest';
import { bandAt, calibratePours, type Pour } from '../../../src/analytics/pour-calibration.js';
import { makeStrapping } from '../../../src/analytics/strapping.js';
import { partFilledFrustumLitres } from '../../../src/domain/formulas/geometry.js';
import { seeded } from '../../support/leak-record.js';

/*
 * Frustums of known volume, six pours with a level read to 1 mm (sd) and a bucket good to 1.5 %: what a careful
 * installer does. Seeds are fixed; the figures were the same to a tenth of a per cent on other seeds.
 */
const LEVEL_SD_MM = 1;
const POUR_SD = 0.015;
const VESSELS = 400;

interface Vessel {
  readonly heightMm: number;
  litresAt(levelMm: number): number;
}

function gauss(rng: () => number): number {
  return Math.sqrt(-2 * Math.log(1 - rng())) * Math.cos(2 * Math.PI * rng());
}

function frustum(rng: () => number): Vessel {
  const bottom = 110 + 180 * rng();
  const top = bottom * (0.8 + 0.6 * rng());
  const heightMm = 110 + 160 * rng();
  return { heightMm, litresAt: (levelMm) => partFilledFrustumLitres(bottom, top, heightMm, levelMm) };
}

function pourSix(vessel: Vessel, rng: () => number): Pour[] {
  const capacity = vessel.litresAt(vessel.heightMm);
  const pours: Pour[] = [];
  let real = 0;
  let said = 0;
  for (let i = 0; i < 6; i++) {
    const step = (capacity / 6) * 0.98;
    said += step;
    real += step * (1 + POUR_SD * gauss(rng));
    let low = 0;
    let high = vessel.heightMm * 1.2;
    for (let k = 0; k < 50; k++) {
      const middle = (low + high) / 2;
      if (vessel.litresAt(middle) < real) low = middle;
      else high = middle;
    }
    pours.push({ totalLitres: said, levelMm: low + LEVEL_SD_MM * gauss(rng) });
  }
  return pours;
}

describe('a table from six noisy pours into a frustum', () => {
  const rng = seeded(20260301);
  let inside = 0;
  let checked = 0;
  let refused = 0;
  const worst: number[] = [];
  for (let n = 0; n < VESSELS; n++) {
    const vessel = frustum(rng);
    const result = calibratePours(pourSix(vessel, rng), { levelSdMm: LEVEL_SD_MM, pourRelativeSd: POUR_SD });
    if (result.kind === 'refused') {
      refused++;
      continue;
    }
    const topMm = result.strapping.at(-1)![0];
    const capacity = vessel.litresAt(topMm);
    const strapping = makeStrapping({ strapping: result.strapping, overflowMm: topMm, wickFootMm: 0 });
    let most = 0;
    for (let level = 2; level <= topMm; level += topMm / 40) {
      const truth = vessel.litresAt(level);
      most = Math.max(most, Math.abs(strapping.litresAt(level) - truth) / capacity);
      const band = bandAt(result.band, level);
      checked++;
      if (truth >= band.lowLitres && truth <= band.highLitres) inside++;
    }
    worst.push(most);
  }
  worst.sort((a, b) => a - b);

  it('errs by less than 2 % of the capacity at every level, nineteen vessels in twenty', () => {
    expect(worst[Math.floor(0.95 * worst.length)]!).toBeLessThan(0.02);
  });

  it('holds the truth within its stated band nine times in ten', () => {
    expect(inside / checked).toBeGreaterThan(0.88);
    expect(inside / checked).toBeLessThan(0.96);
  });

  it('refuses almost none of these', () => {
    expect(refused).toBeLessThanOrEqual(4);
  });
});
