import { MM_PER_MJ_PER_M2 } from './penman-monteith.js';

/**
 * Simpler estimates of evaporation, as collected by McMahon, Peel, Lowe, Srikanthan and McVicar 2013 (Hydrology and
 * Earth System Sciences 17:1331-1363, supplements S9 and S19).
 */

/** Priestley and Taylor 1972, mm/day, with their constant 1.26; soil heat flux taken as 0. */
export function priestleyTaylorMm(netMjPerM2: number, slopeKPaPerC: number, psychrometricKPaPerC: number): number {
  return ((1.26 * slopeKPaPerC) / (slopeKPaPerC + psychrometricKPaPerC)) * MM_PER_MJ_PER_M2 * netMjPerM2;
}

/** Turc 1961, mm/day; dry air (relative humidity under 0.5) evaporates more. */
export function turcMm(meanC: number, solarMjPerM2: number, humidityFraction: number): number {
  const dryness = humidityFraction < 0.5 ? 1 + (50 - 100 * humidityFraction) / 70 : 1;
  return (0.013 * (23.88 * solarMjPerM2 + 50) * meanC * dryness) / (meanC + 15);
}

/**
 * Hargreaves and Samani with the coefficient that varies with the day's range of temperature (Samani 2000, as McMahon
 * et al. give it), mm/day; agrees with the plain form at a range of about 14 °C.
 */
export function hargreavesSamaniMm(tminC: number, tmaxC: number, extraterrestrialMjPerM2: number): number {
  const range = Math.max(0, tmaxC - tminC);
  const coefficient = 0.00185 * range ** 2 - 0.0433 * range + 0.4023;
  const energyMm = MM_PER_MJ_PER_M2 * extraterrestrialMjPerM2;
  return 0.0135 * coefficient * energyMm * Math.sqrt(range) * ((tminC + tmaxC) / 2 + 17.8);
}
