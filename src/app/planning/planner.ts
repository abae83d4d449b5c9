import type { LaidStop } from '../../dispatch/crew.js';
import { stopsOfDraft, wishesToCome } from '../../dispatch/desk.js';
import type { PlanEdit } from '../../dispatch/edits.js';
import type { Offer, SiteStory, Supposed, Supposition } from '../../dispatch/questions.js';
import type { Actor, WriteKind } from '../../domain/change-set.js';
import { DomainError } from '../../domain/errors.js';
import type { EpochMs, PersonId, SiteId } from '../../domain/ids.js';
import { addDays } from '../../domain/local-day.js';
import type { Message } from '../../domain/message.js';
import type { PlanCause, PlanContent, PlanVersion, PlanWish } from '../../domain/plan.js';
import type { App } from '../context.js';
import { inTurn } from '../turns.js';
import type { Budget, PlanAnswers } from './plan-answers.js';
import { type LoadedPlan, loadPlan } from './plan-input.js';
import { learnFromVisits } from './plan-lookback.js';
import { PlanThread } from './plan-thread.js';
import { type Published, publishPlan } from './publish-plan.js';

export interface PlannerSettings {
  /** Search time of a run; null: by the number of sites. */
  readonly seconds: number | null;
  /** Instead of a time, for runs that have to come out the same. */
  readonly iterations: number | null;
  /** Whether the nightly run publishes what it finds, or leaves that to a person. */
  readonly publish: 'nightly' | 'by_hand';
  /** Whether the planner runs at night and on events by itself. */
  readonly automatic: boolean;
}

export const USUAL_PLANNER: PlannerSettings = { seconds: null, iterations: null, publish: 'nightly', automatic: true };

export interface PlannerState {
  readonly running: PlanCause | null;
  readonly runningSinceMs: EpochMs | null;
  readonly lastRunMs: EpochMs | null;
  readonly lastCause: PlanCause | null;
  /** Why the last run failed; null where it did not. */
  readonly trouble: string | null;
}

/** Actor of what the planner does by itself. */
export const PLANNER: Actor = { kind: 'stage', id: 'planner' };

/** Seconds of search for a fleet: more sites take longer to plan well. Ours, from `bench season` and `bench plan`. */
const LEAST_SECONDS = 4;
const SITES_PER_SECOND = 25;
const MOST_SECONDS = 120;
/** Share of the usual temperature for a search that goes on from rounds people know. */
const MENDING_HEAT = 0.15;
const QUESTION_ITERATIONS = 300;
/** What was loaded longer ago than this is loaded anew, behind the answer; longer ago than that, before it. */
const FRESH_MS = 60_000;
const STALE_MS = 600_000;
/** A draft older than this many days says too little of the days to come. */
const DRAFT_LASTS_DAYS = 2;

/** More changes than this are not looked through. */
const MOST_CHANGES = 500;
const AT_ONCE: ReadonlySet<WriteKind> = new Set([
  'round_stop',
  'visit',
  'absence',
  'crew_terms',
  'site_terms',
  'site',
  'container',
  'account',
  'truck',
  'depot',
  'person',
  'learned_pace',
]);

/**
 * Keeps the plan: one run at a time in a thread of its own, the last good draft until a better one is ready, and the
 * desk's questions in another thread.
 */
export class Planner {
  readonly #app: App;
  readonly #settings: PlannerSettings;
  readonly #searching = new PlanThread();
  readonly #answering = new PlanThread();
  #run: Promise<void> | null = null;
  #next: PlanCause | null = null;
  #state: PlannerState = { running: null, runningSinceMs: null, lastRunMs: null, lastCause: null, trouble: null };
  #loaded: { readonly plan: Promise<LoadedPlan>; readonly atMs: EpochMs; readonly seq: number } | null = null;
  #seed = 1;
  #closed = false;
  #preparing: Promise<void> = Promise.resolve();

  constructor(app: App, settings: PlannerSettings) {
    this.#app = app;
    this.#settings = settings;
  }

  get settings(): PlannerSettings {
    return this.#settings;
  }

  state(): PlannerState {
    return this.#state;
  }

