import { advance, assess, isUsableState, type PotState, SETTLING_MS, startAnalysis } from '../../analytics/analysis.js';
import type { Assessment, Checkpoint, DerivedRecords, PotContext, PotInput } from '../../domain/analysis.js';
import type { EpochMs } from '../../domain/ids.js';
import type { PotReading } from '../../domain/pot.js';
import type { WeatherDay } from '../../domain/weather.js';

/** What a run of the fold changed, ready to be written. */
export interface PotChange {
  readonly kind: 'changed';
  readonly derived: DerivedRecords;
  /** Midnights passed; checkpoints kept elsewhere that are later than `validUntilMs` are void. */
  readonly checkpoints: readonly Checkpoint<PotState>[];
  readonly validUntilMs: EpochMs;
  /** The fold went back to a checkpoint. */
  readonly rewound: boolean;
}

/** The inputs reach further back than the driver remembers: call `restart` with a checkpoint at or before `toMs`. */
export interface RewindBeyondMemory {
  readonly kind: 'rewind_beyond_memory';
  readonly toMs: EpochMs;
}

export type TakeResult = PotChange | RewindBeyondMemory | { readonly kind: 'unchanged' };

export interface DriverOptions {
  /** Inputs and checkpoints older than this before the head are let go; Infinity keeps everything. */
  readonly keepMs: number;
  /** Whether `derived` holds the rows of the hour and day in course; the live stage writes them with every reading. */
  readonly openRows: boolean;
}

const LIVE: DriverOptions = { keepMs: 4 * 86_400_000, openRows: true };

/**
 * Runs the fold of one pot over inputs as they arrive, in any order. Holds the state at the head, the checkpoints of
 * the last days and the inputs since the oldest of them. An input that is late rewinds to the last checkpoint that lies
 * {@link SETTLING_MS} before it, so that whatever it may unmake is derived again. The live stage and the replay of
 * files use this very class.
 */
export class PotDriver {
  readonly #options: DriverOptions;
  #ctx: PotContext;
  #inputs: PotInput[] = [];
  #checkpoints: Checkpoint<PotState>[];
  #state: PotState;

  constructor(ctx: PotContext, options: DriverOptions = LIVE) {
    this.#ctx = ctx;
    this.#options = options;
    this.#state = startAnalysis(ctx);
    this.#checkpoints = [{ atMs: Number.NEGATIVE_INFINITY, state: this.#state }];
  }

  get context(): PotContext {
    return this.#ctx;
  }

  get state(): PotState {
    return this.#state;
  }

  /** For what does not touch the fold: a new calibration, a name. A changed reservoir or site needs a new driver. */
  useContext(ctx: PotContext): void {
    this.#ctx = ctx;
  }

