/**
 * Radiation as FAO-56 states it (Allen et al. 1998, chapter 3; equation numbers in brackets). Daily sums in
 * MJ m-2 day-1, hourly sums in MJ m-2 hour-1; latitude in radians, south negative.
 */

const SOLAR_CONSTANT_MJ_PER_M2_MIN = 0.082;
const STEFAN_BOLTZMANN_MJ_PER_K4_M2_DAY = 4.903e-9;
/** Albedo of the reference grass. */
const ALBEDO = 0.23;
/** FAO-56 writes temperatures of radiation in kelvin with 273.16, of air in the wind term with 273. */
const KELVIN = 273.16;

/** [22] */
export function degreesToRadians(degrees: number): number {
  return (degrees * Math.PI) / 180;
}

/** Inverse relative distance Earth-Sun [23]. */
export function inverseSunDistance(dayOfYear: number): number {
  return 1 + 0.033 * Math.cos(((2 * Math.PI) / 365) * dayOfYear);
}

/** Solar declination, radians [24]. */
export function solarDeclinationRad(dayOfYear: number): number {
  return 0.409 * Math.sin(((2 * Math.PI) / 365) * dayOfYear - 1.39);
}

/** Sunset hour angle, radians [25]; 0 through the polar night, pi through the polar day. */
export function sunsetHourAngleRad(latitudeRad: number, declinationRad: number): number {
  const cosine = -Math.tan(latitudeRad) * Math.tan(declinationRad);
  return Math.acos(Math.min(1, Math.max(-1, cosine)));
}

/** Radiation above the atmosphere on one day [21]. */
export function extraterrestrialMjPerM2(latitudeRad: number, dayOfYear: number): number {
  const declination = solarDeclinationRad(dayOfYear);
  const sunset = sunsetHourAngleRad(latitudeRad, declination);
  return (
    ((24 * 60) / Math.PI) *
    SOLAR_CONSTANT_MJ_PER_M2_MIN *
    inverseSunDistance(dayOfYear) *
    (sunset * Math.sin(latitudeRad) * Math.sin(declination) +
      Math.cos(latitudeRad) * Math.cos(declination) * Math.sin(sunset))
  );
}

/** Seasonal correction of solar time, hours [32, 33]. */
export function seasonalTimeCorrectionHours(dayOfYear: number): number {
  const b = (2 * Math.PI * (dayOfYear - 81)) / 364;
  return 0.1645 * Math.sin(2 * b) - 0.1255 * Math.cos(b) - 0.025 * Math.sin(b);
}

/**
 * Solar time angle at an instant, radians from solar noon [31].
 * @param hourUtc the instant, hours UTC
 * @param longitudeDeg east positive
 */
export function solarTimeAngleRad(hourUtc: number, longitudeDeg: number, dayOfYear: number): number {
  const solarHour = hourUtc + longitudeDeg / 15 + seasonalTimeCorrectionHours(dayOfYear);
  return (Math.PI / 12) * (solarHour - 12);
}

/**
 * Radiation above the atmosphere between two instants [28-30]; 0 while the sun is down.
 * @param midHourUtc the middle of the period, hours UTC
 * @param longitudeDeg east positive
 */
export function extraterrestrialPeriodMjPerM2(
  latitudeRad: number,
  longitudeDeg: number,
  dayOfYear: number,
  midHourUtc: number,
  periodHours: number,
): number {
  const declination = solarDeclinationRad(dayOfYear);
  const sunset = sunsetHourAngleRad(latitudeRad, declination);
  // Keeps the angle in [-pi, pi): near the date line the UTC hour and the solar hour lie on different days.
  const turn = 2 * Math.PI;
  const raw = solarTimeAngleRad(midHourUtc, longitudeDeg, dayOfYear);
  const middle = raw - turn * Math.floor((raw + Math.PI) / turn);
  const half = (Math.PI * periodHours) / 24;
  const from = Math.min(sunset, Math.max(-sunset, middle - half));
  const to = Math.min(sunset, Math.max(-sunset, middle + half));
  if (to <= from) return 0;
  return (
    ((12 * 60) / Math.PI) *
    SOLAR_CONSTANT_MJ_PER_M2_MIN *
    inverseSunDistance(dayOfYear) *
    ((to - from) * Math.sin(latitudeRad) * Math.sin(declination) +
      Math.cos(latitudeRad) * Math.cos(declination) * (Math.sin(to) - Math.sin(from)))
  );
}

