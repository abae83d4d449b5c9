import {
  clearSkyMjPerM2,
  degreesToRadians,
  extraterrestrialPeriodMjPerM2,
  inverseSunDistance,
  sineOfSunElevation,
  solarDeclinationRad,
  solarTimeAngleRad,
  sunsetHourAngleRad,
} from './radiation.js';
import {
  airPressureKPa,
  meanSaturationVapourPressureKPa,
  psychrometricKPaPerC,
  saturationVapourPressureKPa,
} from './vapour-pressure.js';

/**
 * The ASCE-EWRI standardised reference evapotranspiration equation (Task Committee on Standardization of Reference
 * Evapotranspiration, ASCE, 2005) for a short (grass) or tall (alfalfa) reference. It differs from FAO-56 in the
 * Stefan-Boltzmann constant, the slope's constant, the solar constant's rounding and the limits of cloudiness.
 */
export type ReferenceCrop = 'short' | 'tall';

const DAILY = { short: { numerator: 900, denominator: 0.34 }, tall: { numerator: 1600, denominator: 0.38 } } as const;
const HOURLY = {
  short: { numerator: 37, day: { denominator: 0.24, soilHeat: 0.1 }, night: { denominator: 0.96, soilHeat: 0.5 } },
  tall: { numerator: 66, day: { denominator: 0.25, soilHeat: 0.04 }, night: { denominator: 1.7, soilHeat: 0.2 } },
} as const;
const STEFAN_BOLTZMANN_DAY = 4.901e-9;
const STEFAN_BOLTZMANN_HOUR = 2.042e-10;
/** MJ m-2 hour-1. */
const SOLAR_CONSTANT_HOUR = 4.92;

export function asceSlopeKPaPerC(temperatureC: number): number {
  return (2503 * Math.exp((17.27 * temperatureC) / (temperatureC + 237.3))) / (temperatureC + 237.3) ** 2;
}

/** Radiation above the atmosphere, MJ m-2 day-1. */
export function asceExtraterrestrialMjPerM2(latitudeDeg: number, dayOfYear: number): number {
  const latitude = degreesToRadians(latitudeDeg);
  const declination = solarDeclinationRad(dayOfYear);
  const sunset = sunsetHourAngleRad(latitude, declination);
  return (
    (24 / Math.PI) *
    SOLAR_CONSTANT_HOUR *
    inverseSunDistance(dayOfYear) *
    (sunset * Math.sin(latitude) * Math.sin(declination) +
      Math.cos(latitude) * Math.cos(declination) * Math.sin(sunset))
  );
}

function cloudiness(clearness: number): number {
  return 1.35 * Math.min(1, Math.max(0.3, clearness)) - 0.35;
}

export interface AsceDayInputs {
  readonly latitudeDeg: number;
  readonly elevationM: number;
  readonly dayOfYear: number;
  readonly tminC: number;
  readonly tmaxC: number;
  readonly actualKPa: number;
  readonly windAt2mMPerS: number;
  readonly solarMjPerM2: number;
}

/** Net radiation of a day, MJ m-2. */
export function asceNetRadiationMjPerM2(inputs: AsceDayInputs): number {
  const clearSky = clearSkyMjPerM2(
    inputs.elevationM,
    asceExtraterrestrialMjPerM2(inputs.latitudeDeg, inputs.dayOfYear),
  );
  const emitted = ((inputs.tmaxC + 273.16) ** 4 + (inputs.tminC + 273.16) ** 4) / 2;
  const outgoing =
    STEFAN_BOLTZMANN_DAY *
    cloudiness(inputs.solarMjPerM2 / clearSky) *
    (0.34 - 0.14 * Math.sqrt(inputs.actualKPa)) *
    emitted;
  return 0.77 * inputs.solarMjPerM2 - outgoing;
}

/** mm/day. */
export function asceDayMm(inputs: AsceDayInputs, crop: ReferenceCrop): number {
  const { numerator, denominator } = DAILY[crop];
  const meanC = (inputs.tminC + inputs.tmaxC) / 2;
  const slope = asceSlopeKPaPerC(meanC);
  const gamma = psychrometricKPaPerC(airPressureKPa(inputs.elevationM));
  const deficit = meanSaturationVapourPressureKPa(inputs.tminC, inputs.tmaxC) - inputs.actualKPa;
  return (
    (0.408 * slope * asceNetRadiationMjPerM2(inputs) +
      (gamma * numerator * inputs.windAt2mMPerS * deficit) / (meanC + 273)) /
    (slope + gamma * (1 + denominator * inputs.windAt2mMPerS))
  );
}

export interface AsceHourInputs {
  readonly latitudeDeg: number;
  /** East positive. */
  readonly longitudeDeg: number;
  readonly elevationM: number;
  readonly dayOfYear: number;
  readonly midHourUtc: number;
  readonly temperatureC: number;
  readonly actualKPa: number;
  readonly windAt2mMPerS: number;
  readonly solarMjPerM2: number;
}

/** mm/hour; hours with the sun below 0.3 rad take a fixed cloudiness, which the standard carries over from the day. */
export function asceHourMm(inputs: AsceHourInputs, crop: ReferenceCrop): number {
  const latitude = degreesToRadians(inputs.latitudeDeg);
  const extraterrestrial =
    extraterrestrialPeriodMjPerM2(latitude, inputs.longitudeDeg, inputs.dayOfYear, inputs.midHourUtc, 1) *
    (SOLAR_CONSTANT_HOUR / (60 * 0.082));
  const clearSky = clearSkyMjPerM2(inputs.elevationM, extraterrestrial);
  const angle = solarTimeAngleRad(inputs.midHourUtc, inputs.longitudeDeg, inputs.dayOfYear);
  const elevationRad = Math.asin(sineOfSunElevation(latitude, inputs.dayOfYear, angle));
  const factor = elevationRad >= 0.3 ? cloudiness(inputs.solarMjPerM2 / clearSky) : 1;
  const outgoing =
    STEFAN_BOLTZMANN_HOUR * factor * (0.34 - 0.14 * Math.sqrt(inputs.actualKPa)) * (inputs.temperatureC + 273.16) ** 4;
  const net = 0.77 * inputs.solarMjPerM2 - outgoing;
  const reference = HOURLY[crop];
  const { denominator, soilHeat } = net > 0 ? reference.day : reference.night;
  const slope = asceSlopeKPaPerC(inputs.temperatureC);
  const gamma = psychrometricKPaPerC(airPressureKPa(inputs.elevationM));
  const deficit = saturationVapourPressureKPa(inputs.temperatureC) - inputs.actualKPa;
  return (
    (0.408 * slope * net * (1 - soilHeat) +
      (gamma * reference.numerator * inputs.windAt2mMPerS * deficit) / (inputs.temperatureC + 273)) /
    (slope + gamma * (1 + denominator * inputs.windAt2mMPerS))
  );
}
