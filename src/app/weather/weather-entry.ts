import type { Principal } from '../../domain/access.js';
import { type DayEt0, et0OfDay } from '../../domain/day-et0.js';
import { DomainError, type InputFault } from '../../domain/errors.js';
import type { LocalDay, SiteId } from '../../domain/ids.js';
import type { WeatherDay } from '../../domain/weather.js';
import { type App, allowed } from '../context.js';

/**
 * Takes days of weather, observed or forecast; a day that is there already is replaced.
 * @returns how many were taken
 * @throws DomainError `invalid_input` for a site that is not there, or a forecast issued in the future
 */
export async function enterWeather(app: App, who: Principal, days: readonly WeatherDay[]): Promise<number> {
  allowed(who, 'weather.write');
  const sites = new Set((await app.store.registry.sites({ kind: 'all' })).map((site) => site.id));
  const nowMs = app.clock.nowMs();
  const faults: InputFault[] = [];
  for (const [index, day] of days.entries()) {
    if (!sites.has(day.siteId)) {
      faults.push({ pointer: `/days/${index}/siteId`, detail: `there is no site “${day.siteId}”` });
    }
    if (day.issuedMs !== null && day.issuedMs > nowMs) {
      faults.push({ pointer: `/days/${index}/issuedAt`, detail: 'lies in the future' });
    }
    if (day.issuedMs === null && day.rainProbability !== null) {
      faults.push({
        pointer: `/days/${index}/rainProbability`,
        detail: 'is for forecasts only; say when it was issued',
      });
    }
  }
  if (faults.length > 0) throw new DomainError('invalid_input', 'Some days cannot be taken; none was.', { faults });
  await app.store.commit({
    atMs: nowMs,
    actor: { kind: 'person', id: who.personId },
    writes: [{ kind: 'weather_days', rows: days }],
    cursor: null,
  });
  return days.length;
}

/** A day with the ET0 that the analysis takes for it; null where nothing is known that it could be had from. */
export interface WeatherDayView extends WeatherDay {
  readonly usedEt0: DayEt0 | null;
}

/** The days of a site's weather, inclusive: observed, or as they are forecast now. */
export async function weatherDays(
  app: App,
  who: Principal,
  query: {
    readonly siteId: SiteId;
    readonly fromDay: LocalDay;
    readonly toDay: LocalDay;
    readonly forecast: boolean;
  },
): Promise<readonly WeatherDayView[]> {
  const scope = allowed(who, 'containers.read');
  const site = await app.store.registry.site(scope, query.siteId);
  if (site === null) throw new DomainError('not_found', `There is no site “${query.siteId}”.`);
  const days = query.forecast
    ? await app.store.weather.forecastDays(query.siteId, query.fromDay, app.clock.nowMs())
    : await app.store.weather.observedDays(query.siteId, query.fromDay, query.toDay);
  return days.filter(({ day }) => day <= query.toDay).map((day) => ({ ...day, usedEt0: et0OfDay(site, day) }));
}
