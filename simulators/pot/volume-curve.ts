import type { Draw } from '../rng.js';
import { type Shape, sectionMm2 } from './shapes.js';

const GRID_MM = 0.5;
const MM3_PER_LITRE = 1e6;

/**
 * True level-to-volume curve of one reservoir, tabulated every half millimetre from its sections. The wick's column and
 * the feet of the plate displace water; above the plate water stands only in the air space of the soil.
 */
export class VolumeCurve {
  readonly #litres: Float64Array;
  readonly topMm: number;

  constructor(litresOnGrid: Float64Array) {
    this.#litres = litresOnGrid;
    this.topMm = (litresOnGrid.length - 1) * GRID_MM;
  }

  static ofShape(
    shape: Shape,
    parts: {
      readonly footMm: number;
      readonly wickMm2: number;
      readonly feetMm2: number;
      readonly plateMm: number;
      readonly topMm: number;
    },
    airSpace: number,
  ): VolumeCurve {
    const area = (mm: number): number => {
      const section = sectionMm2(shape, mm);
      if (mm > parts.plateMm) return section * airSpace;
      return section - parts.feetMm2 - (mm > parts.footMm ? parts.wickMm2 : 0);
    };
    const count = Math.ceil(parts.topMm / GRID_MM) + 1;
    const litres = new Float64Array(count);
    for (let k = 1; k < count; k++) {
      // Simpson within each cell: exact for sections that are quadratic in height.
      const low = (k - 1) * GRID_MM;
      const sum = area(low + 1e-9) + 4 * area(low + GRID_MM / 2) + area(low + GRID_MM - 1e-9);
      litres[k] = litres[k - 1]! + (sum * GRID_MM) / 6 / MM3_PER_LITRE;
    }
    return new VolumeCurve(litres);
  }

  get capacityLitres(): number {
    return this.#litres[this.#litres.length - 1]!;
  }

  litresAt(levelMm: number): number {
    const position = Math.min(this.topMm, Math.max(0, levelMm)) / GRID_MM;
    const k = Math.min(this.#litres.length - 2, Math.floor(position));
    return this.#litres[k]! + (this.#litres[k + 1]! - this.#litres[k]!) * (position - k);
  }

  /** Inverse of {@link litresAt}; the search starts near `hintMm`. */
  levelAt(litres: number, hintMm: number): number {
    const table = this.#litres;
    const last = table.length - 2;
    let k = Math.min(last, Math.max(0, Math.floor(hintMm / GRID_MM)));
    while (k < last && table[k + 1]! <= litres) k++;
    while (k > 0 && table[k]! > litres) k--;
    const width = table[k + 1]! - table[k]!;
    const share = width > 0 ? (litres - table[k]!) / width : 0;
    return Math.min(this.topMm, Math.max(0, (k + share) * GRID_MM));
  }

  /** Free surface at a level, L per mm (= m2). */
  areaLPerMm(levelMm: number): number {
    const k = Math.min(this.#litres.length - 2, Math.max(0, Math.floor(levelMm / GRID_MM)));
    return (this.#litres[k + 1]! - this.#litres[k]!) / GRID_MM;
  }
}

/**
 * The strapping table that the installer's pours gave: cumulative litres with the can's scale error and each pour's
 * own, levels to half a millimetre. Ends at or above the overflow invert.
 */
export function pourStrapping(curve: VolumeCurve, overflowMm: number, pours: number, draw: Draw): [number, number][] {
  const scale = 1 + draw.normal(0, 0.007);
  const table: [number, number][] = [[0, 0]];
  const stepLitres = curve.litresAt(overflowMm) / pours;
  for (let k = 1; k <= pours; k++) {
    const trueLitres = k * stepLitres;
    const levelMm = curve.levelAt(trueLitres, (overflowMm * k) / pours) + draw.normal(0, 0.5);
    const litres = trueLitres * scale + draw.normal(0, 0.012 * stepLitres * Math.sqrt(k));
    const [lastMm, lastLitres] = table[table.length - 1]!;
    table.push([Math.max(lastMm + 1, Math.round(levelMm * 2) / 2), Math.max(lastLitres + 0.01, round(litres, 2))]);
  }
  return table;
}

export function round(value: number, digits: number): number {
  const factor = 10 ** digits;
  return Math.round(value * factor) / factor;
}
