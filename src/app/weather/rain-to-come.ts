import type { RainToCome } from '../../alerts/situation.js';
import type { EpochMs } from '../../domain/ids.js';
import { addDays, type LocalDays } from '../../domain/local-day.js';
import type { Container } from '../../domain/registry.js';
import type { WeatherDay } from '../../domain/weather.js';

/** Rain is counted on from this chance on, and no further ahead: beyond, forecasts of rain are little better than the season. */
const LIKELY = 0.7;
const AHEAD_DAYS = 3;
/** Of each day's rain the first millimetre wets leaves, and of the rest this share reaches the soil; guesses, no source. */
const WETS_LEAVES_MM = 1;
const REACHES_SOIL = 0.85;

/** The first likely rain of the coming days, for a pot that rain reaches. */
export function rainToCome(
  container: Container,
  outlook: readonly WeatherDay[],
  days: LocalDays,
  nowMs: EpochMs,
): RainToCome | null {
  const { soil } = container;
  if (container.covered || soil === null) return null;
  const lastDay = addDays(days.dayOf(nowMs), AHEAD_DAYS);
  const rainy = outlook.find(
    ({ day, rainMm, rainProbability }) =>
      day <= lastDay && (rainProbability ?? 0) >= LIKELY && rainMm !== null && rainMm > WETS_LEAVES_MM,
  );
  if (rainy === undefined || rainy.rainMm === null) return null;
  const litres = REACHES_SOIL * soil.surfaceM2 * (rainy.rainMm - WETS_LEAVES_MM);
  return { byMs: days.endMs(rainy.day), litres };
}
