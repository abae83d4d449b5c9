import type { EpochMs, LocalDay, SiteId } from './ids.js';

/** One site-local day of weather; what is not known is null. Forecasts bear the moment they were issued. */
export interface WeatherDay {
  readonly siteId: SiteId;
  readonly day: LocalDay;
  readonly tminC: number | null;
  readonly tmaxC: number | null;
  /** Mean relative humidity, 0-1. */
  readonly humidityFraction: number | null;
  /** Mean wind speed 2 m above ground. */
  readonly windMPerS: number | null;
  readonly solarMjPerM2: number | null;
  readonly rainMm: number | null;
  /** Reference evapotranspiration as given; null where it has to be computed. */
  readonly et0Mm: number | null;
  /** Chance of rain, 0-1; forecasts only. */
  readonly rainProbability: number | null;
  /** Null: an observation, known from the end of its local day. */
  readonly issuedMs: EpochMs | null;
}

/** What a station sent over MQTT. */
export interface WeatherSample {
  readonly siteId: SiteId;
  readonly timeMs: EpochMs;
  readonly receivedMs: EpochMs;
  readonly temperatureC: number | null;
  readonly humidityFraction: number | null;
  readonly windMPerS: number | null;
  readonly solarWPerM2: number | null;
  /** Since the record before. */
  readonly rainMm: number | null;
  readonly pressurePa: number | null;
}
