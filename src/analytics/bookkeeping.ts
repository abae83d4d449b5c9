import type { PotContext } from '../domain/analysis.js';
import type { EpochMs } from '../domain/ids.js';
import { HOUR_MS } from '../domain/local-day.js';
import { calendarOf } from './marks.js';
import { type Estimate, estimateLitres } from './recent.js';
import { type PotState, strappingOf } from './state.js';
import { temperatureCorrection } from './temperature-correction.js';
import { dayEquivalents } from './use-profile.js';
import { driverOf } from './weather-memory.js';

const WINDOW_MS = 6 * HOUR_MS;
/** While a dry soil drinks, only the last readings speak of now. */
const REWETTING_WINDOW_MS = 1.2 * HOUR_MS;

/** The first half day after a refill from dry; 36 h are counted in all. */
const DRINKING_LEFT_MS = 24 * HOUR_MS;

/** Litres a day that the planting is expected to draw around the state's instant. */
export function expectedRate(ctx: PotContext, state: PotState): number {
  const dayNumber = calendarOf(ctx).at(state.atMs).number;
  return Math.exp(state.demand.kappa) * driverOf(ctx, state.weather, dayNumber).et0Mm;
}

/** Litres expected to be drawn between two instants near the state's. */
export function usedBetween(ctx: PotContext, state: PotState, fromMs: EpochMs, toMs: EpochMs): number {
  const rate = expectedRate(ctx, state);
  return rate * dayEquivalents(state.cumulatedUse, ctx.site.longitude, fromMs, toMs);
}

/**
 * Litres in the reservoir at an instant at or after the last reading. From the readings of the six hours before it
 * where there are any; otherwise the last level less the use expected since, which stops at the wick foot, with an
 * uncertainty that grows with the silence. Null before the first level.
 */
export function bookLitres(ctx: PotContext, state: PotState, atMs: EpochMs): Estimate | null {
  const { levelMm, levelMs, noiseMm } = state.cleaning;
  if (levelMm === null) return null;
  const strapping = strappingOf(ctx);
  const rate = expectedRate(ctx, state);
  const cumulated = state.cumulatedUse;
  const used = (fromMs: EpochMs, toMs: EpochMs): number =>
    rate * dayEquivalents(cumulated, ctx.site.longitude, fromMs, toMs);
  const drinking = state.soil.rewettingUntilMs > atMs && state.soil.rewettingUntilMs - atMs > DRINKING_LEFT_MS;
  const windowMs = drinking ? Math.max(REWETTING_WINDOW_MS, 2.2e3 * (state.cleaning.intervalS ?? 0)) : WINDOW_MS;
  const fromMs = Math.max(atMs - windowMs, state.events.lastJumpMs);
  const wet = strapping.litresAt(levelMm) > strapping.deadLitres;
  const correction = temperatureCorrection(state.temperature);
  const measured = estimateLitres(state.recent, strapping, atMs, fromMs, noiseMm, wet ? used : () => 0, correction);
  if (measured !== null) return { ...measured, value: Math.max(0, measured.value) };
  const last = Math.max(0, strapping.litresAt(levelMm));
  const drawn = used(levelMs, atMs);
  const value = Math.max(last - drawn, Math.min(last, strapping.deadLitres));
  const sd = Math.hypot(strapping.areaLitresPerMm(levelMm) * 2, 0.4 * (last - value));
  return { value, sd, count: 0 };
}
