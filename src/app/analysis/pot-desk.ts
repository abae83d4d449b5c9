import { assess, isUsableState, type PotState, SETTLING_MS } from '../../analytics/analysis.js';
import { type SwapSummary, summariseForSwap } from '../../analytics/findings/nodes-swapped.js';
import { viewOf } from '../../analytics/view.js';
import { WHOLE_FLEET } from '../../domain/access.js';
import type { Checkpoint, DerivedRecords, PotContext, PotInput, WeatherSkill } from '../../domain/analysis.js';
import type { Write } from '../../domain/change-set.js';
import type { EpochMs } from '../../domain/ids.js';
import { DAY_MS } from '../../domain/local-day.js';
import type { Store } from '../../domain/ports/store.js';
import type { Finding, FindingDraft, FindingKind, Forecast } from '../../domain/pot.js';
import type { WeatherDay } from '../../domain/weather.js';
import { localDaysOf } from '../fleet-view.js';
import { breathe } from '../turns.js';
import { type AnalysisRegistry, promisedIntervalOf } from './analysis-registry.js';
import { mergeDerived } from './derived.js';
import { type PotChange, PotDriver, type TakeResult } from './pot-driver.js';
import { allInputs, readingInputs, weatherInputs, workInputs } from './pot-inputs.js';
import { findingChanges, isWorthKeeping } from './say.js';
import type { Touch } from './touches.js';

/** What a desk reaches out for. */
export interface DeskSources {
  readonly store: Store;
  readonly registry: AnalysisRegistry;
  /** The last line of the log when the sources were read: all up to it is in what a restart loads. */
  readonly knownSeq: number;
  outlook(ctx: PotContext, atMs: EpochMs): Promise<readonly WeatherDay[]>;
  weatherSkill(ctx: PotContext, atMs: EpochMs): Promise<readonly WeatherSkill[]>;
}

const SWAPPED: FindingKind = 'nodes_swapped';
/** Inputs folded before other work gets the thread; some 10 ms. */
const CHUNK_INPUTS = 100;
/** Checkpoints older than this before the head are thinned to one a week before they are written. */
const DAILY_CHECKPOINTS_MS = 9 * DAY_MS;
const WEEK_MS = 7 * DAY_MS;
/** At this hour of the wall clock a history that is read in is spoken about, as if the desk had been manned. */
const MORNING_HOUR = 7;
const MORNING_MINUTE = 30;

/**
 * One pot's analysis, kept up to date: its fold, and what was last said of it. Everything here can be made anew from the
 * store; it is kept so that a reading costs microseconds and not a second look at the last days.
 */
export class PotDesk {
  readonly #driver: PotDriver;
  #knownSeq: number;
  /** Inputs folded since others last had the thread. */
  #folded = 0;
  #saidMs: EpochMs;
  #openFindings: readonly Finding[];
  #lastForecast: Forecast | null;

  private constructor(
    driver: PotDriver,
    knownSeq: number,
    saidMs: EpochMs,
    openFindings: readonly Finding[],
    lastForecast: Forecast | null,
  ) {
    this.#driver = driver;
    this.#knownSeq = knownSeq;
    this.#saidMs = saidMs;
    this.#openFindings = openFindings;
    this.#lastForecast = lastForecast;
  }

  /** Opens a desk on what the store holds, and brings it up to date from `fromMs` on. */
  static async open(
    sources: DeskSources,
    ctx: PotContext,
    fromMs: EpochMs,
    nowMs: EpochMs,
  ): Promise<{ desk: PotDesk; writes: readonly Write[] }> {
    const { store } = sources;
    const id = ctx.container.id;
    const status = await store.pots.status(WHOLE_FLEET, id);
    const findings = await store.pots.findings(WHOLE_FLEET, { containerId: id, openOnly: true, fromMs: null });
    const saidMs = status?.atMs ?? Number.NEGATIVE_INFINITY;
    const recent = await store.pots.forecasts(WHOLE_FLEET, id, saidMs - 2 * DAY_MS, nowMs + 1);
    const desk = new PotDesk(new PotDriver(ctx), sources.knownSeq, saidMs, findings, recent.at(-1) ?? null);
    return { desk, writes: await desk.restart(sources, fromMs, nowMs) };
  }

  get context(): PotContext {
    return this.#driver.context;
  }

  useContext(ctx: PotContext): void {
    this.#driver.useContext(ctx);
  }

