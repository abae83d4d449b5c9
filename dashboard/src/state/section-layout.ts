import { halfWidthAt, type ProfilePoint, profileBelow, type Strapping, vesselProfile } from './vessel.js';

/** Everything the section drawing needs, in drawing units; y grows downward. */
export interface SectionLayout {
  readonly width: number;
  readonly height: number;
  /** How many times heights are drawn larger than widths. */
  readonly stretch: number;
  /** Where the words beside the drawing begin. */
  readonly labelX: number;
  readonly axisX: number;
  readonly floorY: number;
  readonly plateY: number;
  readonly soilTopY: number;
  readonly vesselPath: string;
  readonly potPath: string;
  readonly waterPath: string;
  readonly levelY: number | null;
  readonly invertY: number;
  readonly wickFootY: number;
  readonly leakY: number | null;
  /** Half-width of the inside at the invert, the water and the leak. */
  readonly invertHalf: number;
  readonly levelHalf: number;
  readonly leakHalf: number;
  readonly wickHalf: number;
  readonly plateHalf: number;
  readonly ticks: readonly { readonly y: number; readonly levelMm: number; readonly major: boolean }[];
}

export interface SectionInput {
  readonly strapping: Strapping;
  readonly overflowMm: number;
  readonly wickFootMm: number;
  readonly levelMm: number | null;
  readonly leakMm: number | null;
  /** Distance of two major ticks of the staff, mm: a round figure in the person's unit. */
  readonly majorTickMm: number;
}

const WIDTH = 420;
const MARGIN_LEFT = 64;
/** Room for the longest label of either language. */
const LABEL_ROOM = 154;
const MARGIN_RIGHT = LABEL_ROOM + 36;
const TOP = 26;
const BOTTOM = 16;
const RESERVOIR_HEIGHT = 176;
/** A column may be drawn narrower than it is, a dish higher: what matters is read along the staff. */
const MOST_STRETCH = 4;
/** Soil above is drawn shorter than it is; only the reservoir is to scale. */
const SOIL_HEIGHT = 72;
const TICKS_IN_MAJOR = 5;

export function sectionLayout(input: SectionInput): SectionLayout {
  const profile = smoothProfile(vesselProfile(input.strapping));
  const floorMm = profile[0]!.levelMm;
  const topMm = profile[profile.length - 1]!.levelMm;
  const widestMm = Math.max(...profile.map((point) => point.halfWidthMm));
  const spanMm = topMm - floorMm;
  const scale = Math.min((WIDTH - MARGIN_LEFT - MARGIN_RIGHT) / 2 / widestMm, RESERVOIR_HEIGHT / spanMm);
  // Reservoirs are mostly wide and shallow: heights are stretched so that millimetres can be told apart.
  const stretch = Math.min(MOST_STRETCH, RESERVOIR_HEIGHT / (spanMm * scale));
  const reservoirHeight = spanMm * scale * stretch;
  const height = TOP + SOIL_HEIGHT + reservoirHeight + BOTTOM;
  const floorY = height - BOTTOM;
  const axisX = MARGIN_LEFT + (WIDTH - MARGIN_LEFT - MARGIN_RIGHT) / 2;
  const y = (mm: number): number => floorY - (mm - floorMm) * scale * stretch;
  const half = (mm: number): number => halfWidthAt(profile, mm) * scale;
  const plateY = y(topMm);
  const soilTopY = plateY - SOIL_HEIGHT;
  const topHalf = half(topMm);
  const slope = topHalf - half(topMm - (topMm - floorMm) / 3);
  const rimHalf = topHalf + Math.max(-topHalf * 0.25, Math.min(topHalf * 0.25, slope));
  const shape = outline(profile, axisX, y, scale);
  const held = input.levelMm === null ? null : Math.min(topMm, Math.max(floorMm, input.levelMm));
  const leak = input.leakMm === null ? null : Math.min(topMm, Math.max(floorMm, input.leakMm));
  return {
    width: WIDTH,
    labelX: WIDTH - LABEL_ROOM,
    height,
    stretch,
    axisX,
    floorY,
    plateY,
    soilTopY,
    vesselPath: `${shape} Z`,
    potPath: potOutline(profile, axisX, y, scale, rimHalf, soilTopY),
    waterPath: held === null ? '' : closed(profileBelow(profile, held), axisX, y, scale),
    levelY: held === null ? null : y(held),
    invertY: y(input.overflowMm),
    wickFootY: y(input.wickFootMm),
    leakY: leak === null ? null : y(leak),
    invertHalf: half(input.overflowMm),
    levelHalf: held === null ? 0 : half(held),
    leakHalf: leak === null ? 0 : half(leak),
    wickHalf: Math.max(7, topHalf * 0.16),
    plateHalf: topHalf,
    ticks: ticks(floorMm, topMm, input.majorTickMm, y),
  };
}

