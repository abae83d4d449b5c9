import { STANDARD_GRAVITY_M_PER_S2 } from '../../src/domain/formulas/orifice.js';
import { stressCoefficient } from '../../src/domain/formulas/soil.js';
import { STEP_HOURS } from '../calendar.js';
import type { VolumeCurve } from './volume-curve.js';

export interface SoilModel {
  readonly litres: number;
  /** Water that the soil holds at rest above a wet wick. */
  readonly restLitres: number;
  /** Water that it holds after rain has drained. */
  readonly fieldLitres: number;
  readonly wiltLitres: number;
  readonly saturatedLitres: number;
  /** Share of the water between rest and wilting that goes before the plant suffers. */
  readonly depletion: number;
}

export interface LeakModel {
  readonly fromStep: number;
  readonly toStep: number;
  readonly crackMm: number;
  /** Flow at the overflow invert. */
  readonly litresPerDayAtInvert: number;
  /** 0.5 for a hole, near 1 for a seeping hairline. */
  readonly exponent: number;
}

/** A factor on some part's capacity over a span of steps. */
export interface FactorSpan {
  readonly fromStep: number;
  readonly toStep: number;
  readonly factor: number;
}

export interface PotModel {
  readonly curve: VolumeCurve;
  readonly overflowMm: number;
  readonly footMm: number;
  readonly plateMm: number;
  readonly soil: SoilModel;
  readonly wickLagHours: number;
  readonly wickLiftLPerHour: number;
  /** Share of the demand that roots take straight from the dead storage once the wick foot is dry. */
  readonly rootShare: number;
  readonly rootDepthMm: number;
  /** Area that catches rain, m2; 0 for a covered pot. */
  readonly catchM2: number;
  readonly rainBypass: number;
  readonly percolationHours: number;
  readonly interceptMm: number;
  readonly portAreaM2: number;
  /** What the plants would take from moist soil, L in each hour. */
  readonly demandLPerHour: Float32Array;
  readonly rainMmPerStep: Float32Array;
  readonly leaks: readonly LeakModel[];
  readonly portFactors: readonly FactorSpan[];
  readonly wickFactors: readonly FactorSpan[];
}

export interface PotState {
  litres: number;
  levelMm: number;
  soilLitres: number;
  /** Rain held on leaves. */
  interceptedMm: number;
}

/** Litres that moved in one step. */
export interface StepFlows {
  refill: number;
  /** Into the reservoir: percolation and bypass. */
  rainIn: number;
  wick: number;
  roots: number;
  leak: number;
  overflow: number;
  drained: number;
  transpired: number;
  /** Onto the soil from above. */
  soilRain: number;
  percolated: number;
  runoff: number;
  topWater: number;
  /** Share of the step after which the water first stood at the wick foot; -1 where it did not reach it. */
  footReached: number;
}

export function newFlows(): StepFlows {
  return {
    refill: 0,
    rainIn: 0,
    wick: 0,
    roots: 0,
    leak: 0,
    overflow: 0,
    drained: 0,
    transpired: 0,
    soilRain: 0,
    percolated: 0,
    runoff: 0,
    topWater: 0,
    footReached: -1,
  };
}

const STEP_SECONDS = STEP_HOURS * 3600;
const PORT_DISCHARGE = 0.61;
/** Leaves dry again at about this rate. */
const INTERCEPTION_DRYING_MM_PER_STEP = 0.08;

/** What people do to the pot in a step. */
export interface Intervention {
  /** Litres poured into the reservoir. */
  readonly pourLitres: number;
  /** Litres siphoned or tipped out. */
  readonly drainLitres: number;
  /** Litres poured onto the soil. */
  readonly topLitres: number;
}

function factorAt(spans: readonly FactorSpan[], step: number): number {
  let factor = 1;
  for (const span of spans) if (step >= span.fromStep && step < span.toStep) factor *= span.factor;
  return factor;
}

/**
 * Advances one pot by 15 minutes and fills `flows`. Order: rain, what people do, the plants, the wick, the leak, the
 * port. Reservoir: litres' = litres + refill + rainIn - wick - roots - leak - overflow - drained.
 * Soil: soil' = soil + soilRain + topWater + wick - (transpired - roots) - percolated - runoff, with the bypass part of
 * rainIn outside it.
 */
