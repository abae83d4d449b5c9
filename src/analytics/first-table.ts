import type { InputFault } from '../domain/errors.js';
import { partFilledBoxLitres, partFilledFrustumLitres } from '../domain/formulas/geometry.js';
import type { Message } from '../domain/message.js';
import type { StrappingPair } from '../domain/registry.js';

/** Inside of the reservoir, from the floor to the separator plate. */
export type VesselShape =
  | { readonly kind: 'round'; readonly bottomDiameterMm: number; readonly topDiameterMm: number }
  | {
      readonly kind: 'box';
      readonly bottomLengthMm: number;
      readonly bottomWidthMm: number;
      readonly topLengthMm: number;
      readonly topWidthMm: number;
    };

export interface VesselSize {
  /** From the floor to the plate. */
  readonly heightMm: number;
  readonly overflowMm: number;
  /** What the plate's feet take from the floor up to the plate, all together; 0 without. */
  readonly feetAreaMm2: number;
  /** The wick, a column from its foot up to the plate: its pores are full already, so the water stands beside it. */
  readonly wickAreaMm2: number;
  readonly wickFootMm: number;
}

export interface ShapeFault extends InputFault {
  readonly message: Message;
}

export type FirstTable =
  | { readonly kind: 'table'; readonly strapping: readonly StrappingPair[] }
  | { readonly kind: 'refused'; readonly faults: readonly ShapeFault[] };

const STEPS = 12;
const MM3_PER_LITRE = 1e6;

/**
 * A first strapping table from shape and size, until the pot is calibrated by pouring: hand-made vessels differ from
 * their drawings by several per cent.
 */
export function firstTable(shape: VesselShape, size: VesselSize): FirstTable {
  const faults = faultsOf(shape, size);
  if (faults.length > 0) return { kind: 'refused', faults };
  const strapping: StrappingPair[] = [[0, 0]];
  for (let i = 1; i <= STEPS; i++) {
    const levelMm = Math.round((size.overflowMm * i * 10) / STEPS) / 10;
    const wetWickMm = Math.max(0, levelMm - size.wickFootMm);
    const taken = (size.feetAreaMm2 * levelMm + size.wickAreaMm2 * wetWickMm) / MM3_PER_LITRE;
    strapping.push([levelMm, Math.round((vesselLitres(shape, size.heightMm, levelMm) - taken) * 1000) / 1000]);
  }
  const stuck = strapping.findIndex((pair, i) => i > 0 && pair[1] <= strapping[i - 1]![1]);
  if (stuck > 0) {
    const detail = `feet and wick leave no room for water at ${strapping[stuck]![0]} mm; check their areas`;
    const message: Message = { code: 'shape.no_room', params: { levelMm: strapping[stuck]![0] } };
    return { kind: 'refused', faults: [{ pointer: '/size', detail, message }] };
  }
  return { kind: 'table', strapping };
}

function vesselLitres(shape: VesselShape, heightMm: number, levelMm: number): number {
  if (shape.kind === 'round') {
    return partFilledFrustumLitres(shape.bottomDiameterMm / 2, shape.topDiameterMm / 2, heightMm, levelMm);
  }
  return partFilledBoxLitres(
    { lengthMm: shape.bottomLengthMm, widthMm: shape.bottomWidthMm },
    { lengthMm: shape.topLengthMm, widthMm: shape.topWidthMm },
    heightMm,
    levelMm,
  );
}

function faultsOf(shape: VesselShape, size: VesselSize): ShapeFault[] {
  const faults: ShapeFault[] = [];
  const above: Message = { code: 'shape.above_zero', params: {} };
  for (const [name, value] of Object.entries(shape)) {
    if (name !== 'kind' && !(typeof value === 'number' && Number.isFinite(value) && value > 0)) {
      faults.push({ pointer: `/shape/${name}`, detail: `${value} must be a length in mm above 0`, message: above });
    }
  }
  for (const name of ['heightMm', 'overflowMm'] as const) {
    if (!(Number.isFinite(size[name]) && size[name] > 0)) {
      faults.push({ pointer: `/size/${name}`, detail: `${size[name]} must be a height in mm above 0`, message: above });
    }
  }
  for (const name of ['feetAreaMm2', 'wickAreaMm2', 'wickFootMm'] as const) {
    if (!(Number.isFinite(size[name]) && size[name] >= 0)) {
      faults.push({
        pointer: `/size/${name}`,
        detail: `${size[name]} must be 0 or more`,
        message: { code: 'shape.zero_or_more', params: {} },
      });
    }
  }
  if (size.overflowMm > size.heightMm) {
    faults.push({
      pointer: '/size/overflowMm',
      detail: `the overflow at ${size.overflowMm} mm lies above the plate at ${size.heightMm} mm`,
      message: { code: 'shape.overflow_above_plate', params: { overflowMm: size.overflowMm, plateMm: size.heightMm } },
    });
  }
  return faults;
}
