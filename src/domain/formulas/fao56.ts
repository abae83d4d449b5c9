import { hargreavesMm, MM_PER_MJ_PER_M2, penmanMonteithDayMm, penmanMonteithHourMm } from './penman-monteith.js';
import {
  clearSkyMjPerM2,
  degreesToRadians,
  extraterrestrialMjPerM2,
  extraterrestrialPeriodMjPerM2,
  netLongwaveHourMjPerM2,
  netLongwaveMjPerM2,
  netShortwaveMjPerM2,
  solarFromTemperatureMjPerM2,
} from './radiation.js';
import {
  airPressureKPa,
  meanSaturationVapourPressureKPa,
  psychrometricKPaPerC,
  saturationVapourPressureKPa,
  vapourPressureFromMeanHumidityKPa,
  vapourPressureSlopeKPaPerC,
  windAt2mMPerS,
} from './vapour-pressure.js';

export { hargreavesMm, windAt2mMPerS };

/** What FAO-56 chapter 3 advises where no wind was measured: the mean of over 2000 stations. */
const DEFAULT_WIND_AT_2M_M_PER_S = 2;
/** FAO-56 limits u2 from below, since still air over a crop is unstable and never quite still. */
const LEAST_WIND_M_PER_S = 0.5;
/** kRs of equation 50. */
const RADIATION_ADJUSTMENT = { inland: 0.16, coastal: 0.19 } as const;
/**
 * Share of the energy above the atmosphere that a reference crop turns into vapour when nothing but the date and the
 * latitude is known. A judgement, no source: mid-latitude summer days lie between 0.25 and 0.45.
 */
const CLEAR_SKY_ONLY_SHARE = 0.35;

export type EstimatedInput = 'temperature' | 'humidity' | 'wind' | 'solar';

export interface Et0Inputs {
  readonly latitudeDeg: number;
  readonly elevationM: number;
  /** 1-366. */
  readonly dayOfYear: number;
  readonly tminC: number | null;
  readonly tmaxC: number | null;
  /** Mean relative humidity, 0-1. */
  readonly humidityFraction: number | null;
  /** At 2 m above ground. */
  readonly windMPerS: number | null;
  readonly solarMjPerM2: number | null;
  /** Near a large water body, where the day's range of temperature is damped; false where absent. */
  readonly coastal?: boolean;
}

export interface Et0Estimate {
  readonly et0Mm: number;
  /** What was not known and was estimated as FAO-56 chapter 3 says, in a fixed order. */
  readonly estimated: readonly EstimatedInput[];
}

/**
 * Reference evapotranspiration of one day, mm, never negative, from whatever is known of its weather.
 *
 * Missing solar radiation comes from the range of temperature (equation 50), missing humidity from taking the night's
 * minimum for the dew point (48), missing wind as 2 m/s (chapter 3). Without temperatures only the sun above the
 * atmosphere is known: a fixed share of it, good for its course through the year and no more.
 * Fails softly: humid, very dry or windy places with several estimates err by 20 % and more.
 */
export function estimateEt0Mm(inputs: Et0Inputs): Et0Estimate {
  const extraterrestrial = extraterrestrialMjPerM2(degreesToRadians(inputs.latitudeDeg), inputs.dayOfYear);
  if (inputs.tminC === null || inputs.tmaxC === null) {
    return {
      et0Mm: CLEAR_SKY_ONLY_SHARE * MM_PER_MJ_PER_M2 * extraterrestrial,
      estimated: ['temperature', 'humidity', 'wind', 'solar'],
    };
  }
  const tminC = Math.min(inputs.tminC, inputs.tmaxC);
  const tmaxC = Math.max(inputs.tminC, inputs.tmaxC);
  const estimated: EstimatedInput[] = [];
  if (inputs.humidityFraction === null) estimated.push('humidity');
  const actualKPa =
    inputs.humidityFraction === null
      ? saturationVapourPressureKPa(tminC)
      : vapourPressureFromMeanHumidityKPa(tminC, tmaxC, inputs.humidityFraction);
  if (inputs.windMPerS === null) estimated.push('wind');
  if (inputs.solarMjPerM2 === null) estimated.push('solar');
  const adjustment = inputs.coastal === true ? RADIATION_ADJUSTMENT.coastal : RADIATION_ADJUSTMENT.inland;
  const solar =
    inputs.solarMjPerM2 ?? solarFromTemperatureMjPerM2(tminC, tmaxC, extraterrestrial, inputs.elevationM, adjustment);
  return {
    et0Mm: penmanMonteithEt0Mm({
      tminC,
      tmaxC,
      actualKPa,
      windAt2mMPerS: inputs.windMPerS ?? DEFAULT_WIND_AT_2M_M_PER_S,
      solarMjPerM2: solar,
      extraterrestrialMjPerM2: extraterrestrial,
      elevationM: inputs.elevationM,
      soilHeatMjPerM2: 0,
    }),
    estimated,
  };
}

