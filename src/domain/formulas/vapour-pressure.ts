/**
 * Air pressure and humidity as FAO-56 states them (Allen, Pereira, Raes, Smith: Crop evapotranspiration, FAO
 * Irrigation and Drainage Paper 56, Rome 1998, chapter 3; equation numbers in brackets).
 */

/** Mean air pressure at an elevation, kPa [7]. */
export function airPressureKPa(elevationM: number): number {
  return 101.3 * ((293 - 0.0065 * elevationM) / 293) ** 5.26;
}

/** Psychrometric constant, kPa/°C [8]. */
export function psychrometricKPaPerC(pressureKPa: number): number {
  return 0.665e-3 * pressureKPa;
}

/** Saturation vapour pressure at an air temperature, kPa [11]. */
export function saturationVapourPressureKPa(temperatureC: number): number {
  return 0.6108 * Math.exp((17.27 * temperatureC) / (temperatureC + 237.3));
}

/** Mean saturation vapour pressure of a day, kPa [12]. */
export function meanSaturationVapourPressureKPa(tminC: number, tmaxC: number): number {
  return (saturationVapourPressureKPa(tminC) + saturationVapourPressureKPa(tmaxC)) / 2;
}

/** Slope of the saturation vapour pressure curve, kPa/°C [13]. */
export function vapourPressureSlopeKPaPerC(temperatureC: number): number {
  return (4098 * saturationVapourPressureKPa(temperatureC)) / (temperatureC + 237.3) ** 2;
}

/**
 * Actual vapour pressure from dry and wet bulb, kPa [15].
 * @param instrumentPerC 0.000662 for ventilated, 0.0008 for naturally ventilated, 0.0012 for indoor psychrometers
 */
export function vapourPressureFromWetBulbKPa(
  dryC: number,
  wetC: number,
  pressureKPa: number,
  instrumentPerC: number,
): number {
  return saturationVapourPressureKPa(wetC) - instrumentPerC * pressureKPa * (dryC - wetC);
}

/** Actual vapour pressure from the day's greatest and least relative humidity (0-1), kPa [17]. */
export function vapourPressureFromHumidityRangeKPa(
  tminC: number,
  tmaxC: number,
  humidityMaxFraction: number,
  humidityMinFraction: number,
): number {
  return (
    (saturationVapourPressureKPa(tminC) * humidityMaxFraction +
      saturationVapourPressureKPa(tmaxC) * humidityMinFraction) /
    2
  );
}

/** Actual vapour pressure from the day's mean relative humidity (0-1), kPa [19]. */
export function vapourPressureFromMeanHumidityKPa(tminC: number, tmaxC: number, humidityFraction: number): number {
  return humidityFraction * meanSaturationVapourPressureKPa(tminC, tmaxC);
}

/** Wind speed 2 m above ground from a measurement at another height, m/s [47]. */
export function windAt2mMPerS(windMPerS: number, heightM: number): number {
  return (windMPerS * 4.87) / Math.log(67.8 * heightM - 5.42);
}
