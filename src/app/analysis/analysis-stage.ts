import { findSwaps } from '../../analytics/findings/nodes-swapped.js';
import type { LeadSkill } from '../../analytics/forecast-skill.js';
import type { FleetCalibration, PotContext } from '../../domain/analysis.js';
import type { Change } from '../../domain/change-set.js';
import type { ContainerId, EpochMs } from '../../domain/ids.js';
import { DAY_MS } from '../../domain/local-day.js';
import type { Clock } from '../../domain/ports/clock.js';
import type { WeatherDay } from '../../domain/weather.js';
import { systemClock } from '../clock.js';
import type { App } from '../context.js';
import { localDaysOf } from '../fleet-view.js';
import { Batch } from '../readings/batch.js';
import { breathe, inTurn } from '../turns.js';
import { outlookOrShared } from '../weather/weather-observations.js';
import { weatherSkillAt } from '../weather/weather-skill.js';
import { type AnalysisRegistry, contextOf, loadAnalysisRegistry, standingContainers } from './analysis-registry.js';
import { type DeskSources, PotDesk } from './pot-desk.js';
import { type Touch, type Touches, touchesOf, touchesRegistry } from './touches.js';

export const ANALYSIS_STAGE = 'analysis';

const STAGE_ACTOR = { kind: 'stage', id: ANALYSIS_STAGE } as const;

/** Lines of the change log taken at once. */
const PAGE = 1000;
/** Desks kept open; the least recently used is closed first. */
const MOST_DESKS = 20_000;

export interface AnalysisResult {
  /** Lines of the change log that were dealt with; zero: nothing was waiting. */
  readonly changes: number;
  readonly pots: number;
}

/**
 * Follows the change log and keeps every pot's analysis up to date. What it derives is a function of the inputs, and
 * writing it twice changes nothing; so a long catch-up is committed in parts, and only the last part moves the cursor.
 * A crash anywhere resumes at the cursor and comes to the same.
 */
export class AnalysisStage {
  readonly #app: App;
  readonly #desks = new Map<ContainerId, PotDesk>();
  /** Pots that were folded further and not yet spoken of. */
  readonly #unsaid = new Set<ContainerId>();
  readonly #outlooks = new Map<string, readonly WeatherDay[]>();
  readonly #skills = new Map<string, readonly LeadSkill[]>();
  #registry: AnalysisRegistry | null = null;
  #calibration: FleetCalibration | null = null;

  readonly #processClock: Clock;
  /** While a pot's history flows in, what is known of it ends somewhere in the past, and it is not spoken of. */
  readonly #historyUntilMs = new Map<ContainerId, EpochMs>();

  /** @param processClock tells whether history is still flowing in; the business clock may run at another speed */
  constructor(app: App, processClock: Clock = systemClock) {
    this.#app = app;
    this.#processClock = processClock;
  }

  /** Takes the next lines of the change log. Nothing is said of a pot while more is waiting: it would not be the last word. */
  step(): Promise<AnalysisResult> {
    return this.#alone(() => this.#step());
  }

  /**
   * Looks at every pot because time went by: silence, forecasts that widen, a day that is over. A pot whose history flows
   * in is left out; it is spoken of when that has ended.
   * @returns how many pots were spoken of; null while much is waiting to be read: none were then
   */
  evaluateAll(nowMs: EpochMs): Promise<number | null> {
    return this.#alone(() => this.#evaluateAll(nowMs));
  }

  /** Whoever read history in knows that nothing more comes: no pot waits for more of it. */
  historyIsWhole(): void {
    this.#historyUntilMs.clear();
  }

  /**
   * Once a night: pots of a site are compared with one another, for nodes that were exchanged.
   * @returns false while much is waiting to be read; nothing was compared then
   */
  compareSites(nowMs: EpochMs): Promise<boolean> {
    return this.#alone(() => this.#compareSites(nowMs));
  }

