import {
  degreesToRadians,
  extraterrestrialMjPerM2,
  extraterrestrialPeriodMjPerM2,
} from '../../src/domain/formulas/radiation.js';
import { windAt2mMPerS } from '../../src/domain/formulas/vapour-pressure.js';
import { type Calendar, HOUR_MS, monthly, STEPS_PER_HOUR } from '../calendar.js';
import { Draw } from '../rng.js';
import type { ClimateNormals } from './climates.js';

/** One drawn day of a region, before it is spread over hours. */
export interface RegionDay {
  readonly meanC: number;
  readonly rangeC: number;
  readonly dewC: number;
  readonly wind2mMPerS: number;
  /** Share of the extraterrestrial radiation that reaches the ground. */
  readonly clearness: number;
  readonly rainMm: number;
  readonly storm: boolean;
  readonly stormHour: number | null;
}

/** The weather of a region, hour by hour; rain in steps of 15 minutes. Index 0 is the calendar's first hour. */
export interface RegionWeather {
  readonly climate: ClimateNormals;
  readonly calendar: Calendar;
  readonly days: readonly RegionDay[];
  readonly tempC: Float32Array;
  readonly dewC: Float32Array;
  readonly wind2mMPerS: Float32Array;
  readonly solarMjPerM2: Float32Array;
  readonly rainMmPerStep: Float32Array;
}

/** A day whose rain is set by hand, for a story that has to happen. */
export interface ScriptedRain {
  readonly day: string;
  readonly rainMm: number;
  /** Local wall time at which the storm breaks; absent: no storm, a front. 0 mm makes a dry day. */
  readonly stormHour?: number;
}

const WET_DAY_CLEARNESS = 0.62;
const RAIN_SHAPE = 0.72;
const RAIN_PERSISTENCE = 0.22;
const MAX_CLEARNESS = 0.77;

/** Draws the days of a region from monthly normals: AR(1) temperature and cloud, a two-state chain for rain. */
function drawDays(climate: ClimateNormals, calendar: Calendar, seed: string): RegionDay[] {
  const draw = new Draw(seed, 'region', climate.id);
  const days: RegionDay[] = [];
  let tempAnomaly = draw.normal();
  let cloud = draw.normal();
  let windAnomaly = draw.normal();
  let wet = draw.chance(0.3);
  for (let i = 0; i < calendar.days.length; i++) {
    const position = calendar.monthPosition[i]!;
    const daysOfMonth = 30.4;
    const wetShare = Math.min(0.85, monthly(climate.wetDays, position) / daysOfMonth);
    wet = draw.chance(wet ? wetShare + RAIN_PERSISTENCE * (1 - wetShare) : wetShare * (1 - RAIN_PERSISTENCE));
    tempAnomaly = 0.72 * tempAnomaly + Math.sqrt(1 - 0.72 ** 2) * draw.normal();
    cloud = 0.5 * cloud + Math.sqrt(1 - 0.25) * draw.normal();
    windAnomaly = 0.35 * windAnomaly + Math.sqrt(1 - 0.35 ** 2) * draw.normal();
    const storm = draw.chance(monthly(climate.stormShare, position));
    const depthMm = draw.gamma(RAIN_SHAPE, 1);
    const rangeNoise = draw.normal(0, 0.1);
    const dewNoise = draw.normal();

    const extraterrestrial = extraterrestrialMjPerM2(degreesToRadians(climate.latitude), calendar.dayOfYear[i]!);
    const normalClearness = monthly(climate.solarMjPerM2, position) / extraterrestrial;
    const dryFactor = (1 - WET_DAY_CLEARNESS * wetShare) / (1 - wetShare);
    // 1 - lognormal of mean 1: mean zero, bounded above, so that clear days cluster and dull ones tail off.
    const skewed = 1 - Math.exp(0.75 * cloud - 0.75 ** 2 / 2);
    const cloudFactor = (wet ? WET_DAY_CLEARNESS : dryFactor) * (1 + (wet ? 0.3 : 0.2) * skewed);
    const clearness = Math.min(MAX_CLEARNESS, Math.max(0.06, normalClearness * cloudFactor));

    const meanC = monthly(climate.meanC, position) + monthly(climate.daySdC, position) * tempAnomaly;
    const rangeC = Math.max(2, monthly(climate.rangeC, position) * (0.55 + 0.45 * cloudFactor) * (1 + rangeNoise));
    const dewLimitC = meanC - rangeC / 2 + 1;
    const dewC = Math.min(
      dewLimitC,
      monthly(climate.dewC, position) +
        0.75 * monthly(climate.daySdC, position) * tempAnomaly +
        1.4 * dewNoise +
        (wet ? 1 : -wetShare / (1 - wetShare)),
    );
    const wind10m = monthly(climate.windMPerS, position) * Math.max(0.3, 1 + 0.33 * windAnomaly + (wet ? 0.1 : 0));
    const meanDepthMm = monthly(climate.rainMm, position) / (wetShare * daysOfMonth) / RAIN_SHAPE;
    days.push({
      meanC,
      rangeC,
      dewC,
      wind2mMPerS: windAt2mMPerS(wind10m, 10),
      clearness,
      rainMm: wet ? Math.max(0.2, depthMm * meanDepthMm) : 0,
      storm: wet && storm,
      stormHour: null,
    });
  }
  return days;
}

