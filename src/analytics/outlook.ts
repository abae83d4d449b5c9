import type { PotContext } from '../domain/analysis.js';
import type { EpochMs } from '../domain/ids.js';
import type { WeatherDay } from '../domain/weather.js';
import { forecastSkill, leadOfIssue, MOST_LEAD_DAYS } from './forecast-skill.js';
import { calendarOf, hydrologicalDay } from './marks.js';
import type { PotState } from './state.js';
import { climateEt0Mm, demandOfDay, RAINY_DAY_MM, type WeatherMemory } from './weather-memory.js';

/** What is expected of one hydrological day to come, dawn to dawn. */
export interface ExpectedDay {
  readonly dayNumber: number;
  readonly startMs: EpochMs;
  readonly endMs: EpochMs;
  /** Median evaporative demand, and the sd of its log. */
  readonly et0Mm: number;
  readonly logSd: number;
  readonly fromForecast: boolean;
  /** Chance of rain that counts, and how much then comes. */
  readonly rainChance: number;
  readonly rainMm: number;
}

export const HORIZON_DAYS = 60;

/** Holds until the archive of a site's provider has spoken. */
const EXPECTED_SKILL = forecastSkill([]);
/** The last days' departure from the season's mean wears off by this factor a day. */
const PERSISTENCE = 0.5;
/** Relative day-to-day sd without any weather: what the season alone leaves open. */
const SEASON_ONLY_SD = 0.3;

/** The days from the one that holds `nowMs` on, as far as the horizon. */
export function expectDays(
  ctx: PotContext,
  state: PotState,
  nowMs: EpochMs,
  outlook: readonly WeatherDay[],
): readonly ExpectedDay[] {
  const calendar = calendarOf(ctx);
  const forecasts = latestIssues(outlook, nowMs);
  const { weather } = state;
  const skills = ctx.weatherSkill ?? EXPECTED_SKILL;
  const climateSd = weather.logRatio === null ? SEASON_ONLY_SD : Math.sqrt(weather.logRatioVariance);
  const lastKnown = weather.days[weather.days.length - 1];
  const days: ExpectedDay[] = [];
  let day = hydrologicalDay(calendar, nowMs);
  for (let lead = 0; lead <= HORIZON_DAYS; lead++) {
    const next = calendar.numbered(day.number + 1);
    const { number: dayNumber, dawnMs: startMs } = day;
    const endMs = next.dawnMs;
    const mean = climateEt0Mm(ctx, weather, dayNumber);
    const forecast = forecasts.get(day.name);
    const given = forecast === undefined ? null : demandOfDay(ctx, forecast);
    let logDeparture = 0;
    let logSd = climateSd;
    if (given !== null) {
      const lead = forecast!.issuedMs === null ? 0 : leadOfIssue(forecast!.issuedMs, startMs);
      const { slope, offset, usualSd, errorSd } = skills[Math.min(MOST_LEAD_DAYS, lead)]!;
      logDeparture = offset + slope * Math.log(given / mean);
      logSd = climateSd * Math.min(1, errorSd / usualSd);
    } else if (lastKnown !== undefined && lastKnown[0] < dayNumber) {
      const apart = dayNumber - lastKnown[0];
      const fade = PERSISTENCE ** apart;
      logDeparture = fade * Math.log(lastKnown[1] / climateEt0Mm(ctx, weather, lastKnown[0]));
      logSd = climateSd * Math.sqrt(1 - fade ** 2);
    }
    days.push({
      dayNumber,
      startMs,
      endMs,
      et0Mm: mean * Math.exp(logDeparture),
      logSd,
      fromForecast: given !== null,
      ...rainOf(weather, forecast),
    });
    day = next;
  }
  return days;
}

/** Rain that nobody has forecast is counted on for less than the season's share: a date too late is the worse error. */
const RAIN_CAUTION = 0.7;
/** Of a forecast amount, what the season's mean still weighs. */
const RAIN_CLIMATE_WEIGHT = 0.3;

function rainOf(weather: WeatherMemory, forecast: WeatherDay | undefined): { rainChance: number; rainMm: number } {
  const season = { rainChance: RAIN_CAUTION * weather.rainShare, rainMm: weather.rainMeanMm };
  if (weather.observedDays === 0 && forecast === undefined) return { rainChance: 0, rainMm: 0 };
  if (forecast === undefined || forecast.rainMm === null) return season;
  const chance = forecast.rainProbability ?? (forecast.rainMm > RAINY_DAY_MM ? 0.75 : 0.1);
  // A forecast amount is a mean over rain and no rain where its chance is given.
  const ifRain = forecast.rainProbability === null ? forecast.rainMm : forecast.rainMm / Math.max(0.2, chance);
  const mixed = (1 - RAIN_CLIMATE_WEIGHT) * ifRain + RAIN_CLIMATE_WEIGHT * season.rainMm;
  return { rainChance: chance, rainMm: Math.max(mixed, RAINY_DAY_MM) };
}

/** For each day the forecast issued last, but not after `nowMs`. */
function latestIssues(outlook: readonly WeatherDay[], nowMs: EpochMs): ReadonlyMap<string, WeatherDay> {
  const latest = new Map<string, WeatherDay>();
  for (const day of outlook) {
    if (day.issuedMs !== null && day.issuedMs > nowMs) continue;
    const known = latest.get(day.day);
    if (known === undefined || (day.issuedMs ?? 0) > (known.issuedMs ?? 0)) latest.set(day.day, day);
  }
  return latest;
}