  async #alone<Result>(work: () => Promise<Result>): Promise<Result> {
    return inTurn(this, async () => {
      try {
        return await work();
      } catch (error) {
        // What is in memory may be ahead of what was committed; the store knows better.
        this.#desks.clear();
        this.#forgetWeather();
        this.#registry = null;
        throw error;
      }
    });
  }

  async #step(): Promise<AnalysisResult> {
    const { store, clock } = this.#app;
    const expectedSeq = await store.changes.cursor(ANALYSIS_STAGE);
    const changes = await store.changes.after(expectedSeq, PAGE);
    const last = changes.at(-1);
    const nowMs = clock.nowMs();
    if (last === undefined) {
      if ([...this.#unsaid].every((id) => this.#historyFlows(id))) return { changes: 0, pots: 0 };
      const batch = new Batch(this.#app.store, STAGE_ACTOR, nowMs);
      await this.#sayUnsaid(batch, nowMs);
      await batch.close(null);
      return { changes: 0, pots: 0 };
    }
    for (const change of changes) {
      if (change.containerId === null || !isHistory(change, nowMs)) continue;
      this.#historyUntilMs.set(change.containerId, this.#processClock.nowMs() + HISTORY_PAUSE_MS);
    }
    if (this.#registry === null || touchesRegistry(changes)) await this.#readRegistry();
    const { containersOfSite, sharersOfSite } = this.#known();
    const touches = touchesOf(
      changes,
      (siteId) => containersOfSite.get(siteId) ?? [],
      (siteId) => sharersOfSite.get(siteId) ?? [],
    );
    if (touches.weatherSites.size > 0) this.#forgetWeather();
    if (touches.calibration) await this.#readCalibration();
    const batch = new Batch(this.#app.store, STAGE_ACTOR, nowMs);
    await this.#followAll(touches, batch, nowMs);
    if (changes.length < PAGE) await this.#sayUnsaid(batch, nowMs);
    await batch.close({ stage: ANALYSIS_STAGE, expectedSeq, nextSeq: last.seq });
    return { changes: changes.length, pots: touches.pots.size };
  }

  async #followAll(touches: Touches, batch: Batch, nowMs: EpochMs): Promise<void> {
    const sources = await this.#sources();
    for (const touch of [...touches.pots.values()].sort((a, b) => (a.containerId < b.containerId ? -1 : 1))) {
      const ctx = contextOf(sources.registry, this.#calibration, touch.containerId);
      if (ctx === null) continue;
      const desk = this.#desks.get(touch.containerId);
      if (desk === undefined) {
        await this.#open(sources, ctx, touch.restartFromMs ?? earliestOf(touch, nowMs), nowMs, batch);
      } else {
        await batch.take(await desk.follow(sources, touch, nowMs));
      }
      this.#unsaid.add(touch.containerId);
      await breathe();
    }
  }

  async #sayUnsaid(batch: Batch, nowMs: EpochMs): Promise<void> {
    const standing = new Set(standingContainers(this.#known(), nowMs));
    const ready = [...this.#unsaid].filter((id) => !this.#historyFlows(id)).sort();
    await this.#say(
      ready.filter((id) => standing.has(id)),
      batch,
      nowMs,
    );
    for (const id of ready) this.#unsaid.delete(id);
  }

  async #compareSites(nowMs: EpochMs): Promise<boolean> {
    if (await this.#isBehind()) return false;
    if (this.#registry === null) await this.#readRegistry();
    const sources = await this.#sources();
    const standing = new Set(standingContainers(sources.registry, nowMs));
    const batch = new Batch(this.#app.store, STAGE_ACTOR, nowMs);
    for (const containerIds of sources.registry.containersOfSite.values()) {
      if (containerIds.some((id) => this.#historyFlows(id))) continue;
      const desks = new Map<ContainerId, PotDesk>();
      for (const id of containerIds.filter((one) => standing.has(one))) {
        const ctx = contextOf(sources.registry, this.#calibration, id);
        if (ctx === null) continue;
        desks.set(id, this.#desks.get(id) ?? (await this.#open(sources, ctx, nowMs, nowMs, batch)));
      }
      const summaries = [...desks.values()].map((desk) => desk.swapSummary()).filter((one) => one !== null);
      const drafts = findSwaps(summaries);
      for (const [id, desk] of desks) {
        await batch.take(desk.saySwap(drafts.find((draft) => draft.containerId === id) ?? null, nowMs));
      }
      await breathe();
    }
    await batch.close(null);
    return true;
  }

  #historyFlows(id: ContainerId): boolean {
    const untilMs = this.#historyUntilMs.get(id);
    if (untilMs === undefined) return false;
    if (this.#processClock.nowMs() < untilMs) return true;
    this.#historyUntilMs.delete(id);
    return false;
  }

  async #evaluateAll(nowMs: EpochMs): Promise<number | null> {
    if (await this.#isBehind()) return null;
    if (this.#registry === null) await this.#readRegistry();
    const batch = new Batch(this.#app.store, STAGE_ACTOR, nowMs);
    const pots = standingContainers(this.#known(), nowMs).filter((id) => !this.#historyFlows(id));
    await this.#say(pots, batch, nowMs);
    await batch.close(null);
    return pots.length;
  }

  /** A full page is waiting, so that what would be said now is not the last word. */
  async #isBehind(): Promise<boolean> {
    const { changes } = this.#app.store;
    return (await changes.after(await changes.cursor(ANALYSIS_STAGE), PAGE)).length === PAGE;
  }

  async #say(pots: readonly ContainerId[], batch: Batch, nowMs: EpochMs): Promise<void> {
    const sources = await this.#sources();
    for (const id of pots) {
      const ctx = contextOf(sources.registry, this.#calibration, id);
      if (ctx === null) continue;
      const desk = this.#desks.get(id) ?? (await this.#open(sources, ctx, nowMs, nowMs, batch));
      await batch.take(await desk.say(sources, nowMs));
      await breathe();
    }
  }

  async #open(sources: DeskSources, ctx: PotContext, fromMs: EpochMs, nowMs: EpochMs, batch: Batch): Promise<PotDesk> {
    const { desk, writes } = await PotDesk.open(sources, ctx, fromMs, nowMs);
    this.#desks.set(ctx.container.id, desk);
    if (this.#desks.size > MOST_DESKS) {
      const oldest = this.#desks.keys().next().value;
      if (oldest !== undefined) this.#desks.delete(oldest);
    }
    await batch.take(writes);
    return desk;
  }

  async #sources(): Promise<DeskSources> {
    return {
      store: this.#app.store,
      registry: this.#known(),
      knownSeq: await this.#app.store.changes.lastSeq(),
      outlook: (ctx, atMs) => this.#outlook(ctx, atMs),
      weatherSkill: (ctx, atMs) => this.#weatherSkill(ctx, atMs),
    };
  }

  /** The weather to come, as it was known at an instant; every pot of a site asks the same. */
  async #outlook(ctx: PotContext, atMs: EpochMs): Promise<readonly WeatherDay[]> {
    const day = localDaysOf(ctx.site.timeZone).dayOf(atMs);
    const key = `${ctx.site.id} ${atMs}`;
    const known = this.#outlooks.get(key);
    if (known !== undefined) return known;
    const outlook = await outlookOrShared(this.#app.store, ctx.site, day, atMs);
    if (this.#outlooks.size >= MOST_OUTLOOKS) this.#outlooks.clear();
    this.#outlooks.set(key, outlook);
    return outlook;
  }

  #forgetWeather(): void {
    this.#outlooks.clear();
    this.#skills.clear();
  }

  /** What the archive says of the site's forecasts; every pot of a site asks the same all day. */
  async #weatherSkill(ctx: PotContext, atMs: EpochMs): Promise<readonly LeadSkill[]> {
    const key = `${ctx.site.id} ${localDaysOf(ctx.site.timeZone).dayOf(atMs)}`;
    const known = this.#skills.get(key);
    if (known !== undefined) return known;
    const skill = await weatherSkillAt(this.#app.store, ctx.site, atMs);
    if (this.#skills.size >= MOST_OUTLOOKS) this.#skills.clear();
    this.#skills.set(key, skill);
    return skill;
  }

  #known(): AnalysisRegistry {
    if (this.#registry === null) throw new Error('the registry is read before it is used');
    return this.#registry;
  }

  async #readRegistry(): Promise<void> {
    this.#registry = await loadAnalysisRegistry(this.#app.store);
    await this.#readCalibration();
  }

  async #readCalibration(): Promise<void> {
    this.#calibration = await this.#app.store.pots.calibration();
    for (const [id, desk] of this.#desks) {
      const ctx = contextOf(this.#known(), this.#calibration, id);
      if (ctx === null) this.#desks.delete(id);
      else if (bearsOnFold(desk.context, ctx)) this.#desks.delete(id);
      else desk.useContext(ctx);
    }
  }
}

const MOST_OUTLOOKS = 4000;
/** Readings older than this when they arrive are history; what is true now stands at its end. */
const HISTORY_AGE_MS = DAY_MS;
/** History arrives in commits some tenths of a second apart; after a pause of this length it has ended. */
const HISTORY_PAUSE_MS = 3000;

function isHistory(change: Change, nowMs: EpochMs): boolean {
  return change.kind === 'readings' && change.toMs !== null && change.toMs < nowMs - HISTORY_AGE_MS;
}

/** Whether what changed reaches back into the fold; such a desk is opened anew, from the beginning. */
function bearsOnFold(before: PotContext, after: PotContext): boolean {
  const relevant = ({ container, site }: PotContext): string =>
    JSON.stringify([
      container.siteId,
      container.covered,
      container.installedOn,
      container.reservoir,
      container.soil,
      container.plants,
      site.latitude,
      site.longitude,
      site.elevationM,
      site.timeZone,
    ]);
  return relevant(before) !== relevant(after);
}

function earliestOf(touch: Touch, nowMs: EpochMs): EpochMs {
  return Math.min(nowMs, ...[...touch.readings, ...touch.weather, ...touch.visits].map((span) => span.fromMs));
}
