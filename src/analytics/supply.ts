import type { PotContext } from '../domain/analysis.js';
import type { EpochMs } from '../domain/ids.js';
import { bookLitres, expectedRate } from './bookkeeping.js';
import { moistureNow, soilAnomalyLitres, soilDebtLitres } from './soil.js';
import { type PotState, strappingOf } from './state.js';

/** The water that stands between now and a dry reservoir, litres. */
export interface Supply {
  /** In the reservoir, dead storage included. */
  readonly litres: number;
  /** Above the wick foot; negative where the water stands below it. */
  readonly usableLitres: number;
  readonly usableSd: number;
  /** What a dried-out soil will take within hours. */
  readonly debtLitres: number;
  /** What the soil holds above what it settles at, which the plants use first. */
  readonly surplusLitres: number;
}

/** Sensor zero, drift and strapping: the level may be off by this much, however many readings there are. */
const STANDING_ERROR_MM = 1.5;
const DEBT_SD_SHARE = 0.25;

/** What there is at an instant; null before the first level. */
export function supplyAt(ctx: PotContext, state: PotState, nowMs: EpochMs): Supply | null {
  const book = bookLitres(ctx, state, nowMs);
  if (book === null) return null;
  const strapping = strappingOf(ctx);
  const usableLitres = book.value - strapping.deadLitres;
  const anomaly = soilAnomalyLitres(ctx, state.soil.reference, moistureNow(state.soil, nowMs));
  const wet = usableLitres > 0;
  const debtLitres = wet ? soilDebtLitres(ctx, state.soil, nowMs, expectedRate(ctx, state)) : 0;
  const surplusLitres = ctx.container.covered ? Math.max(0, anomaly ?? 0) : state.soil.bucketLitres;
  const standing = STANDING_ERROR_MM * strapping.areaLitresPerMm(strapping.levelAt(book.value));
  return {
    litres: book.value,
    usableLitres,
    usableSd: Math.hypot(book.sd, standing, DEBT_SD_SHARE * debtLitres, 0.4 * surplusLitres),
    debtLitres,
    surplusLitres,
  };
}
