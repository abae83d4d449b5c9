import { type Principal, WHOLE_FLEET } from '../../domain/access.js';
import type { Write } from '../../domain/change-set.js';
import { DomainError } from '../../domain/errors.js';
import type { PersonId, SiteId } from '../../domain/ids.js';
import type { Page, PageRequest } from '../../domain/ports/store.js';
import type { AccessLook, SiteAccess } from '../../domain/site-access.js';
import type { RoundStop } from '../../domain/work.js';
import { type App, allowed } from '../context.js';
import { localDaysOf } from '../fleet-view.js';

/** A page that shows a round loads it anew with each change; within so long that counts as one look. */
const SAME_LOOK_MS = 15 * 60_000;

/**
 * How to get into a site, and whom to call there. A technician is shown it on the day of an own stop there; the look is
 * on record before anything is shown.
 * @throws DomainError `not_found` for a site that is not there, and to a technician without a stop there today
 */
export async function lookAtSiteAccess(app: App, who: Principal, siteId: SiteId): Promise<SiteAccess> {
  allowed(who, 'access.read', { accountId: null, personId: who.personId });
  const site = await app.store.registry.site(WHOLE_FLEET, siteId);
  if (site === null) throw new DomainError('not_found', `There is no site “${siteId}”.`);
  const stopId = who.role === 'technician' ? (await ownStopToday(app, who.personId, siteId, site.timeZone)).id : null;
  const access = await app.store.access.siteAccess(siteId);
  await commit(app, who, [
    { kind: 'access_look', row: { atMs: app.clock.nowMs(), personId: who.personId, siteId, stopId } },
  ]);
  return access ?? { siteId, notes: null, contacts: [] };
}

/** Writes how to get into a site; nothing in it takes away what was there. */
export async function saveSiteAccess(app: App, who: Principal, row: SiteAccess): Promise<SiteAccess> {
  allowed(who, 'access.write');
  if ((await app.store.registry.site(WHOLE_FLEET, row.siteId)) === null) {
    throw new DomainError('not_found', `There is no site “${row.siteId}”. Create it first.`);
  }
  await commit(app, who, [{ kind: 'site_access', row }]);
  return row;
}

/** Who was shown how to get in where, newest first. */
export async function accessLooks(app: App, who: Principal, page: PageRequest): Promise<Page<AccessLook>> {
  allowed(who, 'audit.read');
  return app.store.access.looks(page);
}

/**
 * What goes along with a stop on a round that is shown: to its technician, on its day, so that it is on the phone where
 * there is no signal. Null to everybody else, who asks with {@link lookAtSiteAccess}.
 */
export async function accessOnRound(
  app: App,
  who: Principal,
  stop: RoundStop,
  timeZone: string,
): Promise<Pick<SiteAccess, 'notes' | 'contacts'> | null> {
  const isOwn = who.role === 'technician' && stop.technicianId === who.personId;
  if (!isOwn || stop.day !== localDaysOf(timeZone).dayOf(app.clock.nowMs())) return null;
  const access = await app.store.access.siteAccess(stop.siteId);
  if (access === null) return null;
  const nowMs = app.clock.nowMs();
  const lastMs = await app.store.access.lastLookMs(who.personId, stop.siteId);
  if (lastMs === null || nowMs < lastMs || nowMs - lastMs >= SAME_LOOK_MS) {
    await commit(app, who, [
      { kind: 'access_look', row: { atMs: nowMs, personId: who.personId, siteId: stop.siteId, stopId: stop.id } },
    ]);
  }
  return { notes: access.notes, contacts: access.contacts };
}

async function ownStopToday(app: App, personId: PersonId, siteId: SiteId, timeZone: string): Promise<RoundStop> {
  const day = localDaysOf(timeZone).dayOf(app.clock.nowMs());
  const stops = await app.store.work.roundStops({ fromDay: day, toDay: day, technicianId: personId });
  const stop = stops.find((one) => one.siteId === siteId && one.state !== 'cancelled');
  if (stop !== undefined) return stop;
  throw new DomainError(
    'not_found',
    `You have no stop at site “${siteId}” today, and how to get in is shown for that day only. Ask the dispatcher to put it on your round.`,
  );
}

async function commit(app: App, who: Principal, writes: readonly Write[]): Promise<void> {
  await app.store.commit({
    atMs: app.clock.nowMs(),
    actor: { kind: 'person', id: who.personId },
    writes,
    cursor: null,
  });
}
