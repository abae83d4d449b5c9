import type { SiteId } from '../domain/ids.js';
import type { Site } from '../domain/registry.js';
import type { WeatherDay } from '../domain/weather.js';

/** Weather is shared over this distance; summer showers differ over less, evaporation hardly over more. */
export const SHARING_KM = 25;
/** Temperature falls by about 6.5 K per km of height; beyond this the neighbour's day is another's. */
const SHARING_CLIMB_M = 300;
const EARTH_RADIUS_KM = 6371;

/** Distance along the great circle, km (haversine). */
export function distanceKm(a: Pick<Site, 'latitude' | 'longitude'>, b: Pick<Site, 'latitude' | 'longitude'>): number {
  const rad = Math.PI / 180;
  const north = Math.sin(((b.latitude - a.latitude) * rad) / 2) ** 2;
  const east = Math.sin(((b.longitude - a.longitude) * rad) / 2) ** 2;
  const h = north + Math.cos(a.latitude * rad) * Math.cos(b.latitude * rad) * east;
  return 2 * EARTH_RADIUS_KM * Math.asin(Math.min(1, Math.sqrt(h)));
}

/** Sites whose weather may stand in for a site's, the nearest first. */
export function weatherNeighbours(site: Site, sites: readonly Site[]): readonly Site[] {
  return sites
    .filter((other) => other.id !== site.id && Math.abs(other.elevationM - site.elevationM) <= SHARING_CLIMB_M)
    .map((other) => ({ other, km: distanceKm(site, other) }))
    .filter(({ km }) => km <= SHARING_KM)
    .sort((a, b) => a.km - b.km || (a.other.id < b.other.id ? -1 : 1))
    .map(({ other }) => other);
}

/** More than so many neighbours add nothing but reading. */
const SHARING_SITES = 4;

/** The neighbours whose weather fills a site's gaps, the nearest first. */
export function sharingSites(site: Site, sites: readonly Site[]): readonly Site[] {
  return weatherNeighbours(site, sites).slice(0, SHARING_SITES);
}

/**
 * A site's days with the gaps filled from its neighbours. A shared day keeps the id of the site it was seen at, which
 * marks it. Own values are never replaced: where the own day lacks only some, the neighbour's fill those.
 * @param neighbours the nearest first
 */
export function shareWeather(
  own: readonly WeatherDay[],
  neighbours: readonly (readonly WeatherDay[])[],
): readonly WeatherDay[] {
  const byDay = new Map(own.map((day) => [day.day, day]));
  for (const days of neighbours) {
    for (const day of days) {
      const known = byDay.get(day.day);
      byDay.set(day.day, known === undefined ? day : filled(known, day));
    }
  }
  return [...byDay.values()].sort((a, b) => (a.day < b.day ? -1 : 1));
}

function filled(own: WeatherDay, other: WeatherDay): WeatherDay {
  const temperatures = own.tminC !== null && own.tmaxC !== null;
  return {
    ...own,
    tminC: temperatures ? own.tminC : other.tminC,
    tmaxC: temperatures ? own.tmaxC : other.tmaxC,
    humidityFraction: own.humidityFraction ?? other.humidityFraction,
    windMPerS: own.windMPerS ?? other.windMPerS,
    solarMjPerM2: own.solarMjPerM2 ?? other.solarMjPerM2,
    rainMm: own.rainMm ?? other.rainMm,
    // A given ET0 belongs to its own place; beside own temperatures it would hide them.
    et0Mm: own.et0Mm ?? (temperatures ? null : other.et0Mm),
  };
}

/** Where a day was seen, if not at the site itself. */
export function sharedFrom(day: WeatherDay, siteId: SiteId): SiteId | null {
  return day.siteId === siteId ? null : day.siteId;
}
