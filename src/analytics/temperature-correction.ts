import type { TemperatureCoefficient } from './temperature-coefficient.js';

/** What a level reads too high for each kelvin above {@link REFERENCE_C}; null in the place of it: leave levels alone. */
export interface TemperatureCorrection {
  readonly mmPerK: number;
}

/** Levels are stated as the sensor reads them at this temperature; common practice for zero and span, no source. */
export const REFERENCE_C = 20;
/** A coefficient that is known less well would do more harm than good. */
const KNOWN_SD_MM_PER_K = 0.08;
/** One that cannot be told from none is left out. */
const TOLD_FROM_NONE_SDS = 3;

/** The correction that a coefficient allows; null while it is not known well, or may be none. */
export function temperatureCorrection(coefficient: TemperatureCoefficient | null): TemperatureCorrection | null {
  if (coefficient === null || coefficient.sdMmPerK >= KNOWN_SD_MM_PER_K) return null;
  if (Math.abs(coefficient.mmPerK) < TOLD_FROM_NONE_SDS * coefficient.sdMmPerK) return null;
  return { mmPerK: coefficient.mmPerK };
}

/** A level as it would read at the reference temperature, mm; as it is where the temperature is not known. */
export function atReferenceMm(
  levelMm: number,
  temperatureC: number | null,
  correction: TemperatureCorrection | null,
): number {
  if (correction === null || temperatureC === null) return levelMm;
  return levelMm - correction.mmPerK * (temperatureC - REFERENCE_C);
}
