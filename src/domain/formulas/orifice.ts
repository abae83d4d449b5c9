/**
 * Water leaving through a hole: Torricelli's law with a discharge coefficient. SI units. Very small holes are limited
 * by viscosity and surface tension, so the law overstates them.
 */

export const STANDARD_GRAVITY_M_PER_S2 = 9.80665;

/** Textbook value for a sharp-edged hole; a short tube has about 0.8, a rounded one 0.97. */
export const SHARP_EDGED_DISCHARGE = 0.61;

/** Flow at a head over the hole, m³/s; 0 where the hole is dry. */
export function orificeFlowM3PerS(
  holeAreaM2: number,
  headM: number,
  discharge: number = SHARP_EDGED_DISCHARGE,
  gravityMPerS2: number = STANDARD_GRAVITY_M_PER_S2,
): number {
  return headM <= 0 ? 0 : discharge * holeAreaM2 * Math.sqrt(2 * gravityMPerS2 * headM);
}

/** Time in which an upright vessel falls from one head to another, s: A/(Cd a) sqrt(2/g) (sqrt h0 - sqrt h1). */
export function drainTimeS(
  vesselAreaM2: number,
  holeAreaM2: number,
  headFromM: number,
  headToM: number,
  discharge: number = SHARP_EDGED_DISCHARGE,
  gravityMPerS2: number = STANDARD_GRAVITY_M_PER_S2,
): number {
  return (
    (vesselAreaM2 / (discharge * holeAreaM2)) *
    Math.sqrt(2 / gravityMPerS2) *
    (Math.sqrt(headFromM) - Math.sqrt(headToM))
  );
}

/** Area of a round hole, m². */
export function roundHoleAreaM2(diameterMm: number): number {
  return (Math.PI * (diameterMm / 1000) ** 2) / 4;
}