  /** Asks for a run; while one is at work, one more follows it. What upset the plan may be asked about before the run is over. */
  request(cause: PlanCause): void {
    if (cause === 'event') this.prepare();
    if (this.#run !== null) {
      // The night's run may publish, so it outranks the others.
      if (this.#next === null || cause === 'night') this.#next = cause;
      return;
    }
    this.#run = this.#runs(cause).finally(() => {
      this.#run = null;
    });
  }

  /** Resolves when no run is at work or waiting. */
  async idle(): Promise<void> {
    while (this.#run !== null) await this.#run;
  }

  async close(): Promise<void> {
    this.#closed = true;
    this.#next = null;
    await Promise.all([this.#searching.close(), this.#answering.close()]);
    await this.#run;
    await this.#preparing;
  }

  /** Lays the published rounds out before anybody asks about them: with thousands of sites that is most of an answer. */
  prepare(): void {
    this.#preparing = this.#preparing.then(async () => {
      if (this.#closed) return;
      try {
        await this.#layOut(await this.#open());
      } catch (error) {
        // Whoever closes the server ends it, which is no fault; the next question tells of any other.
        if (!this.#closed) this.#app.log.warn({ err: error }, 'the rounds could not be laid out ahead of questions');
      }
    });
  }

  async #layOut(loaded: LoadedPlan): Promise<void> {
    const wishes = await this.#wishes(loaded);
    await this.#answering.ask<'prepare'>({ kind: 'prepare', base: loaded.published, wishes });
  }

  async #runs(first: PlanCause): Promise<void> {
    for (let cause: PlanCause | null = first; cause !== null; cause = this.#next) {
      this.#next = null;
      this.#state = { ...this.#state, running: cause, runningSinceMs: this.#app.clock.nowMs() };
      let trouble: string | null = null;
      try {
        await this.#once(cause);
      } catch (error) {
        // Whoever closes the server ends the run, which is no fault.
        if (this.#closed) return;
        trouble = error instanceof Error ? error.message : String(error);
        this.#app.log.error({ err: error, cause }, 'the planner failed; the last plan stays');
      }
      const lastRunMs = this.#app.clock.nowMs();
      this.#state = { running: null, runningSinceMs: null, lastRunMs, lastCause: cause, trouble };
    }
  }

  async #once(cause: PlanCause): Promise<void> {
    const { store } = this.#app;
    if (cause === 'night') await learnFromVisits(this.#app);
    const before = await store.plans.latestVersion();
    const loaded = await loadPlan(this.#app, []);
    const wishes = wishesToCome(before?.content.wishes ?? [], loaded.desk.plan.firstDay);
    const known = loaded.published.length > 0;
    const base = known ? loaded.published : before === null ? [] : stopsOfDraft(before.content);
    await this.#searching.ask<'load'>({ kind: 'load', loaded });
    const { content, better } = await this.#searching.ask<'search'>(
      {
        kind: 'search',
        base,
        wishes,
        budget: this.#budget(loaded.desk.plan.sites.length),
        seed: this.#seed++,
        heat: base.length > 0 ? MENDING_HEAT : 1,
      },
      (first) => {
        // Something to look at before it is good: only where there is nothing yet.
        if (before === null) void this.#keepFirst(first, cause);
      },
    );
    await this.#searching.stop();
    const drafted = await this.#keepRun(content, cause, before);
    if (!drafted) {
      // Somebody changed the draft meanwhile: what was found does not know of it.
      this.#next ??= cause;
      return;
    }
    if (cause === 'night' && this.#settings.publish === 'nightly') {
      const { changed } = await publishPlan(this.#app, content, PLANNER);
      this.#app.log.info({ changed, better, stops: content.totals.stops }, 'the night’s plan is published');
    }
    this.prepare();
  }

  #budget(sites: number): Budget {
    if (this.#settings.iterations !== null) return { iterations: this.#settings.iterations };
    const usual = Math.min(MOST_SECONDS, LEAST_SECONDS + sites / SITES_PER_SECOND);
    return { seconds: this.#settings.seconds ?? usual };
  }

  async #keepFirst(content: PlanContent, cause: PlanCause): Promise<void> {
    try {
      await inTurn(this.#app.store, async () => {
        if ((await this.#app.store.plans.latestVersion()) !== null) return;
        await this.#commit(content, cause, PLANNER, null);
      });
    } catch (error) {
      this.#app.log.error({ err: error }, 'the first draft could not be kept; the run goes on');
    }
  }

  /** @returns false where the draft is not any more what the run began with */
  #keepRun(content: PlanContent, cause: PlanCause, before: PlanVersion | null): Promise<boolean> {
    return inTurn(this.#app.store, async () => {
      const latest = await this.#app.store.plans.latestVersion();
      const byHand = latest !== null && (latest.cause === 'change' || latest.cause === 'undo');
      if (byHand && latest.seq !== before?.seq) return false;
      await this.#commit(content, cause, PLANNER, latest?.seq ?? null);
      return true;
    });
  }

  async #commit(content: PlanContent, cause: PlanCause, actor: Actor, previousSeq: number | null): Promise<void> {
    const atMs = this.#app.clock.nowMs();
    await this.#app.store.commit({
      atMs,
      actor,
      writes: [{ kind: 'plan_version', row: { madeMs: atMs, madeBy: actor.id, cause, previousSeq, content } }],
      cursor: null,
    });
  }

  /** The draft that counts: the latest version, as long as it is not outdated; else the rounds that are published. */
  async #draft(loaded: LoadedPlan): Promise<{ base: readonly LaidStop[]; wishes: readonly PlanWish[] }> {
    const { firstDay } = loaded.desk.plan;
    const latest = await this.#app.store.plans.latestVersion();
    const wishes = wishesToCome(latest?.content.wishes ?? [], firstDay);
    const fresh = latest !== null && addDays(latest.content.firstDay, DRAFT_LASTS_DAYS) > firstDay;
    const stops = fresh ? stopsOfDraft(latest.content) : loaded.published;
    const gone = new Set(loaded.desk.held.map((one) => one.stop.siteId));
    return { base: stops.filter((stop) => stop.day > firstDay || !gone.has(stop.siteId)), wishes };
  }

  /** What the desk's questions are asked of; loaded anew where the store has moved on. */
  async #open(): Promise<LoadedPlan> {
    const nowMs = this.#app.clock.nowMs();
    const seq = await this.#app.store.changes.lastSeq();
    const known = this.#loaded;
    const age = known === null ? Number.POSITIVE_INFINITY : Math.abs(nowMs - known.atMs);
    if (known !== null && age < STALE_MS && !(await this.#outdated(known.seq))) {
      const { plan } = known;
      if (age >= FRESH_MS) {
        // Who asks now has levels that are some minutes old, and who asks next has new ones.
        this.forget();
        setImmediate(() => this.prepare());
      }
      return plan;
    }
    const plan = loadPlan(this.#app, []).then(async (loaded) => {
      await this.#answering.ask<'load'>({ kind: 'load', loaded });
      return loaded;
    });
    this.#loaded = { plan, atMs: nowMs, seq };
    plan.catch(() => {
      this.#loaded = null;
    });
    return plan;
  }

  /** Levels may be some minutes old; who works, where one may go and what is on the rounds may not. */
  async #outdated(sinceSeq: number): Promise<boolean> {
    const changes = await this.#app.store.changes.after(sinceSeq, MOST_CHANGES);
    return changes.length === MOST_CHANGES || changes.some((change) => AT_ONCE.has(change.kind));
  }

  /** What was loaded is outdated: rounds, absences or terms have changed. */
  forget(): void {
    this.#loaded = null;
  }

  /**
   * Changes the draft by hand, or only tells what that would bring.
   * @throws DomainError `conflict` where the draft is not the one that the person saw
   */
  async change(
    edits: readonly PlanEdit[],
    options: { readonly dryRun: boolean; readonly seq: number | null; readonly actor: Actor },
  ): Promise<{ readonly edited: PlanAnswers['edit']; readonly seq: number | null }> {
    const loaded = await this.#open();
    return inTurn(this.#app.store, async () => {
      const latest = await this.#app.store.plans.latestVersion();
      if (options.seq !== null && latest !== null && latest.seq !== options.seq) {
        throw new DomainError(
          'conflict',
          `The draft has moved on from version ${options.seq} to ${latest.seq}. Load the plan again, and look at it before you change it.`,
        );
      }
      const { base, wishes } = await this.#draft(loaded);
      const edited = await this.#answering.ask<'edit'>({ kind: 'edit', base, wishes, edits });
      if (options.dryRun || edited.refused.length > 0) return { edited, seq: latest?.seq ?? null };
      await this.#commit(edited.content, 'change', options.actor, latest?.seq ?? null);
      return { edited, seq: (await this.#app.store.plans.latestVersion())?.seq ?? null };
    });
  }

  /** @throws DomainError `conflict` where there is nothing to go back to */
  undo(actor: Actor): Promise<void> {
    return inTurn(this.#app.store, async () => {
      const { store, clock } = this.#app;
      const latest = await store.plans.latestVersion();
      const previous = latest?.previousSeq == null ? null : await store.plans.version(latest.previousSeq);
      if (previous === null) throw new DomainError('conflict', 'There is no earlier draft to go back to.');
      const atMs = clock.nowMs();
      const { content, previousSeq } = previous;
      await store.commit({
        atMs,
        actor,
        writes: [
          { kind: 'plan_version', row: { madeMs: atMs, madeBy: actor.id, cause: 'undo', previousSeq, content } },
        ],
        cursor: null,
      });
    });
  }

  /** @throws DomainError `conflict` without a draft, or where it is not the one that the person saw */
  async publish(seq: number | null, actor: Actor): Promise<Published> {
    const latest = await this.#app.store.plans.latestVersion();
    if (latest === null) throw new DomainError('conflict', 'There is no draft yet. Ask for a plan first.');
    if (seq !== null && seq !== latest.seq) {
      throw new DomainError(
        'conflict',
        `The draft has moved on from version ${seq} to ${latest.seq}. Load the plan again, and look at it before you publish it.`,
      );
    }
    const published = await publishPlan(this.#app, latest.content, actor);
    this.forget();
    this.prepare();
    return published;
  }

  async offers(siteId: SiteId): Promise<readonly Offer[]> {
    const loaded = await this.#open();
    const wishes = await this.#wishes(loaded);
    return this.#answering.ask<'offers'>({ kind: 'offers', siteId, base: loaded.published, wishes });
  }

  async story(siteId: SiteId): Promise<SiteStory | null> {
    const loaded = await this.#open();
    const about = await this.#draft(loaded);
    return this.#answering.ask<'story'>({ kind: 'story', siteId, iterations: QUESTION_ITERATIONS, ...about });
  }

  async suppose(supposition: Supposition): Promise<Supposed> {
    const loaded = await this.#open();
    const about = await this.#draft(loaded);
    return this.#answering.ask<'what_if'>({
      kind: 'what_if',
      supposition,
      iterations: QUESTION_ITERATIONS,
      ...about,
    });
  }

  /**
   * Takes an offer: the urgent stop goes into today's published round at once, with the times of the others as they are
   * then. The draft follows with the next run.
   * @returns what stands in the way; empty where it is done
   */
  async accept(siteId: SiteId, personId: PersonId, actor: Actor): Promise<readonly Message[]> {
    const loaded = await this.#open();
    const { firstDay } = loaded.desk.plan;
    const wishes = await this.#wishes(loaded);
    const offers = await this.#answering.ask<'offers'>({ kind: 'offers', siteId, base: loaded.published, wishes });
    const offer = offers.find((one) => one.personId === personId);
    if (offer === undefined) return [{ code: 'plan.refused.no_offer', params: {} }];
    const fromDay = loaded.published.find((stop) => stop.siteId === siteId && stop.day === firstDay);
    const to = { siteId, personId, position: offer.position };
    const edit: PlanEdit =
      fromDay === undefined
        ? { kind: 'add', day: firstDay, ...to }
        : { kind: 'move', fromDay: firstDay, toDay: firstDay, ...to };
    const edited = await this.#answering.ask<'edit'>({ kind: 'edit', base: loaded.published, wishes, edits: [edit] });
    if (edited.refused.length > 0) return edited.refused;
    await publishPlan(this.#app, edited.content, actor);
    this.forget();
    this.request('event');
    return [];
  }

  async #wishes(loaded: LoadedPlan): Promise<readonly PlanWish[]> {
    const latest = await this.#app.store.plans.latestVersion();
    return wishesToCome(latest?.content.wishes ?? [], loaded.desk.plan.firstDay);
  }
}
