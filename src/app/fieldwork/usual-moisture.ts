import { WHOLE_FLEET } from '../../domain/access.js';
import type { EpochMs } from '../../domain/ids.js';
import { addDays } from '../../domain/local-day.js';
import type { Store } from '../../domain/ports/store.js';
import type { Container } from '../../domain/registry.js';
import { localDaysOf } from '../fleet-view.js';

/** What the soil usually holds is looked up over this many days. */
const USUAL_DAYS = 21;

/** The highest daily mean of a pot's soil moisture in the weeks before an instant; null where it was not measured. */
export async function usualMoistureOf(store: Store, container: Container, atMs: EpochMs): Promise<number | null> {
  const site = await store.registry.site(WHOLE_FLEET, container.siteId);
  const day = localDaysOf(site?.timeZone ?? 'UTC').dayOf(atMs);
  const rows = await store.pots.dayRollups(WHOLE_FLEET, container.id, addDays(day, -USUAL_DAYS), addDays(day, -1));
  const known = rows.flatMap(({ moistureMean }) => (moistureMean === null ? [] : [moistureMean]));
  return known.length === 0 ? null : Math.max(...known);
}