export interface DayInputs {
  readonly tminC: number;
  readonly tmaxC: number;
  readonly actualKPa: number;
  readonly windAt2mMPerS: number;
  readonly solarMjPerM2: number;
  readonly extraterrestrialMjPerM2: number;
  readonly elevationM: number;
  /** 0 for a day; equations 43 and 44 for a month. */
  readonly soilHeatMjPerM2: number;
}

/** FAO Penman-Monteith for a day or for the mean day of a month, mm/day, never negative. */
export function penmanMonteithEt0Mm(inputs: DayInputs): number {
  const clearSky = clearSkyMjPerM2(inputs.elevationM, inputs.extraterrestrialMjPerM2);
  // In the polar night there is no clear-sky radiation to compare with; a half-clear sky is as good a guess as any.
  const clearness = clearSky > 0 ? inputs.solarMjPerM2 / clearSky : 0.5;
  const netMj =
    netShortwaveMjPerM2(inputs.solarMjPerM2) -
    netLongwaveMjPerM2(inputs.tminC, inputs.tmaxC, inputs.actualKPa, clearness);
  const meanC = (inputs.tminC + inputs.tmaxC) / 2;
  return Math.max(
    0,
    penmanMonteithDayMm({
      temperatureC: meanC,
      availableEnergyMjPerM2: netMj - inputs.soilHeatMjPerM2,
      windAt2mMPerS: Math.max(LEAST_WIND_M_PER_S, inputs.windAt2mMPerS),
      saturationKPa: meanSaturationVapourPressureKPa(inputs.tminC, inputs.tmaxC),
      actualKPa: inputs.actualKPa,
      slopeKPaPerC: vapourPressureSlopeKPaPerC(meanC),
      psychrometricKPaPerC: psychrometricKPaPerC(airPressureKPa(inputs.elevationM)),
    }),
  );
}

export interface HourInputs {
  readonly latitudeDeg: number;
  /** East positive. */
  readonly longitudeDeg: number;
  readonly elevationM: number;
  readonly dayOfYear: number;
  /** Middle of the hour, UTC. */
  readonly midHourUtc: number;
  readonly temperatureC: number;
  readonly humidityFraction: number;
  readonly windAt2mMPerS: number;
  readonly solarMjPerM2: number;
}

/** What FAO-56 advises for the clearness of the night sky in humid and sub-humid climates; 0.7 in arid ones. */
const NIGHT_CLEARNESS = 0.8;

/** FAO Penman-Monteith for one hour [53], mm; slightly negative at night where dew forms. */
export function hourlyEt0Mm(inputs: HourInputs): number {
  const extraterrestrial = extraterrestrialPeriodMjPerM2(
    degreesToRadians(inputs.latitudeDeg),
    inputs.longitudeDeg,
    inputs.dayOfYear,
    inputs.midHourUtc,
    1,
  );
  const clearSky = clearSkyMjPerM2(inputs.elevationM, extraterrestrial);
  const saturation = saturationVapourPressureKPa(inputs.temperatureC);
  const actual = saturation * inputs.humidityFraction;
  const clearness = clearSky > 0 ? Math.min(1, inputs.solarMjPerM2 / clearSky) : NIGHT_CLEARNESS;
  const netMj =
    netShortwaveMjPerM2(inputs.solarMjPerM2) - netLongwaveHourMjPerM2(inputs.temperatureC, actual, clearness);
  // Soil heat flux under a dense grass [45, 46].
  const soilHeat = netMj * (extraterrestrial > 0 ? 0.1 : 0.5);
  return penmanMonteithHourMm({
    temperatureC: inputs.temperatureC,
    availableEnergyMjPerM2: netMj - soilHeat,
    windAt2mMPerS: inputs.windAt2mMPerS,
    saturationKPa: saturation,
    actualKPa: actual,
    slopeKPaPerC: vapourPressureSlopeKPaPerC(inputs.temperatureC),
    psychrometricKPaPerC: psychrometricKPaPerC(airPressureKPa(inputs.elevationM)),
  });
}

/** Hargreaves at a place and day, mm/day. */
export function hargreavesEt0Mm(latitudeDeg: number, dayOfYear: number, tminC: number, tmaxC: number): number {
  return hargreavesMm(tminC, tmaxC, extraterrestrialMjPerM2(degreesToRadians(latitudeDeg), dayOfYear));
}
