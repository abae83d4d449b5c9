import { createHash } from 'node:crypto';
import { taskLine } from '../../alerts/alert-rules.js';
import { isOpen } from '../../alerts/task-life.js';
import { type Principal, WHOLE_FLEET } from '../../domain/access.js';
import type { Write } from '../../domain/change-set.js';
import type { EpochMs } from '../../domain/ids.js';
import { addDays } from '../../domain/local-day.js';
import type { CalendarFeed } from '../../domain/notify.js';
import type { Site } from '../../domain/registry.js';
import { render } from '../../domain/texts/render.js';
import type { RoundStop, Task } from '../../domain/work.js';
import { type App, allowed } from '../context.js';
import { localDaysOf } from '../fleet-view.js';
import { generateSecret } from '../people/secrets.js';
import { inTurn } from '../turns.js';
import type { Voice } from './outbox-runner.js';
import { firmZone, voiceOfPerson } from './voices.js';

/** A stop as a calendar shows it. */
export interface CalendarEntry {
  readonly id: string;
  readonly revision: number;
  readonly changedMs: EpochMs;
  readonly day: string;
  readonly startMs: null;
  readonly endMs: null;
  readonly title: string;
  readonly lines: readonly string[];
  readonly latitude: number;
  readonly longitude: number;
  readonly cancelled: boolean;
}

export interface CalendarContent {
  readonly name: string;
  readonly stops: readonly CalendarEntry[];
}

const DAYS_BACK = 14;
const DAYS_AHEAD = 60;
/** Revisions count from here, in minutes: they grow with each reading of the feed, and fit into 32 bits for ages. */
const REVISIONS_SINCE_MS = Date.UTC(2025, 0, 1);

/** Since when one's calendar address is in use; null where there is none. */
export async function ownCalendar(app: App, who: Principal): Promise<CalendarFeed | null> {
  own(who);
  return app.store.notify.calendarFeedOf(who.personId);
}

/** Makes one's private address; the one before ends. @returns the token, which cannot be shown again */
export function makeCalendar(app: App, who: Principal): Promise<string> {
  own(who);
  return inTurn(app.store, async () => {
    const nowMs = app.clock.nowMs();
    const token = generateSecret();
    const row: CalendarFeed = {
      tokenHash: hashOf(token),
      personId: who.personId,
      createdMs: nowMs,
      revokedMs: null,
    };
    await commit(app, who, [...(await revocation(app, who, nowMs)), { kind: 'calendar_feed', row }]);
    return token;
  });
}

/** Ends one's private address; doing it twice changes nothing. */
export function revokeCalendar(app: App, who: Principal): Promise<void> {
  own(who);
  return inTurn(app.store, async () => {
    const writes = await revocation(app, who, app.clock.nowMs());
    if (writes.length > 0) await commit(app, who, writes);
  });
}

/**
 * What the calendar behind a token shows: the person's stops, each a whole day, with its place in the round and the work.
 * No access notes: the address is all that guards it, and they may hold the code of a gate.
 * @returns null for a token that is unknown or revoked, or whose person is disabled
 */
export async function calendarOf(app: App, token: string): Promise<CalendarContent | null> {
  const feed = await app.store.notify.calendarFeed(hashOf(token));
  const person = feed === null ? null : await app.store.people.person(feed.personId);
  if (person === null || person.disabledAtMs !== null) return null;
  const nowMs = app.clock.nowMs();
  const today = localDaysOf(await firmZone(app)).dayOf(nowMs);
  const sites = new Map((await app.store.registry.sites(WHOLE_FLEET)).map((site) => [site.id, site]));
  const names = new Map((await app.store.registry.containers(WHOLE_FLEET)).map(({ id, name }) => [id, name]));
  const rows = await app.store.work.roundStops({
    fromDay: addDays(today, -DAYS_BACK),
    toDay: addDays(today, DAYS_AHEAD),
    technicianId: person.id,
  });
  const voice = await voiceOfPerson(app, person);
  const stops: CalendarEntry[] = [];
  for (const stop of rows) {
    const site = sites.get(stop.siteId);
    if (site === undefined) continue;
    const tasks = stop.state === 'planned' || stop.state === 'on_the_way' ? await openTasks(app, stop) : [];
    stops.push(entryOf(stop, site, tasks, names, voice, nowMs));
  }
  return { name: person.name, stops };
}

async function openTasks(app: App, stop: RoundStop): Promise<readonly Task[]> {
  const filter = { openOnly: true, settledSinceMs: null, siteId: stop.siteId, containerId: null };
  return (await app.store.work.tasks(WHOLE_FLEET, filter)).filter(isOpen);
}

function entryOf(
  stop: RoundStop,
  site: Site,
  tasks: readonly Task[],
  names: ReadonlyMap<string, string>,
  { catalogue, reader }: Voice,
  nowMs: EpochMs,
): CalendarEntry {
  const here = { ...reader, timeZone: site.timeZone };
  return {
    id: stop.id,
    revision: Math.floor((nowMs - REVISIONS_SINCE_MS) / 60_000),
    changedMs: nowMs,
    day: stop.day,
    startMs: null,
    endMs: null,
    title: `${stop.position + 1}. ${site.name}`,
    lines: tasks.map((task) =>
      render(catalogue, taskLine(task, names.get(task.containerId) ?? task.containerId), here),
    ),
    latitude: site.latitude,
    longitude: site.longitude,
    cancelled: stop.state === 'cancelled',
  };
}

async function revocation(app: App, who: Principal, nowMs: EpochMs): Promise<readonly Write[]> {
  const standing = await app.store.notify.calendarFeedOf(who.personId);
  return standing === null ? [] : [{ kind: 'calendar_feed', row: { ...standing, revokedMs: nowMs } }];
}

function hashOf(token: string): string {
  return createHash('sha256').update(token).digest('hex');
}

function own(who: Principal): void {
  allowed(who, 'contacts.own', { accountId: null, personId: who.personId });
}

async function commit(app: App, who: Principal, writes: readonly Write[]): Promise<void> {
  await app.store.commit({
    atMs: app.clock.nowMs(),
    actor: { kind: 'person', id: who.personId },
    writes,
    cursor: null,
  });
}
