import type { FoldResult, PotContext, PotInput } from '../domain/analysis.js';
import type { EpochMs } from '../domain/ids.js';
import { HOUR_MS } from '../domain/local-day.js';
import type { PotReading } from '../domain/pot.js';
import { type BlockKind, packBlock } from './block.js';
import { closeBlock, POST_REFILL_MS } from './blocks.js';
import { bookLitres, expectedRate, usedBetween } from './bookkeeping.js';
import type { CleanReading, Verdict } from './clean-reading.js';
import { type CleaningResult, cleanLevel, isStuck } from './cleaning.js';
import { takeCorrection } from './correct-event.js';
import { stepDay } from './daily-step.js';
import { addToStats } from './day-stats.js';
import type { EventStep, EventSurroundings } from './event-records.js';
import { observeLevels } from './events.js';
import { knownLeak, observeBlock, observeDay, observeEvent, observeReading } from './findings/state.js';
import { FoldOutput } from './fold-output.js';
import { judgeAgain } from './judge-event.js';
import { leakedLitres } from './leak-flow.js';
import { closeDay, type OpenLedgerDay } from './ledger.js';
import { calendarOf, hourOf, nextMark, type SiteCalendar } from './marks.js';
import { remember } from './recent.js';
import { rememberMoisture } from './rise.js';
import { addToSums, startSums } from './rollups.js';
import { observeSoil, soilMayTake } from './soil.js';
import { overflowEvent, overflowId } from './spill.js';
import { type PotState, strappingOf } from './state.js';
import { viewOf } from './view.js';
import { rainBetween, rememberWeather } from './weather-memory.js';

type Draft = { -readonly [Key in keyof PotState]: PotState[Key] };

/** Levels this far above the table's last pair come from no vessel. */
const HEADROOM = 1.6;
const HEADROOM_MM = 60;
/** A rise may go over a midnight, and the rain of its last day is known when that day is over. */
const EVENTS_REJUDGED_MS = 60 * HOUR_MS;
/** A soil that has dried out draws this much faster after a refill. */
const REWETTING_MM_PER_HOUR = 15;
/** Before the filter knows the planting, any loss may be its use. */
const ANY_USE_SD_LITRES = 1e6;

/** One run of the fold over one pot: the state moves, and what is derived is collected. */
export class Fold {
  readonly #ctx: PotContext;
  readonly #calendar: SiteCalendar;
  readonly #draft: Draft;
  readonly #fromMs: EpochMs;
  readonly #output: FoldOutput;
  readonly #onClean: ((reading: CleanReading, state: PotState) => void) | null;

  /** @param onClean is told of each reading after it was cleaned */
  constructor(
    ctx: PotContext,
    state: PotState,
    onClean: ((reading: CleanReading, state: PotState) => void) | null = null,
  ) {
    this.#onClean = onClean;
    this.#ctx = ctx;
    this.#calendar = calendarOf(ctx);
    this.#draft = { ...state };
    this.#fromMs = state.atMs;
    this.#output = new FoldOutput(ctx.container.id);
  }

