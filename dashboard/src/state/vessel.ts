/**
 * The shape of a reservoir as its strapping table implies it: the cross-section area at a level is dV/dh, and a round
 * vessel of the same area has the half-width sqrt(area / pi). The table cannot know whether the pot is round, so the
 * drawing says "as if round".
 */

export type Strapping = readonly (readonly [levelMm: number, litres: number])[];

export interface ProfilePoint {
  readonly levelMm: number;
  readonly halfWidthMm: number;
}

const MM3_PER_LITRE = 1e6;

/**
 * Half-widths by level, from the floor up. Each interval of the table gives one area, placed at its middle; floor and
 * top hold the nearest one.
 * @throws RangeError for fewer than two pairs or pairs that do not increase
 */
export function vesselProfile(strapping: Strapping): readonly ProfilePoint[] {
  if (strapping.length < 2) throw new RangeError('a strapping table has at least two pairs');
  const middles: ProfilePoint[] = [];
  for (let i = 1; i < strapping.length; i++) {
    const [lowMm, lowLitres] = strapping[i - 1]!;
    const [highMm, highLitres] = strapping[i]!;
    if (!(highMm > lowMm && highLitres > lowLitres)) throw new RangeError(`pair ${i + 1} does not increase`);
    const areaMm2 = ((highLitres - lowLitres) * MM3_PER_LITRE) / (highMm - lowMm);
    middles.push({ levelMm: (lowMm + highMm) / 2, halfWidthMm: Math.sqrt(areaMm2 / Math.PI) });
  }
  const floorMm = strapping[0]![0];
  const topMm = strapping[strapping.length - 1]![0];
  return [
    { levelMm: floorMm, halfWidthMm: middles[0]!.halfWidthMm },
    ...middles,
    { levelMm: topMm, halfWidthMm: middles[middles.length - 1]!.halfWidthMm },
  ];
}

/** Half-width at a level, linear between the points and held beyond the ends. */
export function halfWidthAt(profile: readonly ProfilePoint[], levelMm: number): number {
  const first = profile[0];
  if (first === undefined) throw new RangeError('an empty profile has no width');
  let before = first;
  for (const point of profile) {
    if (point.levelMm >= levelMm) {
      const span = point.levelMm - before.levelMm;
      if (span <= 0) return point.halfWidthMm;
      const share = (levelMm - before.levelMm) / span;
      return before.halfWidthMm + share * (point.halfWidthMm - before.halfWidthMm);
    }
    before = point;
  }
  return before.halfWidthMm;
}

/** The part of the profile below a level, closed at that level: the outline of the water standing there. */
export function profileBelow(profile: readonly ProfilePoint[], levelMm: number): readonly ProfilePoint[] {
  const below = profile.filter((point) => point.levelMm < levelMm);
  if (below.length === 0) return [];
  return [...below, { levelMm, halfWidthMm: halfWidthAt(profile, levelMm) }];
}
