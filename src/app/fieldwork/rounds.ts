import { type Principal, WHOLE_FLEET } from '../../domain/access.js';
import type { Write } from '../../domain/change-set.js';
import { DomainError } from '../../domain/errors.js';
import type { LocalDay, PersonId, SiteId } from '../../domain/ids.js';
import type { Site } from '../../domain/registry.js';
import type { RoundStop } from '../../domain/work.js';
import { type App, allowed } from '../context.js';
import { localDaysOf } from '../fleet-view.js';
import { inTurn } from '../turns.js';
import { settleSite } from './alarm-stage.js';
import { acknowledgeDry, freeStopId, isActive } from './round-stops.js';

export { isActive } from './round-stops.js';
export { round, rounds } from './round-views.js';

/**
 * Puts a site's stop on a technician's round. A stop of that site that is planned for the same day moves here from
 * whatever round it is on; planning it twice changes nothing. `position` null: last. Who plans a stop has seen why: the
 * dry alarms of its pots are acknowledged by it.
 */
export async function planStop(
  app: App,
  who: Principal,
  input: {
    readonly siteId: SiteId;
    readonly technicianId: PersonId;
    readonly day: LocalDay;
    readonly position: number | null;
  },
): Promise<RoundStop> {
  allowed(who, 'rounds.write');
  return inTurn(app.store, async () => {
    const site = await requireSite(app, input.siteId);
    await requireTechnician(app, input.technicianId);
    requireDayToCome(app, site, input.day);
    const ofDay = await stopsOfDay(app, input.day);
    const standing = ofDay.find((stop) => stop.siteId === input.siteId && isActive(stop)) ?? null;
    return place(app, who, ofDay, standing, input);
  });
}

/** Moves a planned stop to another technician, day or position; what is null stays as it is. */
export async function moveStop(
  app: App,
  who: Principal,
  input: {
    readonly stopId: string;
    readonly technicianId: PersonId | null;
    readonly day: LocalDay | null;
    readonly position: number | null;
  },
): Promise<RoundStop> {
  allowed(who, 'rounds.write');
  return inTurn(app.store, async () => {
    const standing = await requireStop(app, input.stopId);
    if (!isActive(standing)) throw over(standing);
    const technicianId = input.technicianId ?? standing.technicianId;
    const day = input.day ?? standing.day;
    await requireTechnician(app, technicianId);
    requireDayToCome(app, await requireSite(app, standing.siteId), day);
    const ofDay = await stopsOfDay(app, day);
    const twin = ofDay.find((stop) => stop.siteId === standing.siteId && isActive(stop) && stop.id !== standing.id);
    if (twin !== undefined) {
      throw new DomainError(
        'conflict',
        `Site ${standing.siteId} is planned for ${day} already, on the round of ${twin.technicianId}. Remove one of the two.`,
      );
    }
    return place(app, who, ofDay, standing, { siteId: standing.siteId, technicianId, day, position: input.position });
  });
}

/** Takes a planned stop off its round; its tasks are proposed again. */
export async function removeStop(app: App, who: Principal, stopId: string): Promise<void> {
  allowed(who, 'rounds.write');
  await inTurn(app.store, async () => {
    const standing = await requireStop(app, stopId);
    if (!isActive(standing)) throw over(standing);
    const rest = onRound(await stopsOfDay(app, standing.day), standing.technicianId, standing.id);
    await commitStops(app, who, [{ ...standing, state: 'cancelled' }, ...renumbered(rest)], []);
    await settleSite(app, standing.siteId);
  });
}

/** The technician sets out for a stop. */
export async function setOut(app: App, who: Principal, stopId: string): Promise<RoundStop> {
  return inTurn(app.store, async () => {
    const standing = await requireStop(app, stopId);
    allowed(who, 'visits.write', { accountId: null, personId: standing.technicianId });
    if (!isActive(standing)) throw over(standing);
    const row: RoundStop = { ...standing, state: 'on_the_way' };
    await commitStops(app, who, [row], []);
    await settleSite(app, standing.siteId);
    return row;
  });
}

