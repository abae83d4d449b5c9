import type { EpochMs } from '../../../domain/ids.js';
import { DAY_MS, HOUR_MS } from '../../../domain/local-day.js';
import type { PotEvent } from '../../../domain/pot.js';
import type { PotView } from '../../pot-view.js';
import { median } from '../../stats/order.js';

/** A sudden loss, as it is remembered: where the level came from and where it stopped. */
export interface Fall {
  readonly id: string;
  readonly startMs: EpochMs;
  readonly endMs: EpochMs;
  readonly toMm: number;
  readonly litres: number;
}

/** Falls that stop at one height, refill after refill. */
export interface RepeatedFalls {
  readonly heightMm: number;
  readonly falls: number;
  readonly firstMs: EpochMs;
  readonly lastMs: EpochMs;
  /** Mean loss while it ran, L/d. */
  readonly litresPerDay: number;
}

const KEPT_MS = 60 * DAY_MS;
const KEPT_FALLS = 8;
/** Without another fall for so long the hole was mended, or nobody filled above it. */
const SILENT_MS = 21 * DAY_MS;
/** A hole empties what was filled in at once; somebody who takes water comes at any time. */
const AFTER_REFILL_MS = 36 * HOUR_MS;
const SAME_HEIGHT_MM = 5;
const LEAST_FALLS = 2;
/** Of what the soil lacks, a loss under this share of it may have gone there. */
const SOIL_SHARE = 1.5;
const SHORTEST_MS = HOUR_MS / 4;

/**
 * Takes an event, also one that is judged anew. A loss right after a refill counts, unless it is no more than what a dry
 * soil takes back by its moisture sensor.
 */
export function fallOnEvent(view: PotView, falls: readonly Fall[], event: PotEvent): readonly Fall[] {
  const known = falls.some((fall) => fall.id === event.id);
  if (event.kind !== 'sudden_loss') return known ? falls.filter((fall) => fall.id !== event.id) : falls;
  const refilled = view.recentEvents.some(
    (other) => other.kind === 'refill' && other.endMs <= event.startMs && other.endMs > event.startMs - AFTER_REFILL_MS,
  );
  if (!refilled || event.litres < SOIL_SHARE * view.debtLitres) return falls;
  const fall: Fall = {
    id: event.id,
    startMs: event.startMs,
    endMs: event.endMs,
    toMm: event.endLevelMm,
    litres: event.litres,
  };
  const kept = falls.filter((one) => one.id !== event.id && one.endMs > event.endMs - KEPT_MS);
  return [...kept, fall].sort((a, b) => a.endMs - b.endMs).slice(-KEPT_FALLS);
}

/**
 * Two or more falls of the last two months that stopped within 5 mm of one another: a hole at that height that empties
 * the part above it faster than the blocks of the regression can follow. Null where there are none.
 */
export function repeatedFalls(falls: readonly Fall[], nowMs: EpochMs): RepeatedFalls | null {
  const last = falls[falls.length - 1];
  if (last === undefined || last.endMs < nowMs - SILENT_MS) return null;
  const same = falls.filter((fall) => Math.abs(fall.toMm - last.toMm) <= SAME_HEIGHT_MM);
  if (same.length < LEAST_FALLS) return null;
  const rates = same.map((fall) => (fall.litres * DAY_MS) / Math.max(SHORTEST_MS, fall.endMs - fall.startMs));
  return {
    heightMm: median(same.map((fall) => fall.toMm)) ?? last.toMm,
    falls: same.length,
    firstMs: same[0]!.startMs,
    lastMs: last.endMs,
    litresPerDay: median(rates) ?? 0,
  };
}
