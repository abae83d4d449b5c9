/** Soil water available to roots (Allen et al. 1998, FAO-56 chapter 8; equation numbers in brackets). */

/** Total available water of a root zone, mm [82]; water contents as fractions of volume. */
export function totalAvailableMm(fieldCapacity: number, wiltingPoint: number, rootDepthM: number): number {
  return 1000 * (fieldCapacity - wiltingPoint) * rootDepthM;
}

/** Readily available water, mm [83]; `depletion` is p, the share that can go before the plant suffers. */
export function readilyAvailableMm(totalMm: number, depletion: number): number {
  return depletion * totalMm;
}

/** p for a day's demand: p at 5 mm/day + 0.04 (5 - ETc), within 0.1-0.8 (FAO-56, note to table 22). */
export function depletionForDemand(depletionAt5Mm: number, cropEtMm: number): number {
  return Math.min(0.8, Math.max(0.1, depletionAt5Mm + 0.04 * (5 - cropEtMm)));
}

/** Water stress coefficient Ks, 0-1 [84]: 1 while the depletion is within the readily available water. */
export function stressCoefficient(totalMm: number, readilyMm: number, depletedMm: number): number {
  if (depletedMm <= readilyMm) return 1;
  return Math.max(0, (totalMm - depletedMm) / (totalMm - readilyMm));
}
