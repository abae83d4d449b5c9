import type { Draw } from '../rng.js';

/** Inner shape of a reservoir; lengths in mm. */
export type Shape =
  | {
      readonly kind: 'round_taper';
      readonly bottomRadiusMm: number;
      readonly topRadiusMm: number;
      readonly heightMm: number;
    }
  | {
      readonly kind: 'square_taper';
      readonly bottomSideMm: number;
      readonly topSideMm: number;
      readonly heightMm: number;
    }
  | { readonly kind: 'cylinder'; readonly radiusMm: number; readonly heightMm: number }
  | { readonly kind: 'cube'; readonly sideMm: number; readonly heightMm: number }
  | {
      readonly kind: 'trough';
      readonly lengthMm: number;
      readonly bottomWidthMm: number;
      readonly topWidthMm: number;
      readonly heightMm: number;
    }
  | { readonly kind: 'bowl'; readonly sphereRadiusMm: number; readonly flatMm: number; readonly heightMm: number }
  | {
      readonly kind: 'urn';
      readonly bottomRadiusMm: number;
      readonly bellyRadiusMm: number;
      readonly heightMm: number;
    }
  | {
      readonly kind: 'half_round';
      readonly bottomRadiusMm: number;
      readonly topRadiusMm: number;
      readonly heightMm: number;
    }
  | { readonly kind: 'hexagon'; readonly bottomSideMm: number; readonly topSideMm: number; readonly heightMm: number };

export type ShapeKind = Shape['kind'];

export const SHAPE_KINDS: readonly ShapeKind[] = [
  'round_taper',
  'square_taper',
  'cylinder',
  'cube',
  'trough',
  'bowl',
  'urn',
  'half_round',
  'hexagon',
];

/** Area of the horizontal section at a height above the floor, mm². */
export function sectionMm2(shape: Shape, atMm: number): number {
  const share = Math.min(1, Math.max(0, atMm / shape.heightMm));
  const between = (bottom: number, top: number): number => bottom + (top - bottom) * share;
  switch (shape.kind) {
    case 'round_taper':
      return Math.PI * between(shape.bottomRadiusMm, shape.topRadiusMm) ** 2;
    case 'square_taper':
      return between(shape.bottomSideMm, shape.topSideMm) ** 2;
    case 'cylinder':
      return Math.PI * shape.radiusMm ** 2;
    case 'cube':
      return shape.sideMm ** 2;
    case 'trough':
      return shape.lengthMm * between(shape.bottomWidthMm, shape.topWidthMm);
    case 'bowl': {
      // A sphere cut flat: the floor lies `flatMm` above the sphere's lowest point.
      const depth = Math.min(shape.sphereRadiusMm, shape.flatMm + Math.max(0, atMm));
      return Math.PI * depth * (2 * shape.sphereRadiusMm - depth);
    }
    case 'urn': {
      const swell = (shape.bellyRadiusMm - shape.bottomRadiusMm) * Math.sin((Math.PI / 2) * share);
      return Math.PI * (shape.bottomRadiusMm + swell) ** 2;
    }
    case 'half_round':
      return (Math.PI * between(shape.bottomRadiusMm, shape.topRadiusMm) ** 2) / 2;
    case 'hexagon':
      return ((3 * Math.sqrt(3)) / 2) * between(shape.bottomSideMm, shape.topSideMm) ** 2;
  }
}

/** Draws a reservoir of one kind; `scale` 1 is a pot of about 0.15 m2. */
export function drawShape(kind: ShapeKind, scale: number, heightMm: number, draw: Draw): Shape {
  const size = Math.sqrt(scale) * draw.uniform(0.95, 1.05);
  switch (kind) {
    case 'round_taper':
      return { kind, bottomRadiusMm: 185 * size, topRadiusMm: 185 * size * draw.uniform(1.08, 1.3), heightMm };
    case 'square_taper':
      return { kind, bottomSideMm: 340 * size, topSideMm: 340 * size * draw.uniform(1.05, 1.25), heightMm };
    case 'cylinder':
      return { kind, radiusMm: 215 * size, heightMm };
    case 'cube':
      return { kind, sideMm: 385 * size, heightMm };
    case 'trough':
      return {
        kind,
        lengthMm: 800 * size,
        bottomWidthMm: 190 * size,
        topWidthMm: 190 * size * draw.uniform(1, 1.25),
        heightMm,
      };
    case 'bowl':
      return { kind, sphereRadiusMm: 330 * size, flatMm: 40 * size, heightMm: Math.min(heightMm, 200 * size) };
    case 'urn':
      return { kind, bottomRadiusMm: 150 * size, bellyRadiusMm: 230 * size, heightMm };
    case 'half_round':
      return { kind, bottomRadiusMm: 275 * size, topRadiusMm: 275 * size * draw.uniform(1.05, 1.2), heightMm };
    case 'hexagon':
      return { kind, bottomSideMm: 215 * size, topSideMm: 215 * size * draw.uniform(1.03, 1.2), heightMm };
  }
}
