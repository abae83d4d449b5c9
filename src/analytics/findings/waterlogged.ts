import type { EpochMs } from '../../domain/ids.js';
import type { FindingDraft } from '../../domain/pot.js';
import type { PotView } from '../pot-view.js';
import { lastDays } from './baseline.js';
import { makeDraft, say } from './draft.js';

/** The soil holds more water than the wick leaves in it: roots lack air. */
export interface WaterloggedState {
  readonly open: { readonly onsetMs: EpochMs; readonly moisture: number; readonly reference: number } | null;
}

export const NOT_WATERLOGGED: WaterloggedState = { open: null };

/** Beyond what a probe's own drift and a cool, rainy month leave over; a flooded soil gains more. */
const WETTER_BY = 0.06;
const LEAST_DAYS = 2;
/** Rain of the last days wets an uncovered soil without anything being wrong. */
const RAIN_MM = 4;
const RAIN_DAYS = 3;

export function waterloggedOnDay(view: PotView, state: WaterloggedState): WaterloggedState {
  const days = lastDays(view, LEAST_DAYS + RAIN_DAYS + 1);
  const last = days.slice(-(LEAST_DAYS + 1));
  if (last.length < LEAST_DAYS + 1) return state;
  const newest = last[last.length - 1]!;
  if (newest.dawnMoisture === null || newest.moistureReference === null) return state;
  const wet = last.every(
    (day) =>
      day.dawnMoisture !== null &&
      day.moistureReference !== null &&
      day.dawnMoisture > day.moistureReference + WETTER_BY,
  );
  const rain = days.slice(-(RAIN_DAYS + LEAST_DAYS)).reduce((sum, day) => sum + (day.rainMm ?? 0), 0);
  const rained = !view.ctx.container.covered && rain > RAIN_MM;
  if (wet && !rained) {
    return {
      open: {
        onsetMs: state.open?.onsetMs ?? last[0]!.endMs,
        moisture: newest.dawnMoisture,
        reference: newest.moistureReference,
      },
    };
  }
  const dry = newest.dawnMoisture < newest.moistureReference + WETTER_BY / 2;
  return dry ? NOT_WATERLOGGED : state;
}

export function waterlogged(view: PotView, state: WaterloggedState): FindingDraft | null {
  const { open } = state;
  if (open === null) return null;
  return makeDraft(view, 'waterlogged', {
    onsetMs: open.onsetMs,
    size: open.moisture - open.reference,
    unit: '1',
    confidence: 0.7,
    severity: 'medium',
    evidence: [
      say('finding.waterlogged.wet', { moistureFraction: open.moisture, referenceFraction: open.reference }),
      view.levelMm !== null && view.levelMm > view.ctx.container.reservoir.overflowMm
        ? say('finding.waterlogged.above_port', { levelMm: view.levelMm })
        : say('finding.waterlogged.from_above'),
    ],
    toConfirm: say('finding.waterlogged.confirm'),
  });
}
