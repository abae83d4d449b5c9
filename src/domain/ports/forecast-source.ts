import type { Site } from '../registry.js';
import type { WeatherDay } from '../weather.js';

/** A public weather service, reached through an adapter. */
export interface ForecastSource {
  /** Who it is, for the log and the page. */
  readonly name: string;
  /**
   * The days to come at a site, as issued now; empty where the service does not cover the place.
   * @throws ForecastUnavailable where it should be asked again later
   */
  forecast(site: Site): Promise<readonly WeatherDay[]>;
}

export class ForecastUnavailable extends Error {
  override readonly name = 'ForecastUnavailable';
  /** Not to be asked again before so many milliseconds have passed. */
  readonly retryAfterMs: number;

  constructor(message: string, retryAfterMs: number, options: { readonly cause?: unknown } = {}) {
    super(message, options.cause === undefined ? {} : { cause: options.cause });
    this.retryAfterMs = retryAfterMs;
  }
}
