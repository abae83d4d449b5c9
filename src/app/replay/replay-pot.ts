import { assess, findingsAt, type PotState, SETTLING_MS } from '../../analytics/analysis.js';
import type { CalibratedPot } from '../../analytics/calibration.js';
import { type SwapSummary, summariseForSwap } from '../../analytics/findings/nodes-swapped.js';
import type { SkillHistory } from '../../analytics/forecast-archive.js';
import { calendarOf } from '../../analytics/marks.js';
import { strappingOf } from '../../analytics/state.js';
import type { Strapping } from '../../analytics/strapping.js';
import { viewOf } from '../../analytics/view.js';
import type { PotContext, PotInput } from '../../domain/analysis.js';
import type { EpochMs } from '../../domain/ids.js';
import type { Finding, Forecast, PotEvent } from '../../domain/pot.js';
import type { WeatherDay } from '../../domain/weather.js';
import { evaluationTimes } from '../analysis/evaluation-times.js';
import { PotDriver } from '../analysis/pot-driver.js';
import { findingChanges } from '../analysis/say.js';
import type { KnownOutcome } from './replay-calibration.js';

/** An input and the moment at which it became known. */
export interface Arrival {
  readonly receivedMs: EpochMs;
  readonly input: PotInput;
}

export interface PotReplay {
  readonly ctx: PotContext;
  /** What its node promises (the registry's word of today, as in the live service); null where nothing. */
  readonly promisedIntervalS: number | null;
  /** In any order; those of one moment keep their order. */
  readonly arrivals: readonly Arrival[];
  /** Forecasts of the site, each with the moment of its issue. */
  readonly forecasts: readonly WeatherDay[];
  /** What those forecasts have been worth. */
  readonly skill: SkillHistory;
  /** Increasing. */
  readonly originsMs: readonly EpochMs[];
  /** Moments at which the pots of the site are compared with one another, increasing. */
  readonly comparedMs: readonly EpochMs[];
}

export interface PotReplayResult {
  readonly forecasts: readonly Forecast[];
  /** As they stand at the end, by start. */
  readonly events: readonly PotEvent[];
  /** Each as it was last said, by opening. */
  readonly findings: readonly Finding[];
  /** What the pot showed of its node at each comparison; null where it has none. */
  readonly summaries: readonly (SwapSummary | null)[];
  /** How the waits for the dry date ended, by time. */
  readonly outcomes: readonly KnownOutcome[];
  readonly pot: CalibratedPot;
}

/** Forecasts older than this say nothing about the days to come. */
const OUTLOOK_MS = 20 * 86_400_000;

/**
 * Lives through a pot's history as the service would have: takes what arrives when it arrives, looks at the pot after
 * each arrival and at the usual times between, and answers at each origin by what was received up to it.
 */
export function replayPot(replay: PotReplay): PotReplayResult {
  const { ctx, originsMs } = replay;
  const calendar = calendarOf(ctx);
  const strapping = strappingOf(ctx);
  const arrivals = [...replay.arrivals].sort((a, b) => a.receivedMs - b.receivedMs);
  const issues = [...replay.forecasts].sort((a, b) => (a.issuedMs ?? 0) - (b.issuedMs ?? 0));
  const driver = new PotDriver(ctx, { keepMs: furthestBackMs(arrivals), openRows: false });
  const desk = new FindingDesk(driver, replay.promisedIntervalS);
  const outcomes = new OutcomeWatch(strapping, ctx.container.reservoir.wickFootMm);
  const events = new Map<string, PotEvent>();
  const forecasts: Forecast[] = [];
  const summaries: (SwapSummary | null)[] = [];
  let origin = 0;
  const answerUntil = (beforeMs: EpochMs): void => {
    while (summaries.length < replay.comparedMs.length && replay.comparedMs[summaries.length]! < beforeMs) {
      const heard = driver.state.latest.readingMs !== null;
      summaries.push(heard ? summariseForSwap(viewOf(ctx, driver.state), driver.state.findings.jumps) : null);
    }
    while (origin < originsMs.length && originsMs[origin]! < beforeMs) {
      const originMs = originsMs[origin]!;
      const state = withPromise(driver.state, replay.promisedIntervalS);
      const asOf: PotContext = { ...ctx, weatherSkill: replay.skill.at(originMs) };
      forecasts.push(assess(asOf, state, originMs, outlookAt(issues, originMs)).status.forecast);
      origin += 1;
    }
  };
  let nowMs: EpochMs | null = null;
  for (let at = 0; at < arrivals.length; ) {
    const { receivedMs } = arrivals[at]!;
    if (nowMs !== null) for (const ms of evaluationTimes(nowMs, receivedMs - 1, calendar)) desk.lookAt(ms);
    answerUntil(receivedMs);
    const group: PotInput[] = [];
    for (; at < arrivals.length && arrivals[at]!.receivedMs === receivedMs; at++) group.push(arrivals[at]!.input);
    const result = driver.take(group);
    if (result.kind === 'rewind_beyond_memory') throw new Error('the driver keeps as much as its arrivals reach back');
    if (result.kind === 'changed') {
      if (result.rewound) {
        for (const [id, event] of events) if (event.startMs >= result.derived.fromMs) events.delete(id);
      }
      for (const id of result.derived.withdrawnEvents) events.delete(id);
      for (const event of result.derived.events) events.set(event.id, event);
    }
    desk.lookAt(receivedMs);
    outcomes.look(driver.state, receivedMs);
    nowMs = receivedMs;
  }
  const lastOriginMs = originsMs.at(-1);
  if (nowMs !== null && lastOriginMs !== undefined) {
    for (const ms of evaluationTimes(nowMs, lastOriginMs, calendar)) desk.lookAt(ms);
  }
  answerUntil(Number.POSITIVE_INFINITY);
  return {
    forecasts,
    events: [...events.values()].sort((a, b) => a.startMs - b.startMs || (a.id < b.id ? -1 : 1)),
    findings: desk.record(),
    summaries,
    outcomes: outcomes.seen,
    pot: { covered: ctx.container.covered, deadLitres: strapping.deadLitres },
  };
}

