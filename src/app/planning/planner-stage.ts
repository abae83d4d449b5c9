import { WHOLE_FLEET } from '../../domain/access.js';
import type { Change } from '../../domain/change-set.js';
import type { App } from '../context.js';
import type { Planner } from './planner.js';

export const PLANNER_STAGE = 'planner';
const BATCH = 500;

/** What changes who can go where. */
const ALWAYS: ReadonlySet<Change['kind']> = new Set(['absence', 'crew_terms', 'site_terms', 'truck', 'depot']);

/**
 * Follows the log for what upsets a plan: somebody is away, a truck breaks down, a site's hours change, a person moves a
 * stop, an urgent alarm is raised, or a visit did not come off (a locked gate, a pot that needed nothing). Then a draft
 * is made; what is published stays until somebody publishes it.
 */
export class PlannerStage {
  readonly #app: App;
  readonly #planner: Planner;

  constructor(app: App, planner: Planner) {
    this.#app = app;
    this.#planner = planner;
  }

  async step(): Promise<boolean> {
    const { changes, work } = this.#app.store;
    const cursor = await changes.cursor(PLANNER_STAGE);
    // A history that is read in is no news.
    if (cursor === 0) {
      await this.#moveOn(0, await changes.lastSeq());
      return false;
    }
    const batch = await changes.after(cursor, BATCH);
    const last = batch.at(-1);
    if (last === undefined) return false;
    const urgent = batch.filter((change) => change.kind === 'alarm');
    const visits = batch.filter((change) => change.kind === 'visit');
    const asks =
      batch.some((change) => ALWAYS.has(change.kind)) ||
      (await this.#movedByOffice(batch)) ||
      (urgent.length > 0 && (await this.#anyUrgent(new Set(urgent.map((change) => change.key))))) ||
      (await this.#anyFailed(new Set(visits.map((change) => change.key)), (id) => work.visit(id)));
    if (asks) this.#planner.request('event');
    await this.#moveOn(cursor, last.seq);
    return true;
  }

  /**
   * Somebody in the office put a stop elsewhere. Technicians only set out and are done, which is as planned; publishing a
   * draft moves stops too, but then the draft knows of it.
   */
  async #movedByOffice(batch: readonly Change[]): Promise<boolean> {
    if (batch.some((change) => change.kind === 'published_visit')) return false;
    const movers = new Set(
      batch.flatMap(({ kind, actor }) => (kind === 'round_stop' && actor.kind === 'person' ? [actor.id] : [])),
    );
    for (const id of movers) {
      if ((await this.#app.store.people.person(id))?.role !== 'technician') return true;
    }
    return false;
  }

  async #anyUrgent(ids: ReadonlySet<string>): Promise<boolean> {
    const standing = await this.#app.store.work.alarms(WHOLE_FLEET, { includeNormal: false, siteId: null });
    const nowMs = this.#app.clock.nowMs();
    return standing.some(
      (alarm) =>
        ids.has(alarm.id) &&
        alarm.priority === 'high' &&
        alarm.state === 'unacknowledged' &&
        nowMs - (alarm.raisedMs ?? 0) < RECENT_MS,
    );
  }

  async #anyFailed(
    ids: ReadonlySet<string>,
    visitOf: (id: string) => Promise<{ actions: readonly { exception: string | null }[] } | null>,
  ): Promise<boolean> {
    for (const id of ids) {
      const visit = await visitOf(id);
      if (visit !== null && visit.actions.length > 0 && visit.actions.every((action) => action.exception !== null)) {
        return true;
      }
    }
    return false;
  }

  async #moveOn(expectedSeq: number, nextSeq: number): Promise<void> {
    await this.#app.store.commit({
      atMs: this.#app.clock.nowMs(),
      actor: { kind: 'stage', id: PLANNER_STAGE },
      writes: [],
      cursor: { stage: PLANNER_STAGE, expectedSeq, nextSeq },
    });
  }
}

/** An alarm that was raised longer ago has been planned for already. */
const RECENT_MS = 3_600_000;
