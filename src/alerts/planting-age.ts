import type { LocalDay } from '../domain/ids.js';
import { compare, type PotSituation, type SiteSituation } from './situation.js';

/** Until its roots reach the wick a new planting draws little; common practice, no source. */
const ROOTING_DAYS_MS = 21 * 86_400_000;

/** The day of the newest planting of the pot, or of the pot itself, that anybody wrote down. */
export function plantedDay(pot: PotSituation): LocalDay {
  const planted = pot.container.plants.flatMap((plant) => (plant.plantedOn === null ? [] : [plant.plantedOn]));
  return [pot.container.installedOn, ...planted].sort(compare).at(-1)!;
}

/** True while the newest planting of the pot, or the pot itself, is so young that little is expected of it. */
export function isNewlyPlanted(situation: Pick<SiteSituation, 'days' | 'nowMs'>, pot: PotSituation): boolean {
  return situation.nowMs - situation.days.startMs(plantedDay(pot)) < ROOTING_DAYS_MS;
}
