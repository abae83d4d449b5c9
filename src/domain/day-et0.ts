import { type EstimatedInput, estimateEt0Mm } from './formulas/fao56.js';
import { dayOfYear } from './local-day.js';
import type { Site } from './registry.js';
import type { WeatherDay } from './weather.js';

/** Reference evapotranspiration of one day of weather, and what of it rests on estimates. */
export interface DayEt0 {
  readonly et0Mm: number;
  /** Inputs that were not known and were estimated as FAO-56 chapter 3 says; empty where ET0 came with the day. */
  readonly estimated: readonly EstimatedInput[];
}

/** ET0 as it came with the day, or by FAO Penman-Monteith; null where not even temperatures are known. */
export function et0OfDay(site: Pick<Site, 'latitude' | 'elevationM'>, day: WeatherDay): DayEt0 | null {
  if (day.et0Mm !== null) return { et0Mm: day.et0Mm, estimated: [] };
  const { tminC, tmaxC, humidityFraction, windMPerS, solarMjPerM2 } = day;
  if (tminC === null || tmaxC === null) return null;
  return estimateEt0Mm({
    latitudeDeg: site.latitude,
    elevationM: site.elevationM,
    dayOfYear: dayOfYear(day.day),
    tminC,
    tmaxC,
    humidityFraction,
    windMPerS,
    solarMjPerM2,
  });
}
