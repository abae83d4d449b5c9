/**
 * Density of air-free water at 101.325 kPa, kg/m³, 0-40 °C: Tanaka, Girard, Davis, Peuto and Bignell 2001,
 * Metrologia 38:301-309, equation 1. Standard uncertainty below 0.001 kg/m³ in that range.
 */
export function waterDensityKgPerM3(temperatureC: number): number {
  const numerator = (temperatureC - 3.983035) ** 2 * (temperatureC + 301.797);
  const denominator = 522528.9 * (temperatureC + 69.34881);
  return 999.97495 * (1 - numerator / denominator);
}

/** Litres by which a quantity of water grows when it warms. */
export function thermalExpansionLitres(litres: number, fromC: number, toC: number): number {
  return litres * (waterDensityKgPerM3(fromC) / waterDensityKgPerM3(toC) - 1);
}
