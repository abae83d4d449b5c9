import type { EpochMs } from '../domain/ids.js';
import type { WeatherDay } from '../domain/weather.js';
import { type ForecastPair, forecastSkill, type LeadSkill, leadOfIssue, MOST_LEAD_DAYS } from './forecast-skill.js';
import { calendarOf, dayNumberOf } from './marks.js';
import { climateEt0Mm, demandOfDay, NO_WEATHER, rememberWeather, type SiteContext } from './weather-memory.js';

/** Forecasts of so many days are compared with what came; long enough to average fronts, short enough to notice a change. */
export const ARCHIVE_DAYS = 90;
/** Observed days before a season's mean stands for the usual. */
export const SEASON_DAYS = 20;

/** A forecast day beside what came, and the number of that day. */
interface DatedPair {
  readonly dayNumber: number;
  readonly pair: ForecastPair;
}

/** What a site's provider of forecasts has been worth, on any day of the record. */
export class SkillHistory {
  readonly #site: SiteContext;
  readonly #pairs: readonly DatedPair[];
  readonly #known = new Map<number, readonly LeadSkill[]>();

  /**
   * @param observed days of the site, in any order
   * @param issued its forecasts with the moment of their issue, in any order; of several in a day the first counts
   */
  constructor(ctx: SiteContext, observed: readonly WeatherDay[], issued: readonly WeatherDay[]) {
    this.#site = ctx;
    this.#pairs = pairUp(ctx, observed, issued);
  }

  /** By the days that were over when the local day of `nowMs` began. */
  at(nowMs: EpochMs): readonly LeadSkill[] {
    const today = calendarOf(this.#site).at(nowMs).number;
    const known = this.#known.get(today);
    if (known !== undefined) return known;
    const within = this.#pairs.filter(({ dayNumber }) => dayNumber < today && dayNumber >= today - ARCHIVE_DAYS);
    const skill = forecastSkill(within.map(({ pair }) => pair));
    this.#known.set(today, skill);
    return skill;
  }
}

function pairUp(
  ctx: SiteContext,
  observed: readonly WeatherDay[],
  issued: readonly WeatherDay[],
): readonly DatedPair[] {
  const calendar = calendarOf(ctx);
  const came = new Map<number, number>();
  /** The season's memory on the morning of each day. */
  const seasons = new Map<number, typeof NO_WEATHER>();
  let memory = NO_WEATHER;
  for (const day of [...observed].sort((a, b) => (a.day < b.day ? -1 : 1))) {
    const dayNumber = dayNumberOf(day.day);
    if (memory.observedDays >= SEASON_DAYS) seasons.set(dayNumber, memory);
    const et0Mm = demandOfDay(ctx, day);
    if (et0Mm !== null) came.set(dayNumber, et0Mm);
    memory = rememberWeather(ctx, memory, day);
  }
  const first = new Map<string, WeatherDay>();
  for (const day of issued) {
    if (day.issuedMs === null) continue;
    const key = `${day.day} ${calendar.at(day.issuedMs).number}`;
    const known = first.get(key);
    if (known === undefined || day.issuedMs < known.issuedMs!) first.set(key, day);
  }
  const pairs: DatedPair[] = [];
  for (const day of first.values()) {
    const dayNumber = dayNumberOf(day.day);
    const issuedMs = day.issuedMs!;
    const observedEt0Mm = came.get(dayNumber);
    const season = seasons.get(calendar.at(issuedMs).number);
    const forecastEt0Mm = demandOfDay(ctx, day);
    const leadDays = leadOfIssue(issuedMs, calendar.numbered(dayNumber).dawnMs);
    if (observedEt0Mm === undefined || season === undefined || forecastEt0Mm === null || leadDays > MOST_LEAD_DAYS) {
      continue;
    }
    const usualEt0Mm = climateEt0Mm(ctx, season, dayNumber);
    pairs.push({ dayNumber, pair: { leadDays, forecastEt0Mm, observedEt0Mm, usualEt0Mm } });
  }
  return pairs.sort((a, b) => a.dayNumber - b.dayNumber || a.pair.leadDays - b.pair.leadDays);
}