/** Spreads one day's rain over steps of 15 minutes; a front rains for hours, a storm for half an hour to two. */
function spreadRain(
  target: Float32Array,
  day: RegionDay,
  firstStep: number,
  solarOffsetHours: number,
  draw: Draw,
): void {
  if (day.rainMm <= 0) return;
  const drawn = day.storm ? draw.uniform(13, 19.5) - solarOffsetHours : draw.uniform(0, 20);
  const startHour = day.stormHour ?? drawn;
  const durationHours = day.storm ? draw.uniform(0.5, 2) : Math.min(23 - startHour, draw.uniform(2, 10));
  const from = firstStep + Math.max(0, Math.round(startHour * STEPS_PER_HOUR));
  const count = Math.max(2, Math.round(durationHours * STEPS_PER_HOUR));
  const weights = Array.from({ length: count }, () => draw.gamma(day.storm ? 1.2 : 0.5, 1) + 1e-6);
  const total = weights.reduce((sum, weight) => sum + weight, 0);
  for (let k = 0; k < count && from + k < target.length; k++) {
    target[from + k]! += (day.rainMm * weights[k]!) / total;
  }
}

/** The weather of one region over the calendar's span; the same seed and start give the same prefix for any length. */
export function drawRegion(
  climate: ClimateNormals,
  calendar: Calendar,
  seed: string,
  script: readonly ScriptedRain[] = [],
): RegionWeather {
  const days = drawDays(climate, calendar, seed).map((day, index) => {
    const scripted = script.find((s) => s.day === calendar.days[index]);
    if (scripted === undefined) return day;
    const stormHour = scripted.stormHour ?? null;
    return { ...day, rainMm: scripted.rainMm, storm: stormHour !== null && scripted.rainMm > 0, stormHour };
  });
  const hours = calendar.hours;
  const tempC = new Float32Array(hours);
  const dewC = new Float32Array(hours);
  const wind2mMPerS = new Float32Array(hours);
  const solarMjPerM2 = new Float32Array(hours);
  const rainMmPerStep = new Float32Array(hours * STEPS_PER_HOUR);

  for (let d = 0; d < days.length; d++) {
    const day = days[d]!;
    const dayStart = calendar.dayStartMs[d]!;
    const firstHour = Math.round((dayStart - calendar.startMs) / HOUR_MS);
    const lastHour = Math.round((calendar.dayStartMs[d + 1]! - calendar.startMs) / HOUR_MS);
    const draw = new Draw(seed, 'day', climate.id, d);
    // Local midnight is not solar midnight: in summer time it comes one to two hours early by the sun.
    const solarOffset = ((solarHourOf(dayStart, climate.longitude) + 12) % 24) - 12;
    spreadRain(rainMmPerStep, day, firstHour * STEPS_PER_HOUR, solarOffset, draw);

    const extraterrestrial: number[] = [];
    const cover: number[] = [];
    let flicker = draw.normal();
    for (let h = firstHour; h < lastHour; h++) {
      const ms = calendar.startMs + h * HOUR_MS;
      flicker = 0.6 * flicker + 0.8 * draw.normal();
      const clouded = 1 + 0.35 * (1 - day.clearness / MAX_CLEARNESS) * flicker;
      let rainNow = 0;
      for (let q = 0; q < STEPS_PER_HOUR; q++) rainNow += rainMmPerStep[h * STEPS_PER_HOUR + q]!;
      cover.push(Math.max(0.15, clouded) * (rainNow > 0.1 ? 0.45 : 1));
      extraterrestrial.push(
        extraterrestrialPeriodMjPerM2(
          degreesToRadians(climate.latitude),
          climate.longitude,
          calendar.dayOfYear[d]!,
          (ms / HOUR_MS + 0.5) % 24,
          1,
        ),
      );
    }
    const daily = extraterrestrial.reduce((sum, value) => sum + value, 0);
    const shaped = extraterrestrial.reduce((sum, value, k) => sum + value * cover[k]!, 0);
    for (let h = firstHour; h < lastHour; h++) {
      const k = h - firstHour;
      const raw = extraterrestrial[k]! * cover[k]! * (shaped > 0 ? (day.clearness * daily) / shaped : 0);
      solarMjPerM2[h] = Math.min(raw, 0.86 * extraterrestrial[k]!);
      const hourOfDay = solarHourOf(calendar.startMs + h * HOUR_MS, climate.longitude) + 0.5;
      const blend = blendDays(days, d, hourOfDay);
      tempC[h] = blend.meanC + (blend.rangeC / 2) * diurnal(hourOfDay);
      dewC[h] = Math.min(blend.dewC, tempC[h]!);
      const breeze = 0.7 + 0.6 * Math.max(0, Math.sin((Math.PI * (hourOfDay - 7)) / 14));
      wind2mMPerS[h] = Math.max(0.2, (day.wind2mMPerS * breeze) / 0.92);
    }
  }
  return { climate, calendar, days, tempC, dewC, wind2mMPerS, solarMjPerM2, rainMmPerStep };
}

