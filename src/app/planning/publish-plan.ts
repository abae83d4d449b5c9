import { WHOLE_FLEET } from '../../domain/access.js';
import type { Actor, Write } from '../../domain/change-set.js';
import type { LocalDay, PersonId, SiteId } from '../../domain/ids.js';
import { addDays } from '../../domain/local-day.js';
import type { DraftStop, PlanContent, PublishedVisit } from '../../domain/plan.js';
import type { RoundStop } from '../../domain/work.js';
import type { App } from '../context.js';
import { acknowledgeDry, freeStopId } from '../fieldwork/round-stops.js';
import { localDaysOf } from '../fleet-view.js';
import { inTurn } from '../turns.js';

export interface Published {
  /** Stops that are new, moved or off their round. */
  readonly changed: number;
  readonly stops: number;
}

/**
 * Makes a draft the rounds that technicians see. What is done or under way stays; planned stops that the draft does not
 * have leave their round; what was planned for each stop is kept beside it. Publishing twice changes nothing.
 */
export function publishPlan(app: App, content: PlanContent, actor: Actor): Promise<Published> {
  return inTurn(app.store, async () => {
    const { store } = app;
    const nowMs = app.clock.nowMs();
    const today = localDaysOf(content.timeZone).dayOf(nowMs);
    const lastDay = addDays(content.firstDay, content.dayCount - 1);
    const standing = await store.work.roundStops({ fromDay: today, toDay: lastDay, technicianId: null });
    const told = new Map((await store.plans.publishedVisits(today, lastDay)).map((one) => [one.stopId, one]));
    const sites = new Set((await store.registry.sites(WHOLE_FLEET)).map((site) => site.id));
    const book = new Book(standing, told, content, today, nowMs, sites);
    const writes = book.writes();
    if (actor.kind === 'person') {
      for (const siteId of book.newlyPlanned()) writes.push(...(await acknowledgeDry(app, actor.id, siteId, nowMs)));
    }
    if (writes.length > 0) await store.commit({ atMs: nowMs, actor, writes, cursor: null });
    return { changed: book.changed, stops: book.stops };
  });
}

class Book {
  readonly #standing: readonly RoundStop[];
  readonly #told: ReadonlyMap<string, PublishedVisit>;
  readonly #content: PlanContent;
  readonly #today: LocalDay;
  readonly #nowMs: number;
  readonly #sites: ReadonlySet<SiteId>;
  readonly #new = new Set<SiteId>();
  changed = 0;
  stops = 0;

  constructor(
    standing: readonly RoundStop[],
    told: ReadonlyMap<string, PublishedVisit>,
    content: PlanContent,
    today: LocalDay,
    nowMs: number,
    sites: ReadonlySet<SiteId>,
  ) {
    this.#standing = standing;
    this.#told = told;
    this.#content = content;
    this.#today = today;
    this.#nowMs = nowMs;
    this.#sites = sites;
  }

  newlyPlanned(): ReadonlySet<SiteId> {
    return this.#new;
  }

  writes(): Write[] {
    const kept = new Set<string>();
    const placed: Write[] = [];
    for (const { personId, day, stops } of this.#content.rounds) {
      if (day < this.#today) continue;
      placed.push(...this.#round(personId, day, stops, kept));
    }
    const gone = this.#standing
      .filter((stop) => stop.state === 'planned' && !kept.has(stop.id))
      .map((stop): Write => ({ kind: 'round_stop', row: { ...stop, state: 'cancelled' } }));
    this.changed += gone.length;
    // Cancelled first: a site's stop that moves to another round leaves the old one before it appears on the new.
    return [...gone, ...placed];
  }

  #round(personId: PersonId, day: LocalDay, drafted: readonly DraftStop[], kept: Set<string>): Write[] {
    const own = this.#standing
      .filter((stop) => stop.technicianId === personId && stop.day === day && stop.state !== 'cancelled')
      .sort((a, b) => a.position - b.position);
    const frozen = new Set(drafted.filter((stop) => stop.reason === 'frozen').map((stop) => stop.siteId));
    // Done, under way, and what the plan took as given, in the order that it has.
    const settled = own.filter((stop) => stop.state !== 'planned' || frozen.has(stop.siteId));
    const busy = new Set(
      this.#standing
        .filter((stop) => stop.day === day && (stop.state === 'done' || stop.state === 'on_the_way'))
        .map((stop) => stop.siteId),
    );
    const fresh = drafted.filter(
      (stop) => stop.reason !== 'frozen' && this.#sites.has(stop.siteId) && !busy.has(stop.siteId),
    );
    const writes: Write[] = settled.map((stop, position) => {
      kept.add(stop.id);
      return { kind: 'round_stop', row: { ...stop, position } };
    });
    fresh.forEach((stop, index) => {
      const known = own.find((one) => one.siteId === stop.siteId && one.state === 'planned');
      const id = known?.id ?? freeStopId(this.#standing, { siteId: stop.siteId, technicianId: personId, day });
      const position = settled.length + index;
      kept.add(id);
      this.stops++;
      if (known === undefined) {
        this.changed++;
        this.#new.add(stop.siteId);
      } else if (known.position !== position) this.changed++;
      const row: RoundStop = { id, technicianId: personId, day, siteId: stop.siteId, position, state: 'planned' };
      writes.push({ kind: 'round_stop', row });
      const { siteId: _siteId, locked: _locked, ...plan } = stop;
      const told: PublishedVisit = { ...plan, stopId: id, publishedMs: this.#nowMs };
      if (!samePlan(this.#told.get(id), told)) writes.push({ kind: 'published_visit', day, row: told });
    });
    return writes;
  }
}

function samePlan(before: PublishedVisit | undefined, after: PublishedVisit): boolean {
  if (before === undefined) return false;
  return JSON.stringify({ ...before, publishedMs: 0 }) === JSON.stringify({ ...after, publishedMs: 0 });
}
