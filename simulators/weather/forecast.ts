import { degreesToRadians, extraterrestrialMjPerM2 } from '../../src/domain/formulas/radiation.js';
import { saturationVapourPressureKPa, windAt2mMPerS } from '../../src/domain/formulas/vapour-pressure.js';
import { type Calendar, monthly } from '../calendar.js';
import { Draw } from '../rng.js';
import type { ClimateNormals } from './climates.js';
import type { DayOfWeather } from './daily.js';

export interface ForecastDay extends DayOfWeather {
  readonly dayIndex: number;
  readonly rainProbability: number;
}

/** Correlation of forecast and truth anomalies by lead in days. Judgement; daily ET0 forecasts of services come near. */
const TEMPERATURE_SKILL = [0.97, 0.95, 0.92, 0.88, 0.82, 0.75, 0.66, 0.57, 0.48, 0.4];
const CLOUD_SKILL = [0.88, 0.83, 0.77, 0.7, 0.62, 0.54, 0.45, 0.37, 0.3, 0.24];
const WIND_SKILL = [0.85, 0.8, 0.74, 0.66, 0.58, 0.5, 0.42, 0.34, 0.28, 0.22];
const RAIN_SKILL = [0.85, 0.78, 0.7, 0.6, 0.5, 0.42, 0.34, 0.26, 0.19, 0.13];
export const FORECAST_DAYS = TEMPERATURE_SKILL.length;

/**
 * One forecast as issued in the morning of a local day, for that day and the nine after it. Anomalies from the normals
 * shrink and scatter with the lead; errors of neighbouring leads hang together (AR(1), 0.5).
 * `rainMm` is the expected fall: the probability times what would fall if it rains.
 */
export function issueForecast(
  truth: readonly DayOfWeather[],
  climate: ClimateNormals,
  calendar: Calendar,
  seed: string,
  dayIndex: number,
): ForecastDay[] {
  const draw = new Draw(seed, 'forecast', climate.id, dayIndex);
  const errors = {
    temp: draw.normal(),
    range: draw.normal(),
    cloud: draw.normal(),
    wind: draw.normal(),
    rain: draw.normal(),
  };
  const chain = (value: number): number => 0.5 * value + Math.sqrt(0.75) * draw.normal();
  const days: ForecastDay[] = [];
  for (let lead = 0; lead < FORECAST_DAYS && dayIndex + lead < truth.length; lead++) {
    if (lead > 0) {
      errors.temp = chain(errors.temp);
      errors.range = chain(errors.range);
      errors.cloud = chain(errors.cloud);
      errors.wind = chain(errors.wind);
      errors.rain = chain(errors.rain);
    }
    const d = dayIndex + lead;
    const day = truth[d]!;
    const position = calendar.monthPosition[d]!;
    const shrink = (anomaly: number, skill: number, sd: number, error: number): number =>
      skill * skill * anomaly + skill * Math.sqrt(1 - skill * skill) * sd * error;

    const normalMean = monthly(climate.meanC, position);
    const normalRange = monthly(climate.rangeC, position);
    const sdC = monthly(climate.daySdC, position);
    const meanC =
      normalMean + shrink((day.tmaxC + day.tminC) / 2 - normalMean, TEMPERATURE_SKILL[lead]!, sdC, errors.temp);
    const rangeC = Math.max(
      2,
      normalRange + shrink(day.tmaxC - day.tminC - normalRange, CLOUD_SKILL[lead]!, 0.25 * normalRange, errors.range),
    );
    const normalSolar = monthly(climate.solarMjPerM2, position);
    const clearLimit = 0.77 * extraterrestrialMjPerM2(degreesToRadians(climate.latitude), calendar.dayOfYear[d]!);
    const solarMj = Math.min(
      clearLimit,
      Math.max(
        0.1 * normalSolar,
        normalSolar + shrink(day.solarMj - normalSolar, CLOUD_SKILL[lead]!, 0.24 * normalSolar, errors.cloud),
      ),
    );
    const normalWind = windAt2mMPerS(monthly(climate.windMPerS, position), 10);
    const windMPerS = Math.max(
      0.3,
      normalWind + shrink(day.windMPerS - normalWind, WIND_SKILL[lead]!, 0.33 * normalWind, errors.wind),
    );
    const normalHumidity = Math.min(
      97,
      (100 * saturationVapourPressureKPa(monthly(climate.dewC, position))) / saturationVapourPressureKPa(normalMean),
    );
    const humidityPct = Math.min(
      100,
      Math.max(10, normalHumidity + shrink(day.humidityPct - normalHumidity, CLOUD_SKILL[lead]!, 9, -errors.cloud)),
    );

    const wetShare = Math.min(0.9, monthly(climate.wetDays, position) / 30.4);
    const skill = RAIN_SKILL[lead]!;
    const logit = Math.log(wetShare / (1 - wetShare));
    const signal = day.rainMm > 0.2 ? 1 : -1;
    const strength = 2.6 * skill ** 1.5;
    const belief = logit + strength * (signal - (2 * wetShare - 1) * 0.5) + 1.3 * skill * errors.rain;
    const rainProbability = Math.min(0.98, Math.max(0.01, 1 / (1 + Math.exp(-belief))));
    const normalDepth = monthly(climate.rainMm, position) / (wetShare * 30.4);
    const depthIfWet =
      day.rainMm > 0.2
        ? normalDepth ** (1 - 0.75 * skill) *
          day.rainMm ** (0.75 * skill) *
          Math.exp(0.45 * errors.rain * (1 - 0.4 * skill))
        : normalDepth * Math.exp(0.5 * errors.rain);
    days.push({
      dayIndex: d,
      tminC: meanC - rangeC / 2,
      tmaxC: meanC + rangeC / 2,
      humidityPct,
      windMPerS,
      solarMj,
      rainMm: rainProbability * depthIfWet,
      rainProbability,
    });
  }
  return days;
}
