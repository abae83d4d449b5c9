import type { EpochMs } from '../../domain/ids.js';
import type { FindingDraft, PotEvent } from '../../domain/pot.js';
import type { PotView } from '../pot-view.js';
import { type Cusum, NO_CUSUM, stepCusum } from '../stats/control-charts.js';
import { median } from '../stats/order.js';
import { makeDraft, say } from './draft.js';

/**
 * The overflow is the one height that the pot itself knows: after a fill that ran over, the water stands at the invert.
 * A level that comes to stand elsewhere there, fill after fill, is the sensor's error. Between such fills a slow drift
 * looks like a leak or a thirstier plant, and is not observable.
 */
export interface DriftState {
  /** Level after each full fill, less the invert, mm; oldest first. */
  readonly full: readonly { readonly id: string; readonly atMs: EpochMs; readonly offsetMm: number }[];
}

export const NO_DRIFT: DriftState = { full: [] };

const SLACK_MM = 2;
const DECISION_MM = 12;
/** An offset under this is within what settling and the port's own flow leave over. */
const LEAST_OFFSET_MM = 6;
/** A drifting sensor is still within this of the invert when it is full; further off it was not full. */
const NEAR_MM = 25;
const KEPT = 16;
/** The first full fills say where this sensor sees the invert. */
const REFERENCE_FILLS = 3;
const LEAST_FILLS = 5;

export function driftOnEvent(view: PotView, state: DriftState, event: PotEvent): DriftState {
  if (event.kind !== 'refill' || !event.atLeast) return state;
  const offsetMm = event.endLevelMm - view.ctx.container.reservoir.overflowMm;
  if (Math.abs(offsetMm) > NEAR_MM) return state;
  const others = state.full.filter((entry) => entry.id !== event.id);
  return { full: [...others, { id: event.id, atMs: event.endMs, offsetMm }].slice(-KEPT) };
}

interface Drift {
  readonly offsetMm: number;
  readonly onsetMs: EpochMs;
  readonly fills: number;
}

function driftOf(state: DriftState): Drift | null {
  const { full } = state;
  if (full.length < LEAST_FILLS) return null;
  const reference = median(full.slice(0, REFERENCE_FILLS).map((entry) => entry.offsetMm)) ?? 0;
  let cusum: Cusum = NO_CUSUM;
  let onsetMs = full[0]!.atMs;
  let fills = 0;
  for (const entry of full) {
    const quiet = cusum.high === 0 && cusum.low === 0;
    cusum = stepCusum(cusum, entry.offsetMm, reference, SLACK_MM);
    if (quiet) {
      onsetMs = entry.atMs;
      fills = 0;
    }
    fills++;
  }
  if (Math.max(cusum.high, cusum.low) < DECISION_MM || fills < 2) return null;
  const last = full.slice(-2).map((entry) => entry.offsetMm - reference);
  const offsetMm = median(last) ?? 0;
  if (Math.abs(offsetMm) < LEAST_OFFSET_MM) return null;
  // A blocked port makes levels stand high, each time elsewhere; a sensor's error repeats itself.
  if (Math.abs(last[0]! - (last[1] ?? last[0]!)) > Math.max(4, 0.5 * Math.abs(offsetMm))) return null;
  return { offsetMm, onsetMs, fills };
}

export function sensorDrift(view: PotView, state: DriftState): FindingDraft | null {
  const drift = driftOf(state);
  if (drift === null) return null;
  return makeDraft(view, 'sensor_drift', {
    onsetMs: drift.onsetMs,
    size: drift.offsetMm,
    unit: 'mm',
    heightMm: view.ctx.container.reservoir.overflowMm,
    confidence: Math.min(0.9, 0.6 + 0.08 * drift.fills),
    severity: 'low',
    evidence: [
      say('finding.sensor_drift.offset', { offsetMm: drift.offsetMm, fills: drift.fills }),
      say('finding.sensor_drift.effect', {
        litres: Math.abs(drift.offsetMm) * view.strapping.areaLitresPerMm(view.ctx.container.reservoir.overflowMm),
      }),
    ],
    toConfirm: say('finding.sensor_drift.confirm'),
  });
}
