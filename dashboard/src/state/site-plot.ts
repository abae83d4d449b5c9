/** Sites on a plain plot: north up, true to scale, no tiles and nobody else's server. */
export interface PlotPlace {
  readonly id: string;
  readonly latitude: number;
  readonly longitude: number;
}

export interface SitePlot {
  readonly width: number;
  readonly height: number;
  readonly points: ReadonlyMap<string, { readonly x: number; readonly y: number }>;
  /** A round length and how long it is drawn. */
  readonly scaleBar: { readonly km: number; readonly width: number };
}

/** Mean radius of the earth, km (IUGG). */
const EARTH_KM = 6_371.0088;
const KM_PER_DEGREE = (EARTH_KM * Math.PI) / 180;
const MARGIN = 22;
const ROUND_KM = [0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100, 200, 500];
/** Two marks that would print over one another are moved this far apart. */
const LEAST_GAP = 20;
/** Sites that lie together are not blown up beyond this. */
const LEAST_SPAN_KM = 0.4;
const SPREADING_ROUNDS = 12;

/** Equirectangular about the middle: over one town it is out by less than a mark's width. */
export function sitePlot(places: readonly PlotPlace[], width: number, height: number): SitePlot {
  const latitudes = places.map((place) => place.latitude);
  const longitudes = places.map((place) => place.longitude);
  const middleLatitude = (Math.min(...latitudes) + Math.max(...latitudes)) / 2;
  const middleLongitude = (Math.min(...longitudes) + Math.max(...longitudes)) / 2;
  const east = Math.cos((middleLatitude * Math.PI) / 180) * KM_PER_DEGREE;
  const flat = places.map((place) => ({
    id: place.id,
    eastKm: (place.longitude - middleLongitude) * east,
    northKm: (place.latitude - middleLatitude) * KM_PER_DEGREE,
  }));
  const wideKm = Math.max(LEAST_SPAN_KM, ...flat.map((one) => Math.abs(one.eastKm) * 2));
  const highKm = Math.max(LEAST_SPAN_KM, ...flat.map((one) => Math.abs(one.northKm) * 2));
  const perKm = Math.min((width - 2 * MARGIN) / wideKm, (height - 2 * MARGIN) / highKm);
  const marks = flat.map((one) => ({
    id: one.id,
    x: width / 2 + one.eastKm * perKm,
    y: height / 2 - one.northKm * perKm,
  }));
  spread(marks, width, height);
  const km = ROUND_KM.findLast((length) => length * perKm <= width / 3) ?? ROUND_KM[0]!;
  return {
    width,
    height,
    points: new Map(marks.map((mark) => [mark.id, { x: mark.x, y: mark.y }])),
    scaleBar: { km, width: km * perKm },
  };
}

function spread(marks: { x: number; y: number }[], width: number, height: number): void {
  for (let round = 0; round < SPREADING_ROUNDS; round++) {
    for (let i = 0; i < marks.length; i++) {
      for (let j = i + 1; j < marks.length; j++) push(marks[i]!, marks[j]!, j);
    }
    for (const mark of marks) {
      mark.x = Math.min(width - MARGIN / 2, Math.max(MARGIN / 2, mark.x));
      mark.y = Math.min(height - MARGIN / 2, Math.max(MARGIN / 2, mark.y));
    }
  }
}

function push(a: { x: number; y: number }, b: { x: number; y: number }, turn: number): void {
  const dx = b.x - a.x;
  const dy = b.y - a.y;
  const apart = Math.hypot(dx, dy);
  if (apart >= LEAST_GAP) return;
  // Marks on the very same place go apart in a direction that their number decides, so that a redraw looks the same.
  const [ux, uy] = apart > 1e-9 ? [dx / apart, dy / apart] : [Math.cos(turn * 2.4), Math.sin(turn * 2.4)];
  const half = (LEAST_GAP - apart) / 2;
  a.x -= ux * half;
  a.y -= uy * half;
  b.x += ux * half;
  b.y += uy * half;
}
