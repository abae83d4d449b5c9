import { z } from 'zod';
import { type ForecastSource, ForecastUnavailable } from '../domain/ports/forecast-source.js';
import type { Site } from '../domain/registry.js';
import type { WeatherDay } from '../domain/weather.js';
import { daysFromGridpoint } from './nws-gridpoint.js';

export interface NwsSettings {
  /** `https://api.weather.gov`, or a local server in tests. */
  readonly baseUrl: string;
  /** The service asks for an application's name and a way to reach its operator. */
  readonly userAgent: string;
  readonly timeoutMs: number;
}

const pointAnswer = z.object({ properties: z.object({ forecastGridData: z.url() }) });

/** A place's grid cell rarely changes; the service advises against asking for it every time. */
const POINT_KEPT_MS = 7 * 24 * 3_600_000;
const FIRST_BACKOFF_MS = 60_000;
const LONGEST_BACKOFF_MS = 6 * 3_600_000;
/** Without a word from the service an answer is fresh for so long. */
const USUAL_FRESH_MS = 3_600_000;
const MOST_BYTES = 4 * 1024 * 1024;

interface Cached {
  readonly body: unknown;
  readonly freshUntilMs: number;
  readonly lastModified: string | null;
  readonly etag: string | null;
}

/**
 * Forecasts from the gridpoint interface of the US National Weather Service. Polite: says who asks, keeps answers for as
 * long as their headers allow and asks again only whether they changed, and after a failure waits twice as long each
 * time, or as long as the service says. Covers the United States; elsewhere the days are empty.
 * @param nowMs the process clock: freshness and back-off are real time, whatever the business clock does
 */
export class NwsForecast implements ForecastSource {
  readonly name = 'US National Weather Service';
  readonly #settings: NwsSettings;
  readonly #nowMs: () => number;
  readonly #cache = new Map<string, Cached>();
  #backoffMs = 0;
  #notBeforeMs = 0;

  constructor(settings: NwsSettings, nowMs: () => number) {
    this.#settings = settings;
    this.#nowMs = nowMs;
  }

  async forecast(site: Site): Promise<readonly WeatherDay[]> {
    // Four decimals are ten metres; the service redirects longer ones.
    const place = `${trim(site.latitude)},${trim(site.longitude)}`;
    const point = await this.#get(`${this.#settings.baseUrl}/points/${place}`, POINT_KEPT_MS);
    if (point === null) return [];
    const parsed = pointAnswer.safeParse(point);
    if (!parsed.success) throw this.#failed('the service answered in an unknown form about the place', null);
    const grid = await this.#get(parsed.data.properties.forecastGridData, 0);
    if (grid === null) return [];
    try {
      return daysFromGridpoint(grid, site);
    } catch (error) {
      if (!(error instanceof z.ZodError)) throw error;
      throw this.#failed('the service answered in an unknown form about the weather', null, error);
    }
  }

  /** The body of an answer; null where the service does not know the place. */
  async #get(url: string, leastFreshMs: number): Promise<unknown> {
    const nowMs = this.#nowMs();
    const cached = this.#cache.get(url);
    if (cached !== undefined && nowMs < cached.freshUntilMs) return cached.body;
    if (nowMs < this.#notBeforeMs) {
      throw new ForecastUnavailable('waiting after an earlier failure', this.#notBeforeMs - nowMs);
    }
    const headers: Record<string, string> = {
      'user-agent': this.#settings.userAgent,
      accept: 'application/geo+json',
    };
    if (cached?.etag) headers['if-none-match'] = cached.etag;
    if (cached?.lastModified) headers['if-modified-since'] = cached.lastModified;
    let response: Response;
    try {
      response = await fetch(url, { headers, signal: AbortSignal.timeout(this.#settings.timeoutMs) });
    } catch (error) {
      throw this.#failed(`${this.name} could not be reached`, null, error);
    }
    const freshUntilMs = nowMs + Math.max(leastFreshMs, freshMs(response.headers.get('cache-control')));
    if (response.status === 304 && cached !== undefined) {
      this.#cache.set(url, { ...cached, freshUntilMs });
      this.#recovered();
      return cached.body;
    }
    if (response.status === 404) {
      await response.body?.cancel();
      this.#cache.set(url, { body: null, freshUntilMs: nowMs + POINT_KEPT_MS, lastModified: null, etag: null });
      return null;
    }
    if (!response.ok) {
      await response.body?.cancel();
      throw this.#failed(`${this.name} answered ${response.status}`, response.headers.get('retry-after'));
    }
    const body = await this.#bodyOf(response);
    this.#cache.set(url, {
      body,
      freshUntilMs,
      lastModified: response.headers.get('last-modified'),
      etag: response.headers.get('etag'),
    });
    this.#recovered();
    return body;
  }

  async #bodyOf(response: Response): Promise<unknown> {
    const text = await response.text().catch((error: unknown) => {
      throw this.#failed('the answer broke off', null, error);
    });
    if (text.length > MOST_BYTES) throw this.#failed('the answer is far too long', null);
    try {
      return JSON.parse(text) as unknown;
    } catch (error) {
      throw this.#failed('the answer is not JSON', null, error);
    }
  }

  #recovered(): void {
    this.#backoffMs = 0;
    this.#notBeforeMs = 0;
  }

  #failed(message: string, retryAfter: string | null, cause?: unknown): ForecastUnavailable {
    this.#backoffMs = Math.min(LONGEST_BACKOFF_MS, Math.max(FIRST_BACKOFF_MS, 2 * this.#backoffMs));
    const asked = Number(retryAfter) * 1000;
    const waitMs = Number.isFinite(asked) && asked > this.#backoffMs ? asked : this.#backoffMs;
    this.#notBeforeMs = this.#nowMs() + waitMs;
    return new ForecastUnavailable(message, waitMs, cause === undefined ? {} : { cause });
  }
}

function trim(degrees: number): string {
  return String(Math.round(degrees * 1e4) / 1e4);
}

function freshMs(cacheControl: string | null): number {
  const match = /max-age=(\d+)/.exec(cacheControl ?? '');
  return match === null ? USUAL_FRESH_MS : Number(match[1]) * 1000;
}