  /**
   * Begins again at a checkpoint (null: at nothing) with every input dated at or after it.
   * A checkpoint of an older program is refused: give null and all inputs then.
   */
  restart(checkpoint: Checkpoint<PotState> | null, inputs: readonly PotInput[]): PotChange {
    if (checkpoint !== null && !isUsableState(checkpoint.state)) {
      throw new Error('the checkpoint was written by another version: restart from nothing');
    }
    const start: Checkpoint<PotState> = checkpoint ?? {
      atMs: Number.NEGATIVE_INFINITY,
      state: startAnalysis(this.#ctx),
    };
    this.#checkpoints = [start];
    this.#state = start.state;
    this.#inputs = mergeSorted([], inputs).inputs;
    return this.#fold(start, this.#inputs, true);
  }

  /** Takes inputs as they arrive, in any order; repeats change nothing. */
  take(arrivals: readonly PotInput[]): TakeResult {
    const { inputs, earliestMs, appendedFrom } = mergeSorted(this.#inputs, arrivals);
    if (earliestMs === null) return { kind: 'unchanged' };
    if (appendedFrom !== null) {
      this.#inputs = inputs;
      const fresh = inputs.slice(appendedFrom);
      return this.#fold({ atMs: this.#state.atMs, state: this.#state }, fresh, false);
    }
    const wantedMs = earliestMs - SETTLING_MS;
    let index = this.#checkpoints.length - 1;
    while (index >= 0 && this.#checkpoints[index]!.atMs > wantedMs) index--;
    if (index < 0) return { kind: 'rewind_beyond_memory', toMs: wantedMs };
    const checkpoint = this.#checkpoints[index]!;
    this.#inputs = inputs;
    this.#checkpoints.length = index + 1;
    const from = firstAtOrAfter(inputs, checkpoint.atMs);
    return this.#fold(checkpoint, inputs.slice(from), true);
  }

  assess(nowMs: EpochMs, outlook: readonly WeatherDay[]): Assessment {
    return assess(this.#ctx, this.#state, nowMs, outlook);
  }

  #fold(from: Checkpoint<PotState>, inputs: readonly PotInput[], rewound: boolean): PotChange {
    const { state, derived, checkpoints } = advance(this.#ctx, from.state, inputs, this.#options.openRows);
    this.#state = state;
    this.#checkpoints.push(...checkpoints);
    this.#forget();
    return {
      kind: 'changed',
      derived,
      checkpoints,
      validUntilMs: rewound ? from.atMs : (this.#checkpoints.at(-1 - checkpoints.length)?.atMs ?? from.atMs),
      rewound,
    };
  }

  #forget(): void {
    if (this.#options.keepMs === Number.POSITIVE_INFINITY) return;
    const oldestMs = this.#state.atMs - this.#options.keepMs;
    let drop = 0;
    while (drop + 1 < this.#checkpoints.length && this.#checkpoints[drop + 1]!.atMs <= oldestMs) drop++;
    if (drop === 0) return;
    this.#checkpoints.splice(0, drop);
    this.#inputs.splice(0, firstAtOrAfter(this.#inputs, this.#checkpoints[0]!.atMs));
  }
}

interface Merged {
  readonly inputs: PotInput[];
  /** Earliest time that is new or changed; null where nothing is. */
  readonly earliestMs: EpochMs | null;
  /** Where everything new stands behind everything known: index of the first new input. */
  readonly appendedFrom: number | null;
}

/** Merges arrivals into sorted inputs; a reading of the same node and time completes or corrects the one known. */
function mergeSorted(known: PotInput[], arrivals: readonly PotInput[]): Merged {
  const sorted = [...arrivals].sort(compareInputs);
  const last = known.at(-1);
  let earliestMs: EpochMs | null = null;
  let appendOnly = true;
  const inputs = known;
  const appendedFrom = known.length;
  for (const arrival of sorted) {
    const index = findSame(inputs, arrival);
    if (index !== null) {
      const merged = mergeInput(inputs[index]!, arrival);
      if (merged === null) continue;
      inputs[index] = merged;
      earliestMs = Math.min(earliestMs ?? arrival.timeMs, arrival.timeMs);
      if (index < appendedFrom) appendOnly = false;
      continue;
    }
    earliestMs = Math.min(earliestMs ?? arrival.timeMs, arrival.timeMs);
    const tail = inputs.at(-1);
    if (tail === undefined || compareInputs(arrival, tail) > 0) inputs.push(arrival);
    else inputs.splice(insertionIndex(inputs, arrival), 0, arrival);
    if (last !== undefined && compareInputs(arrival, last) < 0) appendOnly = false;
  }
  return { inputs, earliestMs, appendedFrom: appendOnly && earliestMs !== null ? appendedFrom : null };
}

const KIND_ORDER: Readonly<Record<PotInput['kind'], number>> = {
  assignment: 0,
  correction: 1,
  reading: 2,
  weather: 3,
  work: 4,
};

/** The order of the fold: time, kind, receipt; and beyond that whatever makes it the same every time. */
export function compareInputs(a: PotInput, b: PotInput): number {
  if (a.timeMs !== b.timeMs) return a.timeMs - b.timeMs;
  if (a.kind !== b.kind) return KIND_ORDER[a.kind] - KIND_ORDER[b.kind];
  if (a.kind === 'reading' && b.kind === 'reading') {
    return a.reading.receivedMs - b.reading.receivedMs || compareText(a.reading.nodeId, b.reading.nodeId);
  }
  return compareText(JSON.stringify(a), JSON.stringify(b));
}

function compareText(a: string, b: string): number {
  return a < b ? -1 : a > b ? 1 : 0;
}

function findSame(inputs: readonly PotInput[], arrival: PotInput): number | null {
  for (let i = firstAtOrAfter(inputs, arrival.timeMs); i < inputs.length && inputs[i]!.timeMs === arrival.timeMs; i++) {
    const known = inputs[i]!;
    if (known.kind !== arrival.kind) continue;
    if (known.kind === 'reading' && arrival.kind === 'reading') {
      if (known.reading.nodeId === arrival.reading.nodeId) return i;
    } else if (known.kind === 'weather' && arrival.kind === 'weather') {
      if (known.day.day === arrival.day.day) return i;
    } else if (JSON.stringify(known) === JSON.stringify(arrival)) return i;
  }
  return null;
}

/** The input that takes the place of both, or null where the arrival adds nothing. */
function mergeInput(known: PotInput, arrival: PotInput): PotInput | null {
  if (known.kind === 'reading' && arrival.kind === 'reading') {
    const reading = mergeReading(known.reading, arrival.reading);
    return reading === null ? null : { ...known, reading };
  }
  return JSON.stringify(known) === JSON.stringify(arrival) ? null : arrival;
}

/** The last value received counts, quantity by quantity; the time of receipt stays that of the first. */
function mergeReading(known: PotReading, arrival: PotReading): PotReading | null {
  const merged: PotReading = {
    ...known,
    levelMm: arrival.levelMm ?? known.levelMm,
    moistureFraction: arrival.moistureFraction ?? known.moistureFraction,
    temperatureC: arrival.temperatureC ?? known.temperatureC,
    batteryV: arrival.batteryV ?? known.batteryV,
    batteryFraction: arrival.batteryFraction ?? known.batteryFraction,
  };
  const same =
    merged.levelMm === known.levelMm &&
    merged.moistureFraction === known.moistureFraction &&
    merged.temperatureC === known.temperatureC &&
    merged.batteryV === known.batteryV &&
    merged.batteryFraction === known.batteryFraction;
  return same ? null : merged;
}

function firstAtOrAfter(inputs: readonly PotInput[], ms: EpochMs): number {
  let low = 0;
  let high = inputs.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (inputs[middle]!.timeMs < ms) low = middle + 1;
    else high = middle;
  }
  return low;
}

function insertionIndex(inputs: readonly PotInput[], arrival: PotInput): number {
  let low = 0;
  let high = inputs.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (compareInputs(inputs[middle]!, arrival) < 0) low = middle + 1;
    else high = middle;
  }
  return low;
}
