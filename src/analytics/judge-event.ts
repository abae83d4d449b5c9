import type { EpochMs } from '../domain/ids.js';
import type { EventKind } from '../domain/pot.js';
import { corrected, correctedSpill } from './correct-event.js';
import { type EventRecord, type EventState, type EventStep, type EventSurroundings, quiet } from './event-records.js';
import { INVERT_MARGIN_MM, overflowId, spillOf } from './spill.js';

/** A crew's report and the rise it caused lie this close together. */
export const REPORT_WINDOW_MS = 4 * 3_600_000;

/**
 * Weights of the evidence, as log-odds of a person against rain. They are judgements, set on simulated fleets with known
 * truth and not estimated; the confidence that follows stays with the event, and a person may overrule it.
 */
const COVERED = 6;
/** Poured water is there within two intervals; rain comes through the soil over hours. */
const SUDDEN = { even: 0.75, weight: 12, most: 4 } as const;
/** No rain comes through the soil this fast. */
const FAST = { mmPerHour: 20, weight: 2 } as const;
/** Rain on the soil above shows in its moisture before it shows below; a pour wets it from below, hours later. */
const MOISTURE = { wet: 0.012, wetter: -4, damp: 0.006, damper: -2, unmoved: 2 } as const;
const DRY_DAYS = { mm: 0.5, weight: 4 } as const;
/** Litres against all that fell on the pot's soil. */
const CATCH = { beyond: 1.2, weight: 4, well: 0.7, within: -3 } as const;
const NIGHT = -1.5;
const FULL_AND_DRY = { moistureGain: 0.004, weight: 1 } as const;
const REPORTED = 5;
const LEAST_CATCH_LITRES = 0.05;

/** Person or rain? From the shape of the rise, the cover, the soil, the rain known by now and the crew's reports. */
export function judge(record: EventRecord, state: EventState, around: EventSurroundings): EventRecord {
  const said = corrected(record, state);
  if (said !== null) return said;
  if (record.shape === null) return record;
  const report = state.reports.find(
    (entry) =>
      entry.work === 'refill' &&
      entry.timeMs >= record.event.startMs - REPORT_WINDOW_MS &&
      entry.timeMs <= record.event.endMs + REPORT_WINDOW_MS,
  );
  const { covered } = around.ctx.container;
  const rainMm = covered ? 0 : around.rainBetween(record.event.startMs, record.event.endMs);
  const score = shapeScore(record, around) + (covered ? COVERED : rainScore(record, around, rainMm));
  const total = score + (report === undefined ? 0 : REPORTED);
  const kind: EventKind = total > 0 ? 'refill' : 'rain';
  const confidence = 1 / (1 + Math.exp(-Math.abs(total)));
  const byCrew = report !== undefined && kind === 'refill';
  const untold = kind === 'rain' ? rainMm === null && around.hasWeather : record.doubtful && !byCrew;
  const judged: EventRecord = {
    ...record,
    byCrew,
    untold,
    pouredLitres: report?.litres ?? null,
    event: { ...record.event, kind, confidence: Math.round(confidence * 1000) / 1000 },
  };
  const spill = spillOf(judged, around, rainMm);
  const saidSpill = correctedSpill(state, overflowId(judged.event), spill);
  return { ...judged, spill: saidSpill === undefined ? spill : saidSpill };
}

function shapeScore({ event, shape }: EventRecord, around: EventSurroundings): number {
  const { suddenShare, moistureGain } = shape!;
  const sudden = SUDDEN.weight * (suddenShare - SUDDEN.even);
  let score = Math.max(-SUDDEN.most, Math.min(SUDDEN.most, sudden));
  const hours = Math.max(0.25, (event.endMs - event.startMs) / 3_600_000);
  if ((event.endLevelMm - event.startLevelMm) / hours > FAST.mmPerHour) score += FAST.weight;
  const hour = around.wallHour(event.startMs);
  if (hour >= 21 || hour < 6) score += NIGHT;
  if (around.ctx.container.covered || moistureGain === null) return score;
  if (moistureGain >= MOISTURE.wet) score += MOISTURE.wetter;
  else if (moistureGain >= MOISTURE.damp) score += MOISTURE.damper;
  else score += MOISTURE.unmoved;
  const full = event.endLevelMm >= around.ctx.container.reservoir.overflowMm - INVERT_MARGIN_MM;
  if (full && Math.abs(moistureGain) < FULL_AND_DRY.moistureGain) score += FULL_AND_DRY.weight;
  return score;
}

function rainScore({ event }: EventRecord, around: EventSurroundings, rainMm: number | null): number {
  if (rainMm === null) return 0;
  if (rainMm <= DRY_DAYS.mm) return DRY_DAYS.weight;
  const { soil } = around.ctx.container;
  if (soil === null) return 0;
  const share = event.litres / Math.max(rainMm * soil.surfaceM2, LEAST_CATCH_LITRES);
  if (share > CATCH.beyond) return CATCH.weight;
  return share < CATCH.well ? CATCH.within : 0;
}

/** Judges the gains since `sinceMs` again: rain became known, or a report came in. */
export function judgeAgain(state: EventState, around: EventSurroundings, sinceMs: EpochMs): EventStep {
  const changed: EventRecord[] = [];
  const records = state.records.map((record) => {
    if (record.event.startMs < sinceMs || record.shape === null) return record;
    const judged = judge(record, state, around);
    if (JSON.stringify(judged) === JSON.stringify(record)) return record;
    changed.push(judged);
    return judged;
  });
  return changed.length > 0 ? { state: { ...state, records }, changed, gone: [] } : quiet(state);
}
