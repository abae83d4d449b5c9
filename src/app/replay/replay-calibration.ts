import {
  type CalibratedPot,
  calibrateForecast,
  type Outcome,
  type ResolvedForecast,
  resolve,
  updateCalibration,
} from '../../analytics/calibration.js';
import type { FleetCalibration } from '../../domain/analysis.js';
import type { EpochMs } from '../../domain/ids.js';
import { DAY_MS } from '../../domain/local-day.js';
import type { Forecast } from '../../domain/pot.js';
import type { PotReplayResult } from './replay-pot.js';

/** How a wait for the dry date ended, and when that became known. */
export interface KnownOutcome extends Outcome {
  readonly knownMs: EpochMs;
}

interface Replayed {
  readonly containerId: string;
  readonly result: PotReplayResult;
}

/**
 * Calibrates the forecasts of a whole replay as the live service does day by day: what had become known by the start of
 * a UTC day is learnt from then, and holds for the forecasts of that day.
 */
export function calibrateReplay(pots: readonly Replayed[]): readonly Replayed[] {
  const said = new Map<string, Forecast[]>(pots.map((pot) => [pot.containerId, []]));
  const queue = pots
    .flatMap((pot) => pot.result.forecasts)
    .sort((a, b) => a.originMs - b.originMs || (a.containerId < b.containerId ? -1 : 1));
  const waiting: { readonly pot: CalibratedPot; readonly forecast: Forecast; readonly outcome: KnownOutcome }[] = [];
  const results = new Map(pots.map((pot) => [pot.containerId, pot.result]));
  let calibration: FleetCalibration | null = null;
  let dayMs = Number.NEGATIVE_INFINITY;
  for (const raw of queue) {
    const today = Math.floor(raw.originMs / DAY_MS) * DAY_MS;
    if (today > dayMs) {
      dayMs = today;
      const known: ResolvedForecast[] = [];
      for (let i = waiting.length - 1; i >= 0; i--) {
        const { pot, forecast, outcome } = waiting[i]!;
        if (outcome.knownMs >= dayMs) continue;
        waiting.splice(i, 1);
        known.push(resolve(pot, forecast, outcome));
      }
      if (known.length > 0) calibration = updateCalibration(calibration, known, dayMs);
    }
    const { pot, outcomes } = results.get(raw.containerId)!;
    const forecast = calibrateForecast(calibration, pot.covered, raw);
    said.get(raw.containerId)!.push(forecast);
    const outcome = outcomes.find((candidate) => candidate.atMs > raw.originMs);
    if (outcome !== undefined && forecast.dry !== null) waiting.push({ pot, forecast, outcome });
  }
  return pots.map((pot) => ({ ...pot, result: { ...pot.result, forecasts: said.get(pot.containerId)! } }));
}
