/** A point on the earth, degrees. */
export interface GeoPoint {
  readonly latitude: number;
  readonly longitude: number;
}

/** How straight lines become roads and roads become minutes. Calibrated from the crew's own drives. */
export interface TravelSettings {
  /**
   * Road distance / great circle = `detourFar` + `detourNear` * exp(-g / `detourScaleKm`). Published means: 1.2 in cities
   * (Newell 1980), 1.21-1.23 (O'Sullivan and Morrall 1996), 1.26 for South Korea (Kim et al. 2015); short trips wind more
   * (Giacomin and Levinson 2015). The three values are a proposal of ours between these, to be calibrated.
   */
  readonly detourFar: number;
  readonly detourNear: number;
  readonly detourScaleKm: number;
  /** Cruising speeds and up to which kilometre of the trip each holds; ours, to be calibrated. */
  readonly speeds: readonly { readonly upToKm: number; readonly kmPerHour: number }[];
  /** Distance in which the cruising speed is reached and left: square root law below (Kolesar and Walker 1974). */
  readonly rampKm: number;
  /** A loaded water truck against a car; ours, no source. */
  readonly loadedFactor: number;
}

export const TRAVEL_SETTINGS: TravelSettings = {
  detourFar: 1.25,
  detourNear: 0.25,
  detourScaleKm: 4,
  speeds: [
    { upToKm: 5, kmPerHour: 35 },
    { upToKm: 20, kmPerHour: 50 },
    { upToKm: Number.POSITIVE_INFINITY, kmPerHour: 75 },
  ],
  rampKm: 1,
  loadedFactor: 1.1,
};

/** Kilometres and minutes between points, row = from; a routing engine may fill it as well as the estimate. */
export interface TravelMatrix {
  readonly size: number;
  readonly km: Float64Array;
  readonly minutes: Float64Array;
  /** 1 where a cell is an estimate, 0 where a routing engine gave it. */
  readonly estimated: Uint8Array;
}

/** Where a matrix comes from. */
export interface TravelSource {
  matrix(points: readonly GeoPoint[]): Promise<TravelMatrix>;
}

/** Mean radius of the earth (IUGG R1), km. */
const EARTH_RADIUS_KM = 6371.0088;

/** Haversine (Sinnott 1984): stable for close points. */
export function greatCircleKm(a: GeoPoint, b: GeoPoint): number {
  const radians = Math.PI / 180;
  const dLat = (b.latitude - a.latitude) * radians;
  const dLon = (b.longitude - a.longitude) * radians;
  const h =
    Math.sin(dLat / 2) ** 2 + Math.cos(a.latitude * radians) * Math.cos(b.latitude * radians) * Math.sin(dLon / 2) ** 2;
  return 2 * EARTH_RADIUS_KM * Math.asin(Math.min(1, Math.sqrt(h)));
}

/** Expected road kilometres for a great circle of `km`. */
export function roadKm(km: number, settings: TravelSettings): number {
  return km * (settings.detourFar + settings.detourNear * Math.exp(-km / settings.detourScaleKm));
}

/** Expected driving minutes for `km` of road; rises with distance, without steps. */
export function driveMinutes(km: number, settings: TravelSettings): number {
  const first = settings.speeds[0]!.kmPerHour;
  if (km <= settings.rampKm) return (60 * settings.loadedFactor * 2 * Math.sqrt(km * settings.rampKm)) / first;
  let hours = settings.rampKm / first;
  let from = 0;
  for (const { upToKm, kmPerHour } of settings.speeds) {
    hours += Math.max(0, Math.min(km, upToKm) - from) / kmPerHour;
    from = upToKm;
    if (km <= upToKm) break;
  }
  return 60 * settings.loadedFactor * hours;
}

/**
 * Estimates all legs between points.
 * @param known a matrix whose first `count` points are the first ones here too: their legs are taken over
 */
export function estimateTravel(
  points: readonly GeoPoint[],
  settings: TravelSettings,
  known: { readonly matrix: TravelMatrix; readonly count: number } | null = null,
): TravelMatrix {
  const size = points.length;
  const km = new Float64Array(size * size);
  const minutes = new Float64Array(size * size);
  const kept = known?.count ?? 0;
  for (let i = 0; i < kept; i++) {
    const row = i * known!.matrix.size;
    km.set(known!.matrix.km.subarray(row, row + kept), i * size);
    minutes.set(known!.matrix.minutes.subarray(row, row + kept), i * size);
  }
  const x = new Float64Array(size);
  const y = new Float64Array(size);
  const z = new Float64Array(size);
  points.forEach(({ latitude, longitude }, i) => {
    const lat = (latitude * Math.PI) / 180;
    const lon = (longitude * Math.PI) / 180;
    x[i] = Math.cos(lat) * Math.cos(lon);
    y[i] = Math.cos(lat) * Math.sin(lon);
    z[i] = Math.sin(lat);
  });
  for (let i = kept; i < size; i++) {
    for (let j = 0; j < i; j++) {
      // By the chord between points on the unit sphere: as steady as the haversine, without its sines.
      const chord = Math.sqrt((x[i]! - x[j]!) ** 2 + (y[i]! - y[j]!) ** 2 + (z[i]! - z[j]!) ** 2);
      const road = roadKm(2 * EARTH_RADIUS_KM * Math.asin(Math.min(1, chord / 2)), settings);
      const time = driveMinutes(road, settings);
      km[i * size + j] = road;
      km[j * size + i] = road;
      minutes[i * size + j] = time;
      minutes[j * size + i] = time;
    }
  }
  return { size, km, minutes, estimated: new Uint8Array(size * size).fill(1) };
}
