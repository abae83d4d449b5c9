import { ARCHIVE_DAYS, SEASON_DAYS, SkillHistory } from '../../analytics/forecast-archive.js';
import type { LeadSkill } from '../../analytics/forecast-skill.js';
import type { EpochMs } from '../../domain/ids.js';
import { addDays } from '../../domain/local-day.js';
import type { Store } from '../../domain/ports/store.js';
import type { Site } from '../../domain/registry.js';
import { localDaysOf } from '../fleet-view.js';
import { observedOrShared } from './weather-observations.js';

/** How far a site's forecasts are to be followed at an instant, by what the archive showed up to the day before. */
export async function weatherSkillAt(store: Store, site: Site, atMs: EpochMs): Promise<readonly LeadSkill[]> {
  const today = localDaysOf(site.timeZone).dayOf(atMs);
  const yesterday = addDays(today, -1);
  const [observed, issued] = await Promise.all([
    observedOrShared(store, site, addDays(today, -ARCHIVE_DAYS - SEASON_DAYS), yesterday),
    store.weather.forecastsOf(site.id, addDays(today, -ARCHIVE_DAYS), yesterday, atMs),
  ]);
  return new SkillHistory({ site }, observed, issued).at(atMs);
}
