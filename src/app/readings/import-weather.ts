import { type EpochMs, ID_PATTERN, type LocalDay, type SiteId } from '../../domain/ids.js';
import { DAY_MS, LocalDays } from '../../domain/local-day.js';
import { AHEAD_LIMIT_MS } from '../../domain/senml/read-pack.js';
import { shown } from '../../domain/senml/shown.js';
import { roundTo } from '../../domain/senml/take.js';
import { AIR_TEMPERATURE_LIMITS_C, WIND_LIMITS_M_PER_S } from '../../domain/senml/units.js';
import type { WeatherDay } from '../../domain/weather.js';
import {
  type CsvFormat,
  type CsvRow,
  parseInstant,
  parseNumber,
  type RowRefusal,
  type RowResult,
  refuseRow,
} from './import-csv-table.js';

export const WEATHER_CSV = 'text/csv; table=weather';

type WeatherValue = Exclude<keyof WeatherDay, 'siteId' | 'day' | 'issuedMs'>;

interface Column {
  readonly name: string;
  readonly field: WeatherValue;
  readonly least: number;
  readonly most: number;
  readonly divisor: number;
  readonly step: number;
}

/** The top of the atmosphere gets less than 46 MJ/m2 a day anywhere (FAO-56 table 2.6, from memory). */
const SOLAR_LIMITS_MJ_PER_M2 = { least: 0, most: 46 } as const;
/** More than the 1,825 mm of the wettest day on record (WMO archive of extremes, from memory). */
const RAIN_DAY_LIMITS_MM = { least: 0, most: 2000 } as const;
/** Hot deserts in wind reach about 15 mm; a little condensation is below nothing (FAO-56 gives daily values of 1-15). */
const ET0_LIMITS_MM = { least: -1, most: 25 } as const;

const COLUMNS: readonly Column[] = [
  { name: 'tmin_c', field: 'tminC', ...AIR_TEMPERATURE_LIMITS_C, divisor: 1, step: 1e-3 },
  { name: 'tmax_c', field: 'tmaxC', ...AIR_TEMPERATURE_LIMITS_C, divisor: 1, step: 1e-3 },
  { name: 'humidity_pct', field: 'humidityFraction', least: 0, most: 100, divisor: 100, step: 1e-6 },
  { name: 'wind_ms', field: 'windMPerS', ...WIND_LIMITS_M_PER_S, divisor: 1, step: 1e-4 },
  { name: 'solar_mj', field: 'solarMjPerM2', ...SOLAR_LIMITS_MJ_PER_M2, divisor: 1, step: 1e-4 },
  { name: 'rain_mm', field: 'rainMm', ...RAIN_DAY_LIMITS_MM, divisor: 1, step: 1e-4 },
  { name: 'et0_mm', field: 'et0Mm', ...ET0_LIMITS_MM, divisor: 1, step: 1e-4 },
  { name: 'rain_probability', field: 'rainProbability', least: 0, most: 1, divisor: 1, step: 1e-6 },
];

export interface WeatherCsvContext {
  /** Observed days that have not ended by then, and forecasts issued later, are refused. */
  readonly nowMs: EpochMs;
  /** The zone of a site; null where the site is not known. */
  timeZone(id: SiteId): string | null;
}

/**
 * `weather.csv`: `site,date,tmin_c,tmax_c,humidity_pct,wind_ms,solar_mj,rain_mm,et0_mm`, any value empty, and where
 * they are there `rain_probability` and `issued`, the moment a forecast was made; without it the row is an observation.
 */
export function weatherFormat(context: WeatherCsvContext): CsvFormat<WeatherDay> {
  const calendars = new Map<string, LocalDays>();
  const calendarOf = (timeZone: string): LocalDays => {
    const known = calendars.get(timeZone) ?? new LocalDays(timeZone);
    calendars.set(timeZone, known);
    return known;
  };
  return {
    contentType: WEATHER_CSV,
    required: ['site', 'date'],
    anyOf: COLUMNS.map((column) => column.name),
    optional: ['issued'],
    parse: (row) => parseWeather(row, context, calendarOf),
  };
}

function parseWeather(
  row: CsvRow,
  context: WeatherCsvContext,
  calendarOf: (timeZone: string) => LocalDays,
): RowResult<WeatherDay> {
  const siteId = row.cell('site');
  if (!ID_PATTERN.test(siteId)) {
    return refuseRow('bad_row', `site is ${shown(siteId)}; 1 to 64 letters, digits, dots, dashes or underscores.`);
  }
  const day = row.cell('date');
  if (!isDay(day)) return refuseRow('bad_row', `date is ${shown(day)}; a day such as 2026-06-01 was expected.`);
  const issuedCell = row.cell('issued');
  const issuedMs = issuedCell === '' ? null : parseInstant('issued', issuedCell);
  if (issuedMs !== null && typeof issuedMs !== 'number') return { kind: 'refused', ...issuedMs };

  const values = new Map<WeatherValue, number>();
  for (const column of COLUMNS) {
    const value = parseNumber(column.name, row.cell(column.name));
    if (value === null) continue;
    if (typeof value !== 'number') return { kind: 'refused', ...value };
    if (value < column.least || value > column.most) {
      return refuseRow('impossible_value', `${column.name} is ${value}, outside ${column.least} to ${column.most}.`);
    }
    values.set(column.field, roundTo(value / column.divisor, column.step));
  }
  if (values.size === 0)
    return refuseRow('no_quantity', 'The row holds no value: all its cells but the key are empty.');
  const value = (field: WeatherValue): number | null => values.get(field) ?? null;
  const tminC = value('tminC');
  const tmaxC = value('tmaxC');
  if (tminC !== null && tmaxC !== null && tminC > tmaxC) {
    return refuseRow('impossible_value', `tmin_c ${tminC} is above tmax_c ${tmaxC}.`);
  }
  const timeZone = context.timeZone(siteId);
  if (timeZone === null) return refuseRow('unknown_site', `Site ${siteId} is not in the registry.`);
  const refusal = dateRefusal(day, issuedMs, context.nowMs, calendarOf(timeZone));
  if (refusal !== null) return { kind: 'refused', ...refusal };
  return {
    kind: 'row',
    row: {
      siteId,
      day,
      tminC,
      tmaxC,
      humidityFraction: value('humidityFraction'),
      windMPerS: value('windMPerS'),
      solarMjPerM2: value('solarMjPerM2'),
      rainMm: value('rainMm'),
      et0Mm: value('et0Mm'),
      rainProbability: value('rainProbability'),
      issuedMs,
    },
  };
}

function dateRefusal(day: LocalDay, issuedMs: EpochMs | null, nowMs: EpochMs, days: LocalDays): RowRefusal | null {
  if (issuedMs !== null) {
    if (issuedMs <= nowMs + AHEAD_LIMIT_MS) return null;
    return { refusal: 'too_far_ahead', detail: `The forecast would have been issued later than now.` };
  }
  // Half a day's grace: a file may be written before the last hours of its last day have passed.
  if (days.endMs(day) <= nowMs + DAY_MS / 2) return null;
  return {
    refusal: 'too_far_ahead',
    detail: `The day ${day} is still to come, so it cannot have been observed; a forecast names its "issued" moment.`,
  };
}

const DAY_PATTERN = /^(\d{4})-(\d\d)-(\d\d)$/;

function isDay(text: string): boolean {
  const match = DAY_PATTERN.exec(text);
  if (match === null) return false;
  const date = new Date(Date.UTC(Number(match[1]), Number(match[2]) - 1, Number(match[3])));
  return date.toISOString().startsWith(text);
}
