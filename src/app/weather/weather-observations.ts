import { dayFromSamples } from '../../analytics/daily-weather.js';
import { shareWeather, sharingSites } from '../../analytics/weather-sharing.js';
import { WHOLE_FLEET } from '../../domain/access.js';
import type { EpochMs, LocalDay } from '../../domain/ids.js';
import { addDays } from '../../domain/local-day.js';
import type { Store } from '../../domain/ports/store.js';
import type { Site } from '../../domain/registry.js';
import type { WeatherDay } from '../../domain/weather.js';
import type { App } from '../context.js';
import { localDaysOf } from '../fleet-view.js';

/** Samples may come this late and still make their day anew. */
const LATE_DAYS = 3;

/**
 * Makes the observed days of the last days from what stations sent, for every site that has samples; a day that was
 * entered or imported keeps its values, and samples fill what it lacks. To be run some minutes after midnight and now
 * and then after that.
 * @returns how many days were written
 */
export async function closeWeatherDays(app: App): Promise<number> {
  const nowMs = app.clock.nowMs();
  const rows: WeatherDay[] = [];
  for (const site of await app.store.registry.sites(WHOLE_FLEET)) {
    const days = localDaysOf(site.timeZone);
    const today = days.dayOf(nowMs);
    const first = addDays(today, -LATE_DAYS);
    const samples = await app.store.weather.samples(site.id, days.startMs(first), days.startMs(today));
    if (samples.length === 0) continue;
    const known = await app.store.weather.observedDays(site.id, first, addDays(today, -1));
    for (let day = first; day < today; day = addDays(day, 1)) {
      const made = dayFromSamples(site.id, day, days.startMs(day), days.endMs(day), samples);
      if (made === null) continue;
      const before = known.find((entry) => entry.day === day);
      const [row] = before === undefined ? [made] : shareWeather([before], [[made]]);
      if (row !== undefined && JSON.stringify(row) !== JSON.stringify(before)) rows.push(row);
    }
  }
  if (rows.length > 0) {
    await app.store.commit({
      atMs: nowMs,
      actor: { kind: 'stage', id: 'weather' },
      writes: [{ kind: 'weather_days', rows }],
      cursor: null,
    });
  }
  return rows.length;
}

/** Observed days of a site, gaps filled from neighbouring sites; a shared day keeps the id of its own site. */
export async function observedOrShared(
  store: Store,
  site: Site,
  fromDay: LocalDay,
  toDay: LocalDay,
): Promise<readonly WeatherDay[]> {
  const own = await store.weather.observedDays(site.id, fromDay, toDay);
  const others: (readonly WeatherDay[])[] = [];
  for (const other of sharingSites(site, await store.registry.sites(WHOLE_FLEET))) {
    others.push(await store.weather.observedDays(other.id, fromDay, toDay));
  }
  return shareWeather(own, others);
}

/**
 * For each day to come the forecast that a site had at an instant; where it has none at all, that of the nearest
 * neighbouring site which has.
 */
export async function outlookOrShared(
  store: Store,
  site: Site,
  fromDay: LocalDay,
  knownAtMs: EpochMs,
): Promise<readonly WeatherDay[]> {
  const own = await store.weather.forecastDays(site.id, fromDay, knownAtMs);
  if (own.length > 0) return own;
  for (const other of sharingSites(site, await store.registry.sites(WHOLE_FLEET))) {
    const days = await store.weather.forecastDays(other.id, fromDay, knownAtMs);
    if (days.length > 0) return days;
  }
  return own;
}
