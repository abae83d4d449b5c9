/** Reference evapotranspiration by FAO Penman-Monteith (Allen et al. 1998, FAO-56, equations 3, 6, 20, 52, 53). */

/** Water evaporated by one MJ of latent heat, mm per MJ m-2 [20]. */
export const MM_PER_MJ_PER_M2 = 0.408;

export interface PenmanMonteithInputs {
  readonly temperatureC: number;
  /** Net radiation less soil heat flux, MJ m-2 of the period. */
  readonly availableEnergyMjPerM2: number;
  readonly windAt2mMPerS: number;
  readonly saturationKPa: number;
  readonly actualKPa: number;
  readonly slopeKPaPerC: number;
  readonly psychrometricKPaPerC: number;
}

function penmanMonteithMm(inputs: PenmanMonteithInputs, numerator: number, denominator: number): number {
  const { slopeKPaPerC: slope, psychrometricKPaPerC: gamma, windAt2mMPerS: wind } = inputs;
  const radiation = MM_PER_MJ_PER_M2 * slope * inputs.availableEnergyMjPerM2;
  const drying = (gamma * numerator * wind * (inputs.saturationKPa - inputs.actualKPa)) / (inputs.temperatureC + 273);
  return (radiation + drying) / (slope + gamma * (1 + denominator * wind));
}

/** mm per day, from a day's or a month's means [6]. */
export function penmanMonteithDayMm(inputs: PenmanMonteithInputs): number {
  return penmanMonteithMm(inputs, 900, 0.34);
}

/** mm per hour [53]. */
export function penmanMonteithHourMm(inputs: PenmanMonteithInputs): number {
  return penmanMonteithMm(inputs, 37, 0.34);
}

/**
 * Hargreaves' equation, mm per day [52]; reads high in humid and low in windy climates.
 * @param extraterrestrialMjPerM2 radiation above the atmosphere, MJ m-2 day-1
 */
export function hargreavesMm(tminC: number, tmaxC: number, extraterrestrialMjPerM2: number): number {
  const meanC = (tminC + tmaxC) / 2;
  const rangeC = Math.max(0, tmaxC - tminC);
  const energyMm = MM_PER_MJ_PER_M2 * extraterrestrialMjPerM2;
  return Math.max(0, 0.0023 * (meanC + 17.8) * Math.sqrt(rangeC) * energyMm);
}
