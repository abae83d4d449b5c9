/** Volumes of plain vessels. Lengths in mm, areas in mm², volumes in litres (1 L = 1e6 mm³). */

const MM3_PER_LITRE = 1e6;

/** A cone frustum: pi h/3 (R² + R r + r²). */
export function frustumLitres(bottomRadiusMm: number, topRadiusMm: number, heightMm: number): number {
  const sum = bottomRadiusMm ** 2 + bottomRadiusMm * topRadiusMm + topRadiusMm ** 2;
  return (Math.PI * heightMm * sum) / 3 / MM3_PER_LITRE;
}

/** Any solid between two similar, parallel sections: h/3 (A1 + A2 + sqrt(A1 A2)). */
export function prismoidLitres(bottomAreaMm2: number, topAreaMm2: number, heightMm: number): number {
  return (heightMm * (bottomAreaMm2 + topAreaMm2 + Math.sqrt(bottomAreaMm2 * topAreaMm2))) / 3 / MM3_PER_LITRE;
}

/** Water in a cone frustum that is filled to `levelMm`; the level is clipped to the vessel. */
export function partFilledFrustumLitres(
  bottomRadiusMm: number,
  topRadiusMm: number,
  heightMm: number,
  levelMm: number,
): number {
  const level = Math.min(heightMm, Math.max(0, levelMm));
  const radiusMm = bottomRadiusMm + ((topRadiusMm - bottomRadiusMm) * level) / heightMm;
  return frustumLitres(bottomRadiusMm, radiusMm, level);
}

/** Water in a vessel whose sides are straight and whose sections are rectangles, filled to `levelMm`. */
export function partFilledBoxLitres(
  bottom: { readonly lengthMm: number; readonly widthMm: number },
  top: { readonly lengthMm: number; readonly widthMm: number },
  heightMm: number,
  levelMm: number,
): number {
  const level = Math.min(heightMm, Math.max(0, levelMm));
  const share = level / heightMm;
  const length = bottom.lengthMm + (top.lengthMm - bottom.lengthMm) * share;
  const width = bottom.widthMm + (top.widthMm - bottom.widthMm) * share;
  // Length and width may taper differently, so the sections need not be similar: the prismatoid rule is exact.
  const middleArea = ((bottom.lengthMm + length) / 2) * ((bottom.widthMm + width) / 2);
  const ends = bottom.lengthMm * bottom.widthMm + length * width;
  return (level * (ends + 4 * middleArea)) / 6 / MM3_PER_LITRE;
}
