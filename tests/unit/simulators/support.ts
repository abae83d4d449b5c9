import type { PotModel, PotState } from '../../../simulators/pot/physics.js';
import { VolumeCurve } from '../../../simulators/pot/volume-curve.js';

/** An upright pot of a plain 0.12 m2 reservoir with nothing going on in it; tests change what they are about. */
export function plainPot(changes: Partial<PotModel> = {}, days = 30): { model: PotModel; state: PotState } {
  const side = Math.sqrt(0.12) * 1000;
  const curve = VolumeCurve.ofShape(
    { kind: 'cube', sideMm: side, heightMm: 250 },
    { footMm: 0, wickMm2: 0, feetMm2: 0, plateMm: 250, topMm: 300 },
    1,
  );
  const model: PotModel = {
    curve,
    overflowMm: 200,
    footMm: 10,
    plateMm: 210,
    soil: { litres: 40, restLitres: 18, fieldLitres: 19, wiltLitres: 5, saturatedLitres: 28, depletion: 0.45 },
    wickLagHours: 4,
    wickLiftLPerHour: 0.5,
    rootShare: 0,
    rootDepthMm: 5,
    catchM2: 0,
    rainBypass: 0.1,
    percolationHours: 3,
    interceptMm: 1,
    portAreaM2: 2e-4,
    demandLPerHour: new Float32Array(days * 24),
    rainMmPerStep: new Float32Array(days * 96),
    leaks: [],
    portFactors: [],
    wickFactors: [],
    ...changes,
  };
  const state: PotState = { litres: curve.litresAt(200), levelMm: 200, soilLitres: 18, interceptedMm: 0 };
  return { model, state };
}