export function stepPot(
  pot: PotModel,
  state: PotState,
  step: number,
  action: Intervention | null,
  flows: StepFlows,
): void {
  const { curve, soil } = pot;
  let litres = state.litres;
  let soilLitres = state.soilLitres;
  const footLitres = curve.litresAt(pot.footMm);
  const litresBefore = litres;

  flows.soilRain = 0;
  flows.percolated = 0;
  flows.runoff = 0;
  flows.rainIn = 0;
  flows.topWater = 0;
  flows.refill = 0;
  flows.drained = 0;

  if (pot.catchM2 > 0) {
    const rainMm = pot.rainMmPerStep[step]!;
    if (rainMm > 0) {
      const caughtByLeaves = Math.min(rainMm, Math.max(0, pot.interceptMm - state.interceptedMm));
      state.interceptedMm += caughtByLeaves;
      const fallLitres = (rainMm - caughtByLeaves) * pot.catchM2;
      const bypass = fallLitres * pot.rainBypass;
      flows.soilRain = fallLitres - bypass;
      flows.rainIn = bypass;
      soilLitres += flows.soilRain;
    } else if (state.interceptedMm > 0) {
      state.interceptedMm = Math.max(0, state.interceptedMm - INTERCEPTION_DRYING_MM_PER_STEP);
    }
  }
  if (action !== null) {
    flows.topWater = action.topLitres;
    soilLitres += action.topLitres;
    flows.refill = action.pourLitres;
    litres += action.pourLitres;
    flows.drained = Math.min(litres, action.drainLitres);
    litres -= flows.drained;
  }
  if (soilLitres > soil.saturatedLitres) {
    flows.runoff = soilLitres - soil.saturatedLitres;
    soilLitres = soil.saturatedLitres;
  }
  const excess = soilLitres - soil.fieldLitres;
  // Soil that stands in the water of a flooded reservoir cannot drain into it.
  if (excess > 0 && state.levelMm <= pot.plateMm) {
    flows.percolated = excess * (1 - Math.exp(-STEP_HOURS / pot.percolationHours));
    soilLitres -= flows.percolated;
    flows.rainIn += flows.percolated;
  }
  litres += flows.rainIn;

  const potential = pot.demandLPerHour[step >> 2]! * STEP_HOURS;
  const total = soil.restLitres - soil.wiltLitres;
  const stress = stressCoefficient(total, soil.depletion * total, soil.restLitres - soilLitres);
  const transpired = Math.min(potential * stress, Math.max(0, soilLitres - soil.wiltLitres));
  soilLitres -= transpired;
  flows.transpired = transpired;

  // The wick: a first-order lag towards the soil's water at rest, up to what the column can lift.
  let targetLitres = soil.restLitres;
  if (state.levelMm > pot.plateMm) {
    const flooded = Math.min(1, (state.levelMm - pot.plateMm) / 40);
    targetLitres += flooded * (soil.saturatedLitres - soil.restLitres);
  }
  const pull = Math.max(0, targetLitres - soilLitres) * (1 - Math.exp(-STEP_HOURS / pot.wickLagHours));
  const lift = pot.wickLiftLPerHour * STEP_HOURS * factorAt(pot.wickFactors, step);
  const available = Math.max(0, litres - footLitres);
  const wanted = Math.min(pull, lift);
  flows.wick = Math.min(wanted, available);
  litres -= flows.wick;
  soilLitres += flows.wick;

  flows.roots = 0;
  if (available <= 0 && pot.rootShare > 0) {
    const bottomLitres = curve.litresAt(Math.max(0, pot.footMm - pot.rootDepthMm));
    flows.roots = Math.min(potential * pot.rootShare, Math.max(0, litres - bottomLitres));
    litres -= flows.roots;
    flows.transpired += flows.roots;
  }

  flows.leak = 0;
  for (const leak of pot.leaks) {
    if (step < leak.fromStep || step >= leak.toStep) continue;
    const lost = leakLitres(pot, leak, litres, curve.levelAt(litres, state.levelMm));
    litres -= lost;
    flows.leak += lost;
  }

  flows.overflow = 0;
  let levelMm = curve.levelAt(litres, state.levelMm);
  if (levelMm > pot.overflowMm) {
    const open = factorAt(pot.portFactors, step);
    if (open > 0) {
      const areaM2 = curve.areaLPerMm(levelMm);
      const lossM = fallThroughOrificeM((levelMm - pot.overflowMm) / 1000, areaM2, pot.portAreaM2 * open, STEP_SECONDS);
      const target = curve.litresAt(Math.max(pot.overflowMm, levelMm - lossM * 1000));
      flows.overflow = litres - target;
      litres = target;
      levelMm = curve.levelAt(litres, levelMm);
    }
    const most = curve.capacityLitres;
    if (litres > most) {
      // Over the rim.
      flows.overflow += litres - most;
      litres = most;
      levelMm = curve.topMm;
    }
  }

  flows.footReached = -1;
  if (litresBefore > footLitres && litres <= footLitres + 1e-9) {
    const drop = litresBefore + flows.refill + flows.rainIn - footLitres;
    const want = wanted + flows.leak;
    flows.footReached = want > 0 ? Math.min(1, drop / want) : 1;
  }
  state.litres = litres;
  state.levelMm = levelMm;
  state.soilLitres = soilLitres;
}

/** Fall of an upright vessel's surface in a time by Torricelli's law: sqrt(h1) = sqrt(h0) - k t / (2 A). */
export function fallThroughOrificeM(headM: number, vesselAreaM2: number, holeAreaM2: number, seconds: number): number {
  const k = PORT_DISCHARGE * holeAreaM2 * Math.sqrt(2 * STANDARD_GRAVITY_M_PER_S2);
  const root = Math.max(0, Math.sqrt(headM) - (k * seconds) / (2 * vesselAreaM2));
  return headM - root * root;
}

/** Litres through a crack in one step: q = q_invert (head / head_invert)^n, integrated over the step. */
function leakLitres(pot: PotModel, leak: LeakModel, litres: number, levelMm: number): number {
  const head = levelMm - leak.crackMm;
  if (head <= 0) return 0;
  const reference = Math.max(1, pot.overflowMm - leak.crackMm);
  const area = pot.curve.areaLPerMm(levelMm);
  const rate = (leak.litresPerDayAtInvert / 24) * STEP_HOURS;
  let left: number;
  const n = leak.exponent;
  const relative = head / reference;
  const turnover = rate / (area * reference);
  if (Math.abs(n - 1) < 1e-6) {
    left = relative * Math.exp(-turnover);
  } else {
    const power = relative ** (1 - n) - (1 - n) * turnover;
    left = power <= 0 ? 0 : power ** (1 / (1 - n));
  }
  const target = pot.curve.litresAt(leak.crackMm + left * reference);
  return Math.max(0, Math.min(litres, litres - target));
}

/** True while the soil has lost its readily available water. */
export function isStressed(soil: SoilModel, soilLitres: number): boolean {
  return soil.restLitres - soilLitres >= soil.depletion * (soil.restLitres - soil.wiltLitres);
}