  /** @throws Error where the input is earlier than the state */
  take(input: PotInput): void {
    const { timeMs } = input;
    const draft = this.#draft;
    if (timeMs < draft.atMs) {
      throw new Error(`input of ${timeMs} is earlier than the state's instant ${draft.atMs}: rewind first`);
    }
    this.#passMarks(timeMs);
    draft.atMs = timeMs;
    switch (input.kind) {
      case 'reading':
        this.#takeReading(input.reading);
        break;
      case 'weather':
        draft.weather = rememberWeather(this.#ctx, draft.weather, input.day);
        this.#applyEvents(judgeAgain(draft.events, this.#surroundings(), timeMs - EVENTS_REJUDGED_MS));
        break;
      case 'work':
        this.#takeWork(input);
        break;
      case 'correction':
        this.#takeCorrection(input);
        break;
      case 'assignment':
        draft.assignment = {
          nodeId: input.nodeId,
          sinceMs: timeMs,
          promisedIntervalS: input.promisedIntervalS,
          ended: input.nodeId === null,
        };
        break;
    }
  }

  /** @param openRows also give the hour, the day and the account in course, as far as they have come */
  result(openRows: boolean): FoldResult<PotState> {
    if (openRows) this.#putOpen();
    return {
      state: { ...this.#draft },
      derived: this.#output.derived(this.#fromMs),
      checkpoints: this.#output.checkpoints,
    };
  }

  /** Runs the daily work of every mark up to and including `toMs`. */
  #passMarks(toMs: EpochMs): void {
    const draft = this.#draft;
    if (draft.nextMarkMs === 0) {
      this.#setMark(toMs);
      return;
    }
    while (draft.nextMarkMs <= toMs) {
      const atMs = draft.nextMarkMs;
      const kind = draft.nextMarkKind;
      draft.atMs = atMs;
      if (kind === 'midnight') this.#passMidnight(atMs);
      else this.#turnBlock(atMs);
      if (kind === 'dawn') this.#passDawn(atMs);
      this.#setMark(atMs);
      if (draft.openBlock === null && kind !== 'midnight') this.#openBlock(atMs, 0);
      // It holds all that is dated before midnight, and that the midnight is passed.
      if (kind === 'midnight') this.#output.checkpoints.push({ atMs, state: { ...draft } });
    }
  }

  #setMark(afterMs: EpochMs): void {
    const next = nextMark(this.#calendar, afterMs);
    this.#draft.nextMarkMs = next.atMs;
    this.#draft.nextMarkKind = next.kind;
  }

  #passDawn(atMs: EpochMs): void {
    const draft = this.#draft;
    const { changes, record, blocks } = stepDay(this.#ctx, draft, atMs);
    Object.assign(draft, changes);
    const view = viewOf(this.#ctx, draft);
    let { findings } = draft;
    for (const block of blocks) findings = observeBlock(view, findings, block);
    draft.findings = observeDay(view, findings, record);
    this.#putYesterday();
  }

  #passMidnight(atMs: EpochMs): void {
    const draft = this.#draft;
    if (draft.hour !== null) this.#output.putHour(draft.hour);
    if (draft.day !== null) this.#output.putDay(this.#calendar.at(draft.day.fromMs).name, draft.day);
    draft.hour = null;
    draft.day = null;
    const { today } = draft.ledger;
    const book = bookLitres(this.#ctx, draft, atMs);
    const next = book === null ? null : this.#openLedgerDay(atMs, book.value, book.sd);
    const closed: OpenLedgerDay | null =
      today === null || book === null
        ? null
        : {
            ...today,
            closing: { litres: book.value, sd: book.sd, atMs },
            ...this.#explained(today.startMs, atMs),
          };
    draft.ledger = { today: next, yesterday: closed };
    this.#putYesterday();
  }

  #openLedgerDay(startMs: EpochMs, litres: number, sd: number): OpenLedgerDay {
    return {
      day: this.#calendar.at(startMs).name,
      startMs,
      openingLitres: litres,
      openingSd: sd,
      closing: null,
      expectedUseLitres: 0,
      expectedUseSd: 0,
      soilMayTakeLitres: 0,
      leakLitres: 0,
      coveredHours: 0,
    };
  }

  /** What demand and a known leak explain of the loss between two instants. */
  #explained(
    fromMs: EpochMs,
    toMs: EpochMs,
  ): Pick<OpenLedgerDay, 'expectedUseLitres' | 'expectedUseSd' | 'soilMayTakeLitres' | 'leakLitres'> {
    const draft = this.#draft;
    const expectedUseLitres = usedBetween(this.#ctx, draft, fromMs, toMs);
    const relative = Math.sqrt(draft.demand.varKappa + 0.25 ** 2);
    const expectedUseSd = draft.demand.days >= 3 ? relative * expectedUseLitres + 0.1 : ANY_USE_SD_LITRES;
    const leak = knownLeak(draft.findings);
    const leakLitres =
      leak === null ? 0 : leakedLitres(this.#ctx, draft.recent, leak, Math.max(fromMs, leak.onsetMs), toMs);
    const soilMayTakeLitres = soilMayTake(this.#ctx, draft.soil, fromMs, toMs);
    return { expectedUseLitres, expectedUseSd, soilMayTakeLitres, leakLitres };
  }

  #takeReading(reading: PotReading): void {
    const draft = this.#draft;
    const before = draft.cleaning;
    const gapHours = before.levelMm === null ? null : (reading.timeMs - before.levelMs) / HOUR_MS;
    let verdict: Verdict = 'no_level';
    let result: CleaningResult | null = null;
    draft.events = rememberMoisture(draft.events, reading.timeMs, reading.moistureFraction);
    if (reading.levelMm !== null) {
      result = cleanLevel(
        before,
        { timeMs: reading.timeMs, levelMm: reading.levelMm, temperatureC: reading.temperatureC },
        { fallMmPerHour: this.#fallMmPerHour(), topMm: this.#topMm() },
      );
      draft.cleaning = result.state;
      verdict = result.verdict;
      if (verdict === 'accepted' && isStuck(result.state, reading.timeMs)) verdict = 'stuck';
      else if (result.accepted.length > 0) this.#takeLevel(result, gapHours ?? 0);
    }
    const counts = verdict === 'accepted' || verdict === 'jump';
    const levelMm = counts ? draft.cleaning.levelMm : null;
    draft.soil = observeSoil(this.#ctx, draft.soil, reading.timeMs, reading.moistureFraction, levelMm);
    draft.stats = addToStats(draft.stats, this.#ctx.container.reservoir, {
      levelMm,
      heldWasOutlier: result?.heldWasOutlier ?? false,
      gapHours: gapHours ?? 0,
      temperatureC: reading.temperatureC,
      batteryV: reading.batteryV,
      batteryFraction: reading.batteryFraction,
    });
    draft.latest = {
      nodeId: reading.nodeId,
      readingMs: reading.timeMs,
      firstReadingMs: draft.latest.firstReadingMs ?? reading.timeMs,
      moistureFraction: reading.moistureFraction ?? draft.latest.moistureFraction,
      temperatureC: reading.temperatureC ?? draft.latest.temperatureC,
      batteryV: reading.batteryV ?? draft.latest.batteryV,
    };
    this.#rollUp(reading, counts ? reading.levelMm : null);
    const clean: CleanReading = {
      nodeId: reading.nodeId,
      timeMs: reading.timeMs,
      receivedMs: reading.receivedMs,
      verdict,
      heldWasOutlier: result?.heldWasOutlier ?? false,
      rawLevelMm: reading.levelMm,
      levelMm: draft.cleaning.levelMm,
      litres:
        draft.cleaning.levelMm === null ? null : Math.max(0, strappingOf(this.#ctx).litresAt(draft.cleaning.levelMm)),
      gapHours,
      noiseMm: draft.cleaning.noiseMm,
      moistureFraction: reading.moistureFraction,
      temperatureC: reading.temperatureC,
      batteryV: reading.batteryV,
      batteryFraction: reading.batteryFraction,
    };
    this.#onClean?.(clean, draft);
    draft.findings = observeReading(viewOf(this.#ctx, draft), draft.findings, clean);
  }

  #takeLevel(result: CleaningResult, gapHours: number): void {
    const draft = this.#draft;
    const first = result.accepted[0]!;
    const recentBefore = draft.recent;
    if (draft.openBlock === null) this.#openBlock(first.timeMs, 0);
    this.#endPostRefill(first.timeMs);
    for (const point of result.accepted) draft.recent = remember(draft.recent, point);
    if (draft.ledger.today === null) {
      const litres = Math.max(0, strappingOf(this.#ctx).litresAt(first.levelMm));
      const sd = strappingOf(this.#ctx).areaLitresPerMm(first.levelMm) * 2;
      const opened = this.#openLedgerDay(this.#calendar.at(first.timeMs).startMs, litres, sd);
      draft.ledger = { ...draft.ledger, today: opened };
    } else {
      const longestHours = Math.max(1, (4 * (result.state.intervalS ?? 900)) / 3600);
      const coveredHours = draft.ledger.today.coveredHours + (gapHours <= longestHours ? gapHours : 0);
      draft.ledger = { ...draft.ledger, today: { ...draft.ledger.today, coveredHours } };
    }
    const openBefore = draft.events.open;
    this.#applyEvents(observeLevels(draft.events, this.#surroundings(), result, recentBefore, draft.recent));
    if (result.jump !== null) {
      this.#cutBlock(result.jump.beforeMs, result.accepted[result.accepted.length - 1]!.timeMs, recentBefore);
    } else {
      const rise = draft.events.open;
      if (rise !== null && !rise.fast && rise !== openBefore) this.#cutBlock(rise.startMs, rise.endMs, recentBefore);
    }
  }

  /** Ends the block where an event began and opens one where it has come to. */
  #cutBlock(endMs: EpochMs, nextMs: EpochMs, recent: PotState['recent']): void {
    const rise = this.#draft.events.open;
    const afterRefill = rise?.fast === true;
    this.#finishBlock(endMs, recent);
    this.#openBlock(nextMs, 0, afterRefill ? 'post_refill' : undefined);
  }

  #turnBlock(atMs: EpochMs): void {
    const draft = this.#draft;
    this.#endPostRefill(atMs);
    if (draft.openBlock !== null && draft.openBlock.kind !== 'post_refill') this.#finishBlock(atMs, draft.recent);
  }

  #endPostRefill(atMs: EpochMs): void {
    const draft = this.#draft;
    if (draft.openBlock?.kind !== 'post_refill') return;
    const endMs = draft.openBlock.startMs + POST_REFILL_MS;
    if (atMs <= endMs) return;
    this.#finishBlock(endMs, draft.recent);
    this.#openBlock(endMs, 0);
  }

  #finishBlock(endMs: EpochMs, recent: PotState['recent']): void {
    const draft = this.#draft;
    if (draft.openBlock === null) return;
    const block = closeBlock(
      draft.openBlock,
      endMs,
      recent,
      this.#ctx.container.reservoir,
      strappingOf(this.#ctx),
      draft.cleaning.noiseMm,
    );
    draft.openBlock = null;
    if (block !== null) draft.newBlocks = [...draft.newBlocks, packBlock(block)];
  }

  #openBlock(startMs: EpochMs, flags: number, kind?: BlockKind): void {
    const draft = this.#draft;
    const phase: BlockKind = draft.nextMarkKind === 'dusk' ? 'day' : 'night';
    const today = this.#calendar.at(draft.atMs).number;
    const dayNumber = draft.nextMarkKind === 'dawn' ? today - 1 : today;
    draft.openBlock = { kind: kind ?? phase, startMs, dayNumber, flags };
  }

  /** Fastest fall that the planting can cause: five times the mean, since most of the use falls in a few hours. */
  #fallMmPerHour(): number {
    const { cleaning } = this.#draft;
    if (cleaning.levelMm === null) return 1;
    const rate = expectedRate(this.#ctx, this.#draft);
    const area = strappingOf(this.#ctx).areaLitresPerMm(cleaning.levelMm);
    const usual = Math.min(40, Math.max(0.8, (5 * rate) / 24 / area));
    return this.#draft.soil.rewettingUntilMs > this.#draft.atMs ? usual + REWETTING_MM_PER_HOUR : usual;
  }

  #topMm(): number {
    const pairs = this.#ctx.container.reservoir.strapping;
    const highestMm = pairs[pairs.length - 1]![0];
    return Math.max(highestMm * HEADROOM, highestMm + HEADROOM_MM);
  }

  #rollUp(reading: PotReading, levelMm: number | null): void {
    const draft = this.#draft;
    const hourMs = hourOf(reading.timeMs);
    if (draft.hour !== null && draft.hour.fromMs !== hourMs) {
      this.#output.putHour(draft.hour);
      draft.hour = null;
    }
    const values = {
      levelMm,
      litres: levelMm === null ? 0 : Math.max(0, strappingOf(this.#ctx).litresAt(levelMm)),
      moistureFraction: reading.moistureFraction,
      temperatureC: reading.temperatureC,
      batteryV: reading.batteryV,
    };
    draft.hour = addToSums(draft.hour ?? startSums(hourMs), values);
    draft.day = addToSums(draft.day ?? startSums(this.#calendar.at(reading.timeMs).startMs), values);
  }

  #takeWork(input: Extract<PotInput, { kind: 'work' }>): void {
    const draft = this.#draft;
    const report = { timeMs: input.timeMs, work: input.work, litres: input.litres };
    draft.events = { ...draft.events, reports: [...draft.events.reports.slice(-11), report] };
    this.#applyEvents(judgeAgain(draft.events, this.#surroundings(), input.timeMs - EVENTS_REJUDGED_MS));
  }

  #takeCorrection(input: Extract<PotInput, { kind: 'correction' }>): void {
    const { events, cleaning } = this.#draft;
    this.#applyEvents(takeCorrection(events, this.#surroundings(), input, cleaning.levelMm));
  }

  #applyEvents(step: EventStep): void {
    const draft = this.#draft;
    draft.events = step.state;
    const { changed, gone } = step;
    if (changed.length === 0 && gone.length === 0) return;
    for (const id of gone) this.#output.withdrawEvent(id);
    for (const record of changed) {
      const overflow = overflowEvent(record);
      if (record.untold) this.#output.withdrawEvent(record.event.id);
      else this.#output.putEvent(record.event);
      if (overflow === null) this.#output.withdrawEvent(overflowId(record.event));
      else this.#output.putEvent(overflow);
      if (record.untold) continue;
      draft.findings = observeEvent(viewOf(this.#ctx, draft), draft.findings, record.event);
    }
    this.#putYesterday();
  }

  #surroundings(): EventSurroundings {
    const draft = this.#draft;
    const calendar = this.#calendar;
    return {
      ctx: this.#ctx,
      strapping: strappingOf(this.#ctx),
      noiseMm: draft.cleaning.noiseMm,
      rewetting: draft.soil.rewettingUntilMs > draft.atMs,
      hasWeather: draft.weather.observedDays > 0,
      rainBetween: (fromMs, toMs) => rainBetween(draft.weather, calendar.at(fromMs).number, calendar.at(toMs).number),
      wallHour: (ms) => (ms - calendar.at(ms).startMs) / HOUR_MS,
    };
  }

  #putYesterday(): void {
    const { yesterday } = this.#draft.ledger;
    if (yesterday !== null && yesterday.closing !== null) this.#putLedger(yesterday, yesterday.closing);
  }

  #putLedger(day: OpenLedgerDay, closing: NonNullable<OpenLedgerDay['closing']>): void {
    const records = this.#draft.events.records.filter(
      ({ event, corrected, untold }) =>
        event.endMs >= day.startMs && event.startMs < closing.atMs && !(corrected && untold),
    );
    this.#output.putLedgerDay(closeDay(this.#ctx.container.id, day, closing, records, strappingOf(this.#ctx)));
  }

  #putOpen(): void {
    const draft = this.#draft;
    if (draft.hour !== null) this.#output.putHour(draft.hour);
    if (draft.day !== null) this.#output.putDay(this.#calendar.at(draft.day.fromMs).name, draft.day);
    const { today } = draft.ledger;
    const book = today === null ? null : bookLitres(this.#ctx, draft, draft.atMs);
    if (today === null || book === null) return;
    const soFar = { ...today, ...this.#explained(today.startMs, draft.atMs) };
    this.#putLedger(soFar, { litres: book.value, sd: book.sd, atMs: draft.atMs + 1 });
  }
}
