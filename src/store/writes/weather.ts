import type { WeatherDay, WeatherSample } from '../../domain/weather.js';
import { decodeReceipts, encodeReceipts, merge } from '../merge.js';
import { type Sql, selectList } from '../sql.js';
import { type Applier, calendarOfSite } from './context.js';

export const WEATHER_VALUES = [
  'tmin_c',
  'tmax_c',
  'humidity_fraction',
  'wind_m_per_s',
  'solar_mj_per_m2',
  'rain_mm',
  'et0_mm',
  'rain_probability',
] as const;

/** A value that is not given does not erase one that is known: two files may each know a part of a day. */
function dayText(table: 'weather_observed' | 'weather_forecast', keys: readonly string[]): string {
  const columns = [...keys, ...WEATHER_VALUES];
  const fills = WEATHER_VALUES.map((column) => `${column} = coalesce(excluded.${column}, ${table}.${column})`);
  const differs = WEATHER_VALUES.map(
    (column) => `(excluded.${column} IS NOT NULL AND excluded.${column} IS NOT ${table}.${column})`,
  );
  return `INSERT INTO ${table} (${columns.join(', ')}) VALUES (${columns.map(() => '?').join(', ')})
    ON CONFLICT DO UPDATE SET ${fills.join(', ')} WHERE ${differs.join(' OR ')}`;
}

const OBSERVED = dayText('weather_observed', ['site_id', 'day']);
const FORECAST = dayText('weather_forecast', ['site_id', 'day', 'issued_ms']);

export const weatherDays: Applier<'weather_days'> = ({ sql, lines }, { kind, rows }) => {
  for (const row of rows) {
    if (writeDay(sql, row) === 0) continue;
    const calendar = calendarOfSite(sql, row.siteId);
    lines.add(kind, row.siteId, {
      siteId: row.siteId,
      fromMs: calendar.startMs(row.day),
      toMs: calendar.endMs(row.day),
    });
  }
};

function writeDay(sql: Sql, row: WeatherDay): number {
  const values = [
    row.tminC,
    row.tmaxC,
    row.humidityFraction,
    row.windMPerS,
    row.solarMjPerM2,
    row.rainMm,
    row.et0Mm,
    row.rainProbability,
  ];
  return row.issuedMs === null
    ? sql.run(OBSERVED, row.siteId, row.day, ...values)
    : sql.run(FORECAST, row.siteId, row.day, row.issuedMs, ...values);
}

const SAMPLE_VALUES = [
  'temperatureC',
  'humidityFraction',
  'windMPerS',
  'solarWPerM2',
  'rainMm',
  'pressurePa',
] as const satisfies readonly (keyof WeatherSample)[];

export const SAMPLE_COLUMNS = [
  'temperature_c',
  'humidity_fraction',
  'wind_m_per_s',
  'solar_w_per_m2',
  'rain_mm',
  'pressure_pa',
] as const;

const SAMPLE_INSERT = `INSERT INTO weather_sample (site_id, time_ms, received_ms, ${SAMPLE_COLUMNS.join(', ')})
  VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT DO NOTHING`;
const SAMPLE_SELECT = `SELECT received_ms AS "receivedMs", receipts, ${selectList(SAMPLE_COLUMNS)}
  FROM weather_sample WHERE site_id = ? AND time_ms = ?`;
const SAMPLE_UPDATE = `UPDATE weather_sample SET received_ms = ?,
  ${SAMPLE_COLUMNS.map((column) => `${column} = ?`).join(', ')}, receipts = ? WHERE site_id = ? AND time_ms = ?`;

/** Samples merge as readings do, so that their order does not matter either. */
export const weatherSamples: Applier<'weather_samples'> = ({ sql, lines }, { kind, rows }) => {
  for (const row of rows) {
    const values = SAMPLE_VALUES.map((name) => row[name]);
    const added = sql.run(SAMPLE_INSERT, row.siteId, row.timeMs, row.receivedMs, ...values);
    if (added === 0 && !mergeSample(sql, row, values)) continue;
    lines.add(kind, row.siteId, { siteId: row.siteId, fromMs: row.timeMs, toMs: row.timeMs });
  }
};

function mergeSample(sql: Sql, row: WeatherSample, values: readonly (number | null)[]): boolean {
  const stored = sql.get<WeatherSample & { receipts: string | null }>(SAMPLE_SELECT, row.siteId, row.timeMs);
  if (stored === undefined) throw new Error(`weather of ${row.siteId} at ${row.timeMs} was there and is not`);
  const merged = merge(
    {
      receivedMs: stored.receivedMs,
      values: SAMPLE_VALUES.map((name) => stored[name]),
      receipts: decodeReceipts(stored.receipts, stored.receivedMs, SAMPLE_VALUES.length),
    },
    values,
    row.receivedMs,
  );
  if (!merged.touched) return false;
  const { receivedMs, values: standing } = merged.standing;
  sql.run(SAMPLE_UPDATE, receivedMs, ...standing, encodeReceipts(merged.standing), row.siteId, row.timeMs);
  return merged.completed || merged.corrected;
}
