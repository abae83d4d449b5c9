import type { PotEvent } from '../domain/pot.js';
import type { EventRecord, EventSurroundings, Spill } from './event-records.js';

/** The port runs, or is about to, this close to the invert. */
export const INVERT_MARGIN_MM = 2;
/** How surely the port ran when rain lifted the level to within so many mm of the invert; from simulated fleets. */
const RAN = [
  { belowMm: 1.5, confidence: 0.8 },
  { belowMm: INVERT_MARGIN_MM, confidence: 0.4 },
] as const;
/** A crew's word on what it poured errs by about so much, and so does the volume from the levels. */
const REPORT_ERROR = 0.08;
const REPORTED_CONFIDENCE = 0.9;
/** Of the rain on the soil so much comes through once it is wet, on simulated fleets; the first millimetres stay in it. */
const THROUGH = 0.5;
const KEPT_MM = 3;
/** The port may have let out any part of what came through and did not stay; half of it is a cautious "at least". */
const AT_LEAST = 0.5;
const LEAST_LITRES = 0.05;

/**
 * What went out by the port, at least. A pour leaves no trace of it but the crew's word, since the port clears within a
 * reading; rain that lifts the level to the invert ran on, and what came through the soil beyond what stayed went out.
 */
export function spillOf(record: EventRecord, around: EventSurroundings, rainMm: number | null): Spill | null {
  const { event, byCrew, pouredLitres } = record;
  if (!event.atLeast) return null;
  if (event.kind === 'refill') {
    if (!byCrew || pouredLitres === null) return null;
    const litres = pouredLitres - event.litres;
    return litres > REPORT_ERROR * pouredLitres ? { litres: shorten(litres), confidence: REPORTED_CONFIDENCE } : null;
  }
  const { soil, reservoir } = around.ctx.container;
  const belowMm = reservoir.overflowMm - event.endLevelMm;
  const ran = RAN.find((step) => belowMm <= step.belowMm);
  if (ran === undefined || event.kind !== 'rain' || rainMm === null || soil === null) return null;
  const through = THROUGH * soil.surfaceM2 * Math.max(0, rainMm - KEPT_MM);
  const litres = AT_LEAST * Math.max(0, through - event.litres);
  return litres < LEAST_LITRES ? null : { litres: shorten(litres), confidence: ran.confidence };
}

/**
 * The event that tells of it; null where nothing is known to have gone out. What the crew poured less what stayed is an
 * estimate; what rain let out is known from below only.
 */
export function overflowEvent({ event, spill, untold }: EventRecord): PotEvent | null {
  if (spill === null || untold) return null;
  return { ...event, ...spill, id: overflowId(event), kind: 'overflow', atLeast: event.kind !== 'refill' };
}

export function overflowId(gain: PotEvent): string {
  return gain.id.replace(/\.[a-z]+\.(\d+)$/, '.overflow.$1');
}

function shorten(litres: number): number {
  return Math.round(litres * 1000) / 1000;
}
