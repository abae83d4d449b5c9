import type { Checkpoint, DerivedRecords, FoldResult, PotContext, PotInput } from '../domain/analysis.js';
import type { EpochMs } from '../domain/ids.js';
import { HOUR_MS, type LocalDays } from '../domain/local-day.js';
import type { DayRollup, HourRollup, LedgerDay, PotEvent } from '../domain/pot.js';
import { bookLitres, expectedRate, usedBetween } from './bookkeeping.js';
import { type CleaningResult, cleanLevel } from './cleaning.js';
import { stepDay } from './daily-step.js';
import { type EventRecord, type EventStep, type EventSurroundings, judgeAgain, observeLevels } from './events.js';
import { closeDay, type OpenLedgerDay } from './ledger.js';
import { calendarOf, dayNumberOf, hourOf, nextMark } from './marks.js';
import { remember } from './recent.js';
import { addToSums, startSums, valuesOf } from './rollups.js';
import { type PotState, strappingOf } from './state.js';
import { rememberWeather } from './weather-memory.js';

type Draft = { -readonly [Key in keyof PotState]: PotState[Key] };

/** Levels this far above the table's last pair come from no vessel. */
const HEADROOM = 1.6;
const HEADROOM_MM = 60;

/**
 * Folds inputs into the state. One run of the fold is one object: it collects what is derived while the state moves.
 */
export class Fold {
  readonly #ctx: PotContext;
  readonly #calendar: LocalDays;
  readonly #draft: Draft;
  readonly #fromMs: EpochMs;
  readonly #events = new Map<string, PotEvent>();
  readonly #ledgerDays = new Map<string, LedgerDay>();
  readonly #hours = new Map<number, HourRollup>();
  readonly #days = new Map<string, DayRollup>();
  readonly #checkpoints: Checkpoint<PotState>[] = [];

  constructor(ctx: PotContext, state: PotState) {
    this.#ctx = ctx;
    this.#calendar = calendarOf(ctx);
    this.#draft = { ...state };
    this.#fromMs = state.atMs;
  }

  take(input: PotInput): void {
    const { timeMs } = input;
    if (timeMs < this.#draft.atMs) {
      throw new Error(`input of ${timeMs} is earlier than the state's instant ${this.#draft.atMs}: rewind first`);
    }
    this.#passMarks(timeMs);
    this.#draft.atMs = timeMs;
    switch (input.kind) {
      case 'reading':
        this.#takeReading(input.reading);
        break;
      case 'weather':
        this.#takeWeather(input);
        break;
      case 'work':
        this.#takeWork(input);
        break;
      case 'correction':
        this.#takeCorrection(input);
        break;
      case 'assignment':
        this.#takeAssignment(input);
        break;
    }
  }

