import { DomainError, type InputFault } from '../domain/errors.js';
import type { Reservoir, StrappingPair } from '../domain/registry.js';
import { makePchip, pchipInverse, pchipSlope, pchipValue } from './interpolation/pchip.js';

/** Level to volume of one reservoir, and back. */
export interface Strapping {
  /** Litres at a level. Below the table and above it the curve goes on as a straight line, so it may be negative. */
  litresAt(levelMm: number): number;
  /** The level that holds so many litres; the inverse of `litresAt` everywhere. */
  levelAt(litres: number): number;
  /** Free surface, litres per millimetre (1 L/mm = 1 m²); always positive. */
  areaLitresPerMm(levelMm: number): number;
  /** Litres up to the overflow invert. */
  readonly capacityLitres: number;
  /** Litres below the wick foot. */
  readonly deadLitres: number;
}

/** Below this share of the piece's mean area a free surface is a flaw of the curve, not of the pot. */
const LEAST_AREA_SHARE = 0.1;

/** What is wrong with a reservoir's description, for the person who entered it; empty where nothing is. */
export function strappingFaults(reservoir: Reservoir, pointer = '/reservoir'): readonly InputFault[] {
  const faults: InputFault[] = [];
  const { strapping, overflowMm, wickFootMm } = reservoir;
  if (strapping.length < 2) {
    faults.push({
      pointer: `${pointer}/strapping`,
      detail: `has ${strapping.length} pairs; at least two [level mm, litres] pairs are needed`,
    });
  }
  for (const [index, [levelMm, litres]] of strapping.entries()) {
    const here = `${pointer}/strapping/${index}`;
    if (!Number.isFinite(levelMm) || !Number.isFinite(litres) || levelMm < 0 || litres < 0) {
      faults.push({ pointer: here, detail: `[${levelMm}, ${litres}] must be two finite numbers, not negative` });
      continue;
    }
    const before = strapping[index - 1];
    if (before === undefined) continue;
    if (levelMm <= before[0]) {
      faults.push({
        pointer: here,
        detail: `level ${levelMm} mm is not above the ${before[0]} mm before it; levels must rise from pair to pair`,
      });
    }
    if (litres <= before[1]) {
      faults.push({
        pointer: here,
        detail: `${litres} L at ${levelMm} mm is not more than the ${before[1]} L at ${before[0]} mm; a higher level must hold more water`,
      });
    }
  }
  if (!Number.isFinite(overflowMm) || overflowMm <= 0) {
    faults.push({ pointer: `${pointer}/overflowMm`, detail: `${overflowMm} must be a height above the floor in mm` });
  }
  if (!Number.isFinite(wickFootMm) || wickFootMm < 0 || wickFootMm >= overflowMm) {
    faults.push({
      pointer: `${pointer}/wickFootMm`,
      detail: `${wickFootMm} mm must lie between the floor and the overflow at ${overflowMm} mm`,
    });
  }
  return faults;
}

/**
 * The pot's own level-to-litres curve: monotone cubic through the strapping table. A table that begins above the floor
 * is taken to start empty at the floor.
 * @throws DomainError `invalid_input` with one fault per broken pair
 */
export function makeStrapping(reservoir: Reservoir): Strapping {
  const faults = strappingFaults(reservoir);
  if (faults.length > 0) {
    const first = faults[0]!;
    throw new DomainError('invalid_input', `The strapping table cannot be used: ${first.pointer} ${first.detail}.`, {
      faults,
    });
  }
  const pairs = fromTheFloor(reservoir.strapping);
  const curve = makePchip(
    pairs.map(([levelMm]) => levelMm),
    pairs.map(([, litres]) => litres),
  );
  const last = pairs.length - 1;
  const [bottomMm, bottomLitres] = pairs[0]!;
  const [topMm, topLitres] = pairs[last]!;
  const bottomArea = endArea(curve.slopes[0]!, pairs[0]!, pairs[1]!);
  const topArea = endArea(curve.slopes[last]!, pairs[last - 1]!, pairs[last]!);
  const leastArea = LEAST_AREA_SHARE * Math.min(...pairs.slice(1).map((pair, i) => chord(pairs[i]!, pair)));

  const litresAt = (levelMm: number): number => {
    if (levelMm < bottomMm) return bottomLitres - (bottomMm - levelMm) * bottomArea;
    if (levelMm > topMm) return topLitres + (levelMm - topMm) * topArea;
    return pchipValue(curve, levelMm);
  };
  const levelAt = (litres: number): number => {
    if (litres < bottomLitres) return bottomMm - (bottomLitres - litres) / bottomArea;
    if (litres > topLitres) return topMm + (litres - topLitres) / topArea;
    return pchipInverse(curve, litres);
  };
  const areaLitresPerMm = (levelMm: number): number => {
    if (levelMm < bottomMm) return bottomArea;
    if (levelMm > topMm) return topArea;
    return Math.max(leastArea, pchipSlope(curve, levelMm));
  };
  return {
    litresAt,
    levelAt,
    areaLitresPerMm,
    capacityLitres: litresAt(reservoir.overflowMm),
    deadLitres: litresAt(reservoir.wickFootMm),
  };
}

function fromTheFloor(strapping: readonly StrappingPair[]): readonly StrappingPair[] {
  const first = strapping[0]!;
  return first[0] > 0 && first[1] > 0 ? [[0, 0], ...strapping] : strapping;
}

function chord(from: StrappingPair, to: StrappingPair): number {
  return (to[1] - from[1]) / (to[0] - from[0]);
}

/** The end formula may flatten to nothing on an uneven table; the mean area of the last piece then stands in. */
function endArea(slope: number, from: StrappingPair, to: StrappingPair): number {
  const mean = chord(from, to);
  return slope >= mean / 2 ? slope : mean;
}
