import type { EpochMs } from '../domain/ids.js';
import type { EventKind } from '../domain/pot.js';
import { corrected } from './correct-event.js';
import type { EventRecord, EventState, EventStep, EventSurroundings } from './event-records.js';

/** A crew's report and the rise it caused lie this close together. */
export const REPORT_WINDOW_MS = 4 * 3_600_000;

/**
 * Person or rain? Log-odds from the shape of the rise, the cover, the rain known by now, and the crew's reports. The
 * weights are judgements, not estimates; the score stays with the event, and a person may overrule it.
 */
export function judge(record: EventRecord, state: EventState, around: EventSurroundings): EventRecord {
  const said = corrected(record, state);
  if (said !== null) return said;
  if (record.shapeScore === null) return record;
  const report = state.reports.find(
    (entry) =>
      entry.work === 'refill' &&
      entry.timeMs >= record.event.startMs - REPORT_WINDOW_MS &&
      entry.timeMs <= record.event.endMs + REPORT_WINDOW_MS,
  );
  let score = record.shapeScore;
  const rainMm = around.ctx.container.covered ? 0 : around.rainAround(record.event.startMs);
  if (around.ctx.container.covered) score += 6;
  else {
    if (rainMm !== null) score += rainMm > 3 ? -3 : rainMm > 0.5 ? -0.5 : 3;
    const soil = around.ctx.container.soil;
    if (rainMm !== null && soil !== null && record.event.litres > rainMm * soil.surfaceM2 + 0.5) score += 3;
  }
  if (report !== undefined) score += 5;
  const kind: EventKind = score > 0 ? 'refill' : 'rain';
  const confidence = 1 / (1 + Math.exp(-Math.abs(score)));
  const byCrew = report !== undefined && kind === 'refill';
  const untold = kind === 'rain' ? rainMm === null && around.hasWeather : record.doubtful && !byCrew;
  return {
    ...record,
    byCrew,
    untold,
    pouredLitres: report?.litres ?? null,
    event: { ...record.event, kind, confidence: Math.round(confidence * 1000) / 1000 },
  };
}

/** Judges the gains since `sinceMs` again: rain became known, a report came in, or a person corrected one. */
export function judgeAgain(state: EventState, around: EventSurroundings, sinceMs: EpochMs): EventStep {
  const changed: EventRecord[] = [];
  const records = state.records.map((record) => {
    if (record.event.startMs < sinceMs || record.shapeScore === null) return record;
    const judged = judge(record, state, around);
    if (JSON.stringify(judged) === JSON.stringify(record)) return record;
    changed.push(judged);
    return judged;
  });
  return { state: changed.length > 0 ? { ...state, records } : state, changed };
}
