import { WHOLE_FLEET } from '../../domain/access.js';
import { type ForecastSource, ForecastUnavailable } from '../../domain/ports/forecast-source.js';
import type { WeatherDay } from '../../domain/weather.js';
import type { App } from '../context.js';

/**
 * Asks a weather service for the days to come at every site and keeps them as issued. A site that the service does not
 * cover is passed over; where it cannot be reached, the forecasts of before go on and the next run tries again.
 * @returns how many days were written
 */
export async function fetchForecasts(app: App, source: ForecastSource): Promise<number> {
  const rows: WeatherDay[] = [];
  for (const site of await app.store.registry.sites(WHOLE_FLEET)) {
    try {
      rows.push(...(await source.forecast(site)));
    } catch (error) {
      if (!(error instanceof ForecastUnavailable)) throw error;
      app.log.warn({ err: error, site: site.id, source: source.name }, 'no forecast; the last one goes on');
      break;
    }
  }
  if (rows.length > 0) {
    await app.store.commit({
      atMs: app.clock.nowMs(),
      actor: { kind: 'stage', id: 'weather' },
      writes: [{ kind: 'weather_days', rows }],
      cursor: null,
    });
  }
  return rows.length;
}