/** Passes of a 1-2-1 mean: the errors of single pours must not show as dents that no potter made. */
const SMOOTHING_PASSES = 2;

function smoothProfile(profile: readonly ProfilePoint[]): readonly ProfilePoint[] {
  let smooth = profile;
  for (let pass = 0; pass < SMOOTHING_PASSES; pass++) {
    const before = smooth;
    smooth = before.map((point, i) => {
      const left = before[i - 1];
      const right = before[i + 1];
      return left === undefined || right === undefined
        ? point
        : { ...point, halfWidthMm: (left.halfWidthMm + 2 * point.halfWidthMm + right.halfWidthMm) / 4 };
    });
  }
  return smooth;
}

const n = (value: number): string => value.toFixed(1);

function outline(profile: readonly ProfilePoint[], axisX: number, y: (mm: number) => number, scale: number): string {
  const right = profile.map((point) => `${n(axisX + point.halfWidthMm * scale)} ${n(y(point.levelMm))}`);
  const left = profile.map((point) => `${n(axisX - point.halfWidthMm * scale)} ${n(y(point.levelMm))}`).reverse();
  return `M${[...right, ...left].join(' L')}`;
}

function closed(profile: readonly ProfilePoint[], axisX: number, y: (mm: number) => number, scale: number): string {
  return profile.length === 0 ? '' : `${outline(profile, axisX, y, scale)} Z`;
}

/** The pot's wall from rim to floor and up again, open at the top. */
function potOutline(
  profile: readonly ProfilePoint[],
  axisX: number,
  y: (mm: number) => number,
  scale: number,
  rimHalf: number,
  soilTopY: number,
): string {
  const wall = 5;
  const rimY = soilTopY - 8;
  const down = [...profile].reverse();
  const left = down.map((point) => `${n(axisX - point.halfWidthMm * scale)} ${n(y(point.levelMm))}`);
  const right = profile.map((point) => `${n(axisX + point.halfWidthMm * scale)} ${n(y(point.levelMm))}`);
  const floorY = y(profile[0]!.levelMm) + wall;
  const outerLeft = profile.map((point) => `${n(axisX - point.halfWidthMm * scale - wall)} ${n(y(point.levelMm))}`);
  const outerRight = down.map((point) => `${n(axisX + point.halfWidthMm * scale + wall)} ${n(y(point.levelMm))}`);
  const floorHalf = profile[0]!.halfWidthMm * scale + wall;
  return [
    `M${n(axisX - rimHalf)} ${n(rimY)}`,
    ...left,
    ...right,
    `${n(axisX + rimHalf)} ${n(rimY)}`,
    `${n(axisX + rimHalf + wall * 1.8)} ${n(rimY)}`,
    ...outerRight,
    `${n(axisX + floorHalf)} ${n(floorY)}`,
    `${n(axisX - floorHalf)} ${n(floorY)}`,
    ...outerLeft,
    `${n(axisX - rimHalf - wall * 1.8)} ${n(rimY)} Z`,
  ].join(' L');
}

function ticks(floorMm: number, topMm: number, majorMm: number, y: (mm: number) => number): SectionLayout['ticks'] {
  const minorMm = majorMm / TICKS_IN_MAJOR;
  const found = [];
  const first = Math.ceil(floorMm / minorMm - 1e-9);
  for (let i = first; i * minorMm <= topMm + 1e-9; i++) {
    found.push({ y: y(i * minorMm), levelMm: i * minorMm + 0, major: i % TICKS_IN_MAJOR === 0 });
  }
  return found;
}

/** A round distance between major ticks, so that a staff has about three to six of them. */
export function majorTick(spanMm: number, unit: 'mm' | 'in'): number {
  const mmPerUnit = unit === 'in' ? 25.4 : 1;
  const span = spanMm / mmPerUnit;
  const steps = unit === 'in' ? [0.5, 1, 2, 5, 10, 20] : [5, 10, 20, 50, 100, 200, 500];
  const step = steps.find((candidate) => span / candidate <= 6) ?? steps[steps.length - 1]!;
  return step * mmPerUnit;
}

/**
 * Moves labels apart that would overprint, keeping their order.
 * @param wanted y of each label, any order
 */
export function spreadLabels(wanted: readonly number[], leastGap: number, minY: number, maxY: number): number[] {
  const order = wanted.map((y, index) => ({ y, index })).sort((a, b) => a.y - b.y);
  let last = minY - leastGap;
  for (const label of order) {
    label.y = Math.max(label.y, last + leastGap);
    last = label.y;
  }
  let next = maxY + leastGap;
  for (const label of order.toReversed()) {
    label.y = Math.min(label.y, next - leastGap);
    next = label.y;
  }
  const placed = new Array<number>(wanted.length).fill(0);
  for (const label of order) placed[label.index] = label.y;
  return placed;
}
