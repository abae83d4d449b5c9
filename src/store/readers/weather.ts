import type { WeatherReader } from '../../domain/ports/store.js';
import type { WeatherDay, WeatherSample } from '../../domain/weather.js';
import { selectList } from '../sql.js';
import { SAMPLE_COLUMNS, WEATHER_VALUES } from '../writes/weather.js';
import type { ReadContext } from './context.js';

const DAY = selectList(['site_id', 'day', ...WEATHER_VALUES]);
const SAMPLE = selectList(['site_id', 'time_ms', 'received_ms', ...SAMPLE_COLUMNS]);

export function weatherReader({ read }: ReadContext): WeatherReader {
  return {
    observedDays: (siteId, fromDay, toDay) =>
      read((sql) =>
        sql.all<WeatherDay>(
          `SELECT ${DAY}, NULL AS "issuedMs" FROM weather_observed
           WHERE site_id = ? AND day BETWEEN ? AND ? ORDER BY day`,
          siteId,
          fromDay,
          toDay,
        ),
      ),
    forecastDays: (siteId, fromDay, knownAtMs) =>
      read((sql) =>
        // Of a bare column beside max() SQLite gives the value in the row of the maximum.
        sql.all<WeatherDay>(
          `SELECT ${DAY}, max(issued_ms) AS "issuedMs" FROM weather_forecast
           WHERE site_id = ? AND day >= ? AND issued_ms <= ? GROUP BY day ORDER BY day`,
          siteId,
          fromDay,
          knownAtMs,
        ),
      ),
    forecastsOf: (siteId, fromDay, toDay, knownAtMs) =>
      read((sql) =>
        sql.all<WeatherDay>(
          `SELECT ${DAY}, issued_ms AS "issuedMs" FROM weather_forecast
           WHERE site_id = ? AND day BETWEEN ? AND ? AND issued_ms <= ? ORDER BY day, issued_ms`,
          siteId,
          fromDay,
          toDay,
          knownAtMs,
        ),
      ),
    samples: (siteId, fromMs, toMs) =>
      read((sql) =>
        sql.all<WeatherSample>(
          `SELECT ${SAMPLE} FROM weather_sample WHERE site_id = ? AND time_ms >= ? AND time_ms < ? ORDER BY time_ms`,
          siteId,
          fromMs,
          toMs,
        ),
      ),
  };
}