  result(): FoldResult<PotState> {
    this.#emitOpen();
    const derived: DerivedRecords = {
      fromMs: this.#fromMs,
      events: [...this.#events.values()].sort((a, b) => a.startMs - b.startMs),
      ledgerDays: [...this.#ledgerDays.values()],
      hourRollups: [...this.#hours.values()],
      dayRollups: [...this.#days.values()],
    };
    return { state: { ...this.#draft }, derived, checkpoints: this.#checkpoints };
  }

  /** Runs the daily work of every mark up to and including `toMs`. */
  #passMarks(toMs: EpochMs): void {
    const draft = this.#draft;
    if (draft.nextMarkMs === 0) {
      const first = nextMark(this.#calendar, toMs);
      draft.nextMarkMs = first.atMs;
      draft.nextMarkKind = first.kind;
      return;
    }
    while (draft.nextMarkMs <= toMs) {
      const atMs = draft.nextMarkMs;
      draft.atMs = atMs;
      switch (draft.nextMarkKind) {
        case 'midnight':
          this.#passMidnight(atMs);
          break;
        case 'dawn':
          Object.assign(draft, stepDay(this.#ctx, draft, atMs));
          this.#emitYesterday();
          break;
        case 'dusk':
          break;
      }
      const next = nextMark(this.#calendar, atMs);
      draft.nextMarkMs = next.atMs;
      draft.nextMarkKind = next.kind;
      // The checkpoint holds all that lies before midnight, and that the midnight is passed.
      if (this.#calendar.startOfDayMs(atMs) === atMs) this.#checkpoints.push({ atMs, state: { ...draft } });
    }
  }

  #passMidnight(atMs: EpochMs): void {
    const draft = this.#draft;
    this.#emitHour();
    this.#emitDay();
    draft.hour = null;
    draft.day = null;
    const { today } = draft.ledger;
    const book = bookLitres(this.#ctx, draft, atMs);
    if (today === null || book === null) {
      const fresh = book === null ? null : this.#openDay(atMs, book.value, book.sd);
      draft.ledger = { today: fresh, yesterday: today };
      return;
    }
    const closed: OpenLedgerDay = {
      ...today,
      closing: { litres: book.value, sd: book.sd, atMs },
      ...this.#expected(today.startMs, atMs),
    };
    draft.ledger = { today: this.#openDay(atMs, book.value, book.sd), yesterday: closed };
    this.#emitYesterday();
  }

  #openDay(startMs: EpochMs, litres: number, sd: number): OpenLedgerDay {
    return {
      day: this.#calendar.dayOf(startMs),
      startMs,
      openingLitres: litres,
      openingSd: sd,
      closing: null,
      expectedUseLitres: 0,
      expectedUseSd: 0,
      leakLitres: 0,
      coveredHours: 0,
    };
  }

  #expected(fromMs: EpochMs, toMs: EpochMs): Pick<OpenLedgerDay, 'expectedUseLitres' | 'expectedUseSd'> {
    const draft = this.#draft;
    const expectedUseLitres = usedBetween(this.#ctx, draft, fromMs, toMs);
    const relative = Math.sqrt(draft.demand.varKappa + 0.25 ** 2);
    const known = draft.demand.days >= 3;
    return { expectedUseLitres, expectedUseSd: known ? relative * expectedUseLitres + 0.1 : 1e6 };
  }

  #takeReading(reading: Extract<PotInput, { kind: 'reading' }>['reading']): void {
    const draft = this.#draft;
    const ctx = this.#ctx;
    const strapping = strappingOf(ctx);
    const first = draft.latest.firstReadingMs ?? reading.timeMs;
    let result: CleaningResult | null = null;
    if (reading.levelMm !== null) {
      const pairs = ctx.container.reservoir.strapping;
      const topMm = pairs[pairs.length - 1]![0];
      result = cleanLevel(
        draft.cleaning,
        { timeMs: reading.timeMs, levelMm: reading.levelMm, temperatureC: reading.temperatureC },
        {
          fallMmPerHour: this.#fallMmPerHour(),
          topMm: Math.max(topMm * HEADROOM, topMm + HEADROOM_MM),
        },
      );
      const gapHours = draft.cleaning.levelMm === null ? 0 : (reading.timeMs - draft.cleaning.levelMs) / HOUR_MS;
      draft.cleaning = result.state;
      const recentBefore = draft.recent;
      for (const point of result.accepted) draft.recent = remember(draft.recent, point);
      if (draft.ledger.today === null && result.state.levelMm !== null) {
        const litres = strapping.litresAt(result.state.levelMm);
        const opened = this.#openDay(
          this.#calendar.startOfDayMs(reading.timeMs),
          litres,
          strapping.areaLitresPerMm(result.state.levelMm) * 2,
        );
        draft.ledger = { ...draft.ledger, today: opened };
      } else if (draft.ledger.today !== null && result.accepted.length > 0) {
        const longest = Math.max(1, (4 * (result.state.intervalS ?? 900)) / 3600);
        const covered = draft.ledger.today.coveredHours + (gapHours <= longest ? gapHours : 0);
        draft.ledger = { ...draft.ledger, today: { ...draft.ledger.today, coveredHours: covered } };
      }
      if (result.accepted.length > 0) {
        this.#applyEvents(observeLevels(draft.events, this.#surroundings(), result, recentBefore, draft.recent));
      }
    }
    draft.latest = {
      nodeId: reading.nodeId,
      readingMs: reading.timeMs,
      firstReadingMs: first,
      moistureFraction: reading.moistureFraction ?? draft.latest.moistureFraction,
      temperatureC: reading.temperatureC ?? draft.latest.temperatureC,
      batteryV: reading.batteryV ?? draft.latest.batteryV,
    };
    this.#rollUp(reading, result);
  }

  /** Fastest fall that the planting can cause: five times the mean, since most of the use falls in a few hours. */
  #fallMmPerHour(): number {
    const { cleaning } = this.#draft;
    if (cleaning.levelMm === null) return 1;
    const rate = expectedRate(this.#ctx, this.#draft);
    const area = strappingOf(this.#ctx).areaLitresPerMm(cleaning.levelMm);
    return Math.min(40, Math.max(0.8, (5 * rate) / 24 / area));
  }

  #rollUp(reading: Extract<PotInput, { kind: 'reading' }>['reading'], result: CleaningResult | null): void {
    const draft = this.#draft;
    const hourMs = hourOf(reading.timeMs);
    if (draft.hour !== null && draft.hour.fromMs !== hourMs) {
      this.#emitHour();
      draft.hour = null;
    }
    const counts = result !== null && result.accepted.length > 0;
    const levelMm = counts ? reading.levelMm : null;
    const values = {
      levelMm,
      litres: levelMm === null ? 0 : Math.max(0, strappingOf(this.#ctx).litresAt(levelMm)),
      moistureFraction: reading.moistureFraction,
      temperatureC: reading.temperatureC,
      batteryV: reading.batteryV,
    };
    draft.hour = addToSums(draft.hour ?? startSums(hourMs), values);
    draft.day = addToSums(draft.day ?? startSums(this.#calendar.startOfDayMs(reading.timeMs)), values);
  }

  #takeWeather(input: Extract<PotInput, { kind: 'weather' }>): void {
    const draft = this.#draft;
    draft.weather = rememberWeather(this.#ctx, draft.weather, input.day);
    this.#applyEvents(judgeAgain(draft.events, this.#surroundings(), input.timeMs - 36 * HOUR_MS));
  }

  #takeWork(input: Extract<PotInput, { kind: 'work' }>): void {
    const draft = this.#draft;
    const report = { timeMs: input.timeMs, work: input.work, litres: input.litres, matched: false };
    draft.events = { ...draft.events, reports: [...draft.events.reports.slice(-11), report] };
    this.#applyEvents(judgeAgain(draft.events, this.#surroundings(), input.timeMs - 6 * HOUR_MS));
  }

  #takeCorrection(input: Extract<PotInput, { kind: 'correction' }>): void {
    const draft = this.#draft;
    const correction = { eventId: input.eventId, kind: input.correctedKind, litres: input.litres };
    const others = draft.events.corrections.filter((entry) => entry.eventId !== input.eventId);
    draft.events = { ...draft.events, corrections: [...others.slice(-49), correction] };
    this.#applyEvents(judgeAgain(draft.events, this.#surroundings(), input.timeMs - 24 * HOUR_MS));
  }

  #takeAssignment(input: Extract<PotInput, { kind: 'assignment' }>): void {
    const draft = this.#draft;
    draft.assignment = {
      nodeId: input.nodeId,
      sinceMs: input.timeMs,
      promisedIntervalS: input.promisedIntervalS,
      ended: input.nodeId === null,
    };
  }

  #applyEvents(step: EventStep): void {
    this.#draft.events = step.state;
    for (const record of step.changed) {
      if (this.#suppressed(record)) continue;
      this.#events.set(record.event.id, record.event);
    }
    if (step.changed.length > 0) this.#emitYesterday();
  }

  #suppressed(record: EventRecord): boolean {
    return this.#draft.events.corrections.some((entry) => entry.eventId === record.event.id && entry.kind === 'none');
  }

  #surroundings(): EventSurroundings {
    const draft = this.#draft;
    const calendar = this.#calendar;
    return {
      ctx: this.#ctx,
      strapping: strappingOf(this.#ctx),
      noiseMm: draft.cleaning.noiseMm,
      rainAround: (ms) => rainAround(draft, calendar.dayOf(ms)),
      wallHour: (ms) => (ms - calendar.startOfDayMs(ms)) / HOUR_MS,
    };
  }

  #emitYesterday(): void {
    const { yesterday } = this.#draft.ledger;
    if (yesterday !== null && yesterday.closing !== null) this.#emitLedger(yesterday, yesterday.closing);
  }

  #emitLedger(day: OpenLedgerDay, closing: NonNullable<OpenLedgerDay['closing']>): void {
    const records = this.#draft.events.records.filter(
      (record) =>
        record.event.startMs >= day.startMs && record.event.startMs < closing.atMs && !this.#suppressed(record),
    );
    this.#ledgerDays.set(day.day, closeDay(this.#ctx.container.id, day, closing, records));
  }

  #emitHour(): void {
    const { hour } = this.#draft;
    if (hour === null) return;
    this.#hours.set(hour.fromMs, { containerId: this.#ctx.container.id, hourMs: hour.fromMs, ...valuesOf(hour) });
  }

  #emitDay(): void {
    const { day } = this.#draft;
    if (day === null) return;
    const name = this.#calendar.dayOf(day.fromMs);
    this.#days.set(name, { containerId: this.#ctx.container.id, day: name, ...valuesOf(day) });
  }

  /** The hour, the day and the account in course, as far as they have come. */
  #emitOpen(): void {
    this.#emitHour();
    this.#emitDay();
    const draft = this.#draft;
    const { today } = draft.ledger;
    if (today === null) return;
    const book = bookLitres(this.#ctx, draft, draft.atMs);
    if (book === null) return;
    const soFar = { ...today, ...this.#expected(today.startMs, draft.atMs) };
    this.#emitLedger(soFar, { litres: book.value, sd: book.sd, atMs: draft.atMs + 1 });
  }
}

/** Rain of a local day and of the day before it, mm; null where neither is known. */
function rainAround(draft: Draft, day: string): number | null {
  const known = draft.weather.days;
  if (known.length === 0) return null;
  const number = dayNumberOf(day);
  let sum: number | null = null;
  for (const [dayNumber, , rainMm] of known) {
    if (rainMm !== null && (dayNumber === number || dayNumber === number - 1)) sum = (sum ?? 0) + rainMm;
  }
  return sum;
}