/** Sine of the sun's elevation; negative at night. */
export function sineOfSunElevation(latitudeRad: number, dayOfYear: number, timeAngleRad: number): number {
  const declination = solarDeclinationRad(dayOfYear);
  return (
    Math.sin(latitudeRad) * Math.sin(declination) +
    Math.cos(latitudeRad) * Math.cos(declination) * Math.cos(timeAngleRad)
  );
}

/** Greatest possible hours of sunshine [34]. */
export function daylightHours(latitudeRad: number, dayOfYear: number): number {
  return (24 / Math.PI) * sunsetHourAngleRad(latitudeRad, solarDeclinationRad(dayOfYear));
}

/** Solar radiation from hours of sunshine, Angstrom with a = 0.25 and b = 0.5 [35]. */
export function solarFromSunshineMjPerM2(
  sunshineHours: number,
  daylightHoursOfDay: number,
  extraterrestrial: number,
): number {
  return (0.25 + (0.5 * sunshineHours) / daylightHoursOfDay) * extraterrestrial;
}

/** Solar radiation under a clear sky [37]. */
export function clearSkyMjPerM2(elevationM: number, extraterrestrial: number): number {
  return (0.75 + 2e-5 * elevationM) * extraterrestrial;
}

/** Net short-wave radiation of the reference grass [38]. */
export function netShortwaveMjPerM2(solar: number): number {
  return (1 - ALBEDO) * solar;
}

/** Net outgoing long-wave radiation of a day [39]; `clearness` is solar over clear-sky radiation, at most 1. */
export function netLongwaveMjPerM2(tminC: number, tmaxC: number, vapourPressureKPa: number, clearness: number): number {
  const emitted = ((tmaxC + KELVIN) ** 4 + (tminC + KELVIN) ** 4) / 2;
  return (
    STEFAN_BOLTZMANN_MJ_PER_K4_M2_DAY *
    emitted *
    (0.34 - 0.14 * Math.sqrt(vapourPressureKPa)) *
    (1.35 * Math.min(1, clearness) - 0.35)
  );
}

/** Net outgoing long-wave radiation of an hour [39, with the hourly constant]. */
export function netLongwaveHourMjPerM2(temperatureC: number, vapourPressureKPa: number, clearness: number): number {
  return netLongwaveMjPerM2(temperatureC, temperatureC, vapourPressureKPa, clearness) / 24;
}

/**
 * Solar radiation from the day's range of temperature [50], never above the clear sky's.
 * @param adjustment kRs: 0.16 inland, 0.19 on the coast
 */
export function solarFromTemperatureMjPerM2(
  tminC: number,
  tmaxC: number,
  extraterrestrial: number,
  elevationM: number,
  adjustment: number,
): number {
  const estimate = adjustment * Math.sqrt(Math.max(0, tmaxC - tminC)) * extraterrestrial;
  return Math.min(estimate, clearSkyMjPerM2(elevationM, extraterrestrial));
}

/** Soil heat flux of a month from the months around it, MJ m-2 day-1 [43]. */
export function monthlySoilHeatMjPerM2(previousMonthC: number, nextMonthC: number): number {
  return 0.07 * (nextMonthC - previousMonthC);
}

/** Soil heat flux of a month where the next one is not known yet [44]. */
export function monthlySoilHeatFromPreviousMjPerM2(previousMonthC: number, monthC: number): number {
  return 0.14 * (monthC - previousMonthC);
}
