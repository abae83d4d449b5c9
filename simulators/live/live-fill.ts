import { POUR_LITRES_PER_MINUTE, type PotRun } from '../fleet/site-simulation.js';

/** A hose that runs into a pot while its node reports fast. */
export interface LiveFill {
  readonly run: PotRun;
  readonly litres: number;
  readonly startMs: number;
  /** Start of the step with which the physics takes the same litres in. */
  readonly takenMs: number;
}

const LITRES_PER_MS = POUR_LITRES_PER_MINUTE / 60_000;

export const pouredBy = (fill: LiveFill, ms: number): number => ranSince(fill, fill.startMs, ms);

/** From then on the physics alone says how full the pot is. */
export const overMs = (fill: LiveFill): number => fill.takenMs + fill.litres / LITRES_PER_MS;

/**
 * True level while the hose runs. The physics goes by whole steps and has run ahead of the instant, so what is poured now
 * comes in with its next step: until then it is added here, and what the step has of it is taken off again.
 */
export function levelMmWhileFilling(fill: LiveFill, ms: number): number {
  const { curve } = fill.run.spec.model;
  const levelMm = fill.run.levelAt(ms);
  const early = pouredBy(fill, ms) - ranSince(fill, fill.takenMs, ms);
  return early <= 0 ? levelMm : curve.levelAt(curve.litresAt(levelMm) + early, levelMm);
}

function ranSince(fill: LiveFill, sinceMs: number, ms: number): number {
  return Math.min(fill.litres, Math.max(0, (ms - sinceMs) * LITRES_PER_MS));
}