async function place(
  app: App,
  who: Principal,
  ofDay: readonly RoundStop[],
  standing: RoundStop | null,
  to: { siteId: SiteId; technicianId: PersonId; day: LocalDay; position: number | null },
): Promise<RoundStop> {
  const stays = standing !== null && standing.technicianId === to.technicianId && standing.day === to.day;
  const rest = onRound(ofDay, to.technicianId, standing?.id ?? null);
  const at = to.position ?? (stays ? standing.position : rest.length);
  const moved: RoundStop = {
    id: stays ? standing.id : freeStopId(ofDay, to),
    technicianId: to.technicianId,
    day: to.day,
    siteId: to.siteId,
    position: 0,
    state: stays ? standing.state : 'planned',
  };
  const index = Math.min(Math.max(0, at), rest.length);
  const order = renumbered([...rest.slice(0, index), moved, ...rest.slice(index)]);
  const left: RoundStop[] = standing !== null && !stays ? [{ ...standing, state: 'cancelled' }] : [];
  const writes = await acknowledgeDry(app, who.personId, to.siteId, app.clock.nowMs());
  await commitStops(app, who, [...left, ...order], writes);
  await settleSite(app, to.siteId);
  return order[index]!;
}

function onRound(ofDay: readonly RoundStop[], technicianId: PersonId, without: string | null): readonly RoundStop[] {
  return ofDay
    .filter((stop) => stop.technicianId === technicianId && stop.state !== 'cancelled' && stop.id !== without)
    .sort((a, b) => a.position - b.position || (a.id < b.id ? -1 : 1));
}

function renumbered(stops: readonly RoundStop[]): readonly RoundStop[] {
  return stops.map((stop, position) => ({ ...stop, position }));
}

function stopsOfDay(app: App, day: LocalDay): Promise<readonly RoundStop[]> {
  return app.store.work.roundStops({ fromDay: day, toDay: day, technicianId: null });
}

async function requireStop(app: App, stopId: string): Promise<RoundStop> {
  const day = stopId.split(':')[1] ?? '';
  const stop = (await stopsOfDay(app, day)).find((candidate) => candidate.id === stopId);
  if (stop === undefined) throw new DomainError('not_found', `There is no stop ${stopId} on any round.`);
  return stop;
}

async function requireSite(app: App, siteId: SiteId): Promise<Site> {
  const site = await app.store.registry.site(WHOLE_FLEET, siteId);
  if (site === null) throw new DomainError('not_found', `There is no site ${siteId}.`);
  return site;
}

async function requireTechnician(app: App, technicianId: PersonId): Promise<void> {
  const person = await app.store.people.person(technicianId);
  if (person !== null && person.role === 'technician' && person.disabledAtMs === null) return;
  const detail = person === null ? `there is no person ${technicianId}` : `${person.name} drives no rounds`;
  throw new DomainError('invalid_input', `A round needs a technician: ${detail}.`, {
    faults: [{ pointer: '/technicianId', detail }],
  });
}

function requireDayToCome(app: App, site: Site, day: LocalDay): void {
  const today = localDaysOf(site.timeZone).dayOf(app.clock.nowMs());
  if (day >= today) return;
  throw new DomainError('invalid_input', `${day} is over at ${site.name}, where it is ${today}.`, {
    faults: [{ pointer: '/day', detail: `expected ${today} or later` }],
  });
}

function over(stop: RoundStop): DomainError {
  return new DomainError('conflict', `Stop ${stop.id} is ${stop.state} and stays as it is. Plan the site anew.`);
}

async function commitStops(
  app: App,
  who: Principal,
  stops: readonly RoundStop[],
  others: readonly Write[],
): Promise<void> {
  await app.store.commit({
    atMs: app.clock.nowMs(),
    actor: { kind: 'person', id: who.personId },
    writes: [...stops.map((row): Write => ({ kind: 'round_stop', row })), ...others],
    cursor: null,
  });
}