/** How far behind the newest input known at the time an arrival reaches, and what it may unmake before that. */
function furthestBackMs(arrivals: readonly Arrival[]): number {
  let newestMs = Number.NEGATIVE_INFINITY;
  let furthestMs = 0;
  for (const { input } of arrivals) {
    newestMs = Math.max(newestMs, input.timeMs);
    furthestMs = Math.max(furthestMs, newestMs - input.timeMs);
  }
  return furthestMs + SETTLING_MS;
}

/** Sees the reservoir fall dry and be refilled. */
class OutcomeWatch {
  readonly seen: KnownOutcome[] = [];
  readonly #strapping: Strapping;
  readonly #footMm: number;
  #dry = true;
  #lastRefillMs = 0;

  constructor(strapping: Strapping, footMm: number) {
    this.#strapping = strapping;
    this.#footMm = footMm;
  }

  look(state: PotState, knownMs: EpochMs): void {
    const { levelMm, levelMs } = state.cleaning;
    if (levelMm === null) return;
    const dry = levelMm <= this.#footMm;
    if (dry && !this.#dry) this.seen.push({ kind: 'dry', atMs: levelMs, litres: null, knownMs });
    this.#dry = dry;
    const last = state.events.records.at(-1)?.event;
    if (last !== undefined && last.kind === 'refill' && last.startMs > this.#lastRefillMs) {
      this.#lastRefillMs = last.startMs;
      const litres = Math.max(0, this.#strapping.litresAt(last.startLevelMm));
      this.seen.push({ kind: 'refilled', atMs: last.startMs, litres, knownMs });
    }
  }
}

/** Keeps the record of what was said about a pot, as the live stage does. */
class FindingDesk {
  readonly #driver: PotDriver;
  readonly #promisedIntervalS: number | null;
  readonly #record = new Map<string, Finding>();
  #open: readonly Finding[] = [];
  /** The state as last looked at, with the promise: nothing changes between one arrival and the next. */
  #seen: { readonly state: PotState; readonly promised: PotState } | null = null;

  constructor(driver: PotDriver, promisedIntervalS: number | null) {
    this.#driver = driver;
    this.#promisedIntervalS = promisedIntervalS;
  }

  lookAt(nowMs: EpochMs): void {
    const { state, context } = this.#driver;
    if (this.#seen?.state !== state) this.#seen = { state, promised: withPromise(state, this.#promisedIntervalS) };
    const drafts = findingsAt(context, this.#seen.promised, nowMs);
    if (drafts.length === 0 && this.#open.length === 0) return;
    const { changed, open } = findingChanges(this.#open, drafts, nowMs);
    for (const finding of changed) this.#record.set(finding.id, finding);
    this.#open = open;
  }

  record(): readonly Finding[] {
    return [...this.#record.values()].sort((a, b) => a.openedMs - b.openedMs || (a.id < b.id ? -1 : 1));
  }
}

function withPromise(state: PotState, promisedIntervalS: number | null): PotState {
  return promisedIntervalS === null ? state : { ...state, assignment: { ...state.assignment, promisedIntervalS } };
}

/** What had been issued by an instant, and not too long before it. */
function outlookAt(issues: readonly WeatherDay[], nowMs: EpochMs): readonly WeatherDay[] {
  let end = upper(issues, nowMs);
  const outlook: WeatherDay[] = [];
  for (; end > 0; end--) {
    const day = issues[end - 1]!;
    if ((day.issuedMs ?? 0) < nowMs - OUTLOOK_MS) break;
    outlook.push(day);
  }
  return outlook;
}

function upper(issues: readonly WeatherDay[], nowMs: EpochMs): number {
  let low = 0;
  let high = issues.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if ((issues[middle]!.issuedMs ?? 0) <= nowMs) low = middle + 1;
    else high = middle;
  }
  return low;
}