/** Mean solar hour, 0-24, without the equation of time. */
export function solarHourOf(ms: number, longitude: number): number {
  const hour = (ms / HOUR_MS + longitude / 15) % 24;
  return hour < 0 ? hour + 24 : hour;
}

/** -1 at about 05:00, +1 at about 14:30 solar time. */
function diurnal(solarHour: number): number {
  const h = solarHour % 24;
  if (h >= 5 && h < 14.5) return -Math.cos((Math.PI * (h - 5)) / 9.5);
  const since = h >= 14.5 ? h - 14.5 : h + 9.5;
  return Math.cos((Math.PI * since) / 14.5);
}

function blendDays(
  days: readonly RegionDay[],
  d: number,
  solarHour: number,
): { meanC: number; rangeC: number; dewC: number } {
  const other = days[Math.min(days.length - 1, Math.max(0, solarHour < 12 ? d - 1 : d + 1))]!;
  const here = days[d]!;
  const share = 0.5 - Math.abs(solarHour - 12) / 24;
  const weight = 0.5 + share;
  const mix = (a: number, b: number): number => a * weight + b * (1 - weight);
  return {
    meanC: mix(here.meanC, other.meanC),
    rangeC: mix(here.rangeC, other.rangeC),
    dewC: mix(here.dewC, other.dewC),
  };
}