  /** Begins again at the last checkpoint before `fromMs`, with all that the store holds from there on. */
  async restart(sources: DeskSources, fromMs: EpochMs, nowMs: EpochMs): Promise<readonly Write[]> {
    const checkpoint = await this.#checkpoint(sources.store, fromMs);
    const inputs = await allInputs(
      { store: sources.store, assignments: sources.registry.assignments },
      this.#driver.context,
      checkpoint?.atMs ?? 0,
    );
    const writes = new DeskWrites(this.#driver.context);
    writes.add(this.#driver.restart(checkpoint, []));
    await this.#fold(sources, inputs, nowMs, writes);
    this.#knownSeq = sources.knownSeq;
    return writes.list(this.#driver.state.atMs);
  }

  /** Takes what a touch says has arrived. */
  async follow(sources: DeskSources, touch: Touch, nowMs: EpochMs): Promise<readonly Write[]> {
    if (touch.lastSeq <= this.#knownSeq) return [];
    if (touch.restartFromMs !== null) return this.restart(sources, touch.restartFromMs, nowMs);
    const arrivals = await this.#arrivals(sources.store, touch);
    const writes = new DeskWrites(this.#driver.context);
    const beyondMs = await this.#fold(sources, arrivals, nowMs, writes);
    if (beyondMs !== null) return this.restart(sources, beyondMs + SETTLING_MS, nowMs);
    return writes.list(this.#driver.state.atMs);
  }

  /** Says what can be said at an instant: the status, findings that came or went, and a forecast that brings news. */
  async say(sources: DeskSources, atMs: EpochMs): Promise<readonly Write[]> {
    const { writes, status } = await this.#say(sources, atMs);
    return [{ kind: 'status', row: status }, ...writes];
  }

  /** What its record says about the node on it, for comparison with the other pots of the site. */
  swapSummary(): SwapSummary | null {
    return summariseForSwap(viewOf(this.#driver.context, this.#driver.state), this.#driver.state.findings.jumps);
  }

  /** Says whether its node seems to be another pot's; null: it does not. */
  saySwap(draft: FindingDraft | null, atMs: EpochMs): readonly Write[] {
    const apart = this.#openFindings.filter((finding) => finding.kind === SWAPPED);
    const { changed, open } = findingChanges(apart, draft === null ? [] : [draft], atMs);
    this.#openFindings = [...this.#openFindings.filter((finding) => finding.kind !== SWAPPED), ...open];
    return changed.map((row): Write => ({ kind: 'finding', row }));
  }

  async #say(sources: DeskSources, atMs: EpochMs) {
    const ctx = this.#driver.context;
    const promisedIntervalS = promisedIntervalOf(sources.registry, ctx.container.id, atMs);
    const folded = this.#driver.state;
    // What a node promises holds from now on, and is no reason to fold a season again.
    const state: PotState = { ...folded, assignment: { ...folded.assignment, promisedIntervalS } };
    const weatherSkill = await sources.weatherSkill(ctx, atMs);
    const { status, findings } = assess({ ...ctx, weatherSkill }, state, atMs, await sources.outlook(ctx, atMs));
    // Exchanged nodes show only beside the other pots of the site; they are judged apart.
    const apart = this.#openFindings.filter((finding) => finding.kind === SWAPPED);
    const own = this.#openFindings.filter((finding) => finding.kind !== SWAPPED);
    const { changed, open } = findingChanges(own, findings, atMs);
    const writes = changed.map((row): Write => ({ kind: 'finding', row }));
    if (isWorthKeeping(this.#lastForecast, status.forecast, localDaysOf(ctx.site.timeZone))) {
      writes.push({ kind: 'forecast', row: status.forecast });
      this.#lastForecast = status.forecast;
    }
    this.#openFindings = [...open, ...apart];
    this.#saidMs = Math.max(this.#saidMs, atMs);
    return { writes, status };
  }

  async #checkpoint(store: Store, fromMs: EpochMs): Promise<Checkpoint<PotState> | null> {
    const stored = await store.pots.checkpoint(this.#driver.context.container.id, fromMs - SETTLING_MS);
    if (stored === null) return null;
    const state = JSON.parse(stored.stateJson) as PotState;
    return isUsableState(state) ? { atMs: stored.atMs, state } : null;
  }

  async #arrivals(store: Store, touch: Touch): Promise<PotInput[]> {
    const ctx = this.#driver.context;
    const parts = await Promise.all([
      ...touch.readings.map((span) => readingInputs(store, ctx.container.id, span.fromMs, span.toMs + 1)),
      ...touch.weather.map((span) => weatherInputs(store, ctx, span.fromMs, span.toMs + 1)),
      ...touch.visits.map((span) => workInputs(store, ctx.container.id, span.fromMs, span.toMs + 1)),
    ]);
    return parts.flat().sort((a, b) => a.timeMs - b.timeMs);
  }

  /**
   * Folds inputs in order of time, a chunk at a time, and speaks on each morning that is passed and was not spoken on.
   * @returns how far back a late input reaches, where that is beyond the driver's memory
   */
  async #fold(
    sources: DeskSources,
    inputs: readonly PotInput[],
    nowMs: EpochMs,
    writes: DeskWrites,
  ): Promise<EpochMs | null> {
    let at = 0;
    for (const morningMs of this.#mornings(inputs, nowMs)) {
      while (at < inputs.length && inputs[at]!.timeMs < morningMs) {
        const end = endOfChunk(inputs, at, morningMs);
        const beyondMs = await this.#takeChunk(inputs.slice(at, end), writes);
        if (beyondMs !== null) return beyondMs;
        at = end;
      }
      writes.say((await this.#say(sources, morningMs)).writes);
    }
    while (at < inputs.length) {
      const end = endOfChunk(inputs, at, Number.POSITIVE_INFINITY);
      const beyondMs = await this.#takeChunk(inputs.slice(at, end), writes);
      if (beyondMs !== null) return beyondMs;
      at = end;
    }
    return null;
  }

  async #takeChunk(chunk: readonly PotInput[], writes: DeskWrites): Promise<EpochMs | null> {
    const result: TakeResult = this.#driver.take(chunk);
    if (result.kind === 'rewind_beyond_memory') return result.toMs;
    if (result.kind === 'changed') writes.add(result);
    this.#folded += chunk.length;
    if (this.#folded >= CHUNK_INPUTS) {
      this.#folded = 0;
      await breathe();
    }
    return null;
  }

  /** Mornings between what was last said and the last reading; nothing is said of a time that is spoken for. */
  #mornings(inputs: readonly PotInput[], nowMs: EpochMs): readonly EpochMs[] {
    const readings = inputs.filter((input) => input.kind === 'reading');
    const first = readings[0];
    const last = readings.at(-1);
    if (first === undefined || last === undefined) return [];
    const days = localDaysOf(this.#driver.context.site.timeZone);
    const fromMs = Math.max(this.#saidMs, first.timeMs);
    const untilMs = Math.min(last.timeMs, nowMs);
    const mornings: EpochMs[] = [];
    for (let dayMs = days.startOfDayMs(fromMs); dayMs <= untilMs; dayMs = days.endOfDayMs(dayMs)) {
      const morningMs = days.atMs(days.dayOf(dayMs), MORNING_HOUR, MORNING_MINUTE);
      if (morningMs > fromMs && morningMs <= untilMs) mornings.push(morningMs);
    }
    return mornings;
  }
}

function endOfChunk(inputs: readonly PotInput[], at: number, beforeMs: EpochMs): number {
  const most = Math.min(inputs.length, at + CHUNK_INPUTS);
  let end = at;
  while (end < most && inputs[end]!.timeMs < beforeMs) end += 1;
  return end;
}

/** Gathers what runs of the fold changed, as one write of each kind. */
class DeskWrites {
  readonly #ctx: PotContext;
  readonly #said: Write[] = [];
  #derived: DerivedRecords | null = null;
  #checkpoints: Checkpoint<PotState>[] = [];
  #validUntilMs: EpochMs | null = null;

  constructor(ctx: PotContext) {
    this.#ctx = ctx;
  }

  add(change: PotChange): void {
    const days = localDaysOf(this.#ctx.site.timeZone);
    this.#derived = this.#derived === null ? change.derived : mergeDerived(this.#derived, change.derived, days);
    if (!change.rewound && change.checkpoints.length === 0) return;
    const validUntilMs = Math.max(0, change.validUntilMs);
    this.#validUntilMs = Math.min(this.#validUntilMs ?? validUntilMs, validUntilMs);
    this.#checkpoints = [...this.#checkpoints.filter((one) => one.atMs <= validUntilMs), ...change.checkpoints];
  }

  say(writes: readonly Write[]): void {
    this.#said.push(...writes);
  }

  list(headMs: EpochMs): readonly Write[] {
    const containerId = this.#ctx.container.id;
    const writes: Write[] = [];
    if (this.#derived !== null) writes.push({ kind: 'derived', containerId, derived: this.#derived });
    writes.push(...this.#said);
    if (this.#validUntilMs === null) return writes;
    const rows = thinned(this.#checkpoints, headMs).map(({ atMs, state }) => ({
      atMs,
      stateJson: JSON.stringify(state),
    }));
    return [...writes, { kind: 'checkpoints', containerId, validUntilMs: this.#validUntilMs, rows }];
  }
}

/** Every midnight of the last days, and the first of each week before them. */
function thinned(checkpoints: readonly Checkpoint<PotState>[], headMs: EpochMs): readonly Checkpoint<PotState>[] {
  const weeks = new Set<number>();
  return checkpoints.filter(({ atMs }) => {
    if (atMs > headMs - DAILY_CHECKPOINTS_MS) return true;
    const week = Math.floor(atMs / WEEK_MS);
    if (weeks.has(week)) return false;
    weeks.add(week);
    return true;
  });
}
