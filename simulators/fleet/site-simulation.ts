import { type Calendar, STEP_MS } from '../calendar.js';
import type { SiteCrew, Watering } from '../crew/site-crew.js';
import { isStressed, newFlows, type PotState, type StepFlows, stepPot } from '../pot/physics.js';
import type { PotSpec } from './pot-spec.js';

export interface TruthEvent {
  readonly kind: 'refill' | 'rain' | 'overflow' | 'above_overflow' | 'drained' | 'watered_from_above';
  readonly startMs: number;
  readonly endMs: number;
  readonly litres: number;
  readonly startLevelMm: number;
  readonly endLevelMm: number;
  readonly by: string;
}

export interface Balance {
  opening: number;
  refill: number;
  rain: number;
  wick: number;
  roots: number;
  leak: number;
  overflow: number;
  drained: number;
}

interface Rise {
  readonly step: number;
  readonly atMs: number;
  readonly durationMs: number;
  readonly riseMm: number;
}

interface OpenSpan {
  startMs: number;
  lastMs: number;
  litres: number;
  startLevelMm: number;
  extremeMm: number;
}

const RAIN_EVENT_GAP_MS = 4 * 3_600_000;
/** About what comes out of a hose; no source. */
export const POUR_LITRES_PER_MINUTE = 12;
const DRAIN_MS = 5 * 60_000;

/** One pot's course: its state now, and what was recorded of every step. */
export class PotRun {
  /** As drawn, but for the faults that somebody mended since. */
  #spec: PotSpec;
  readonly state: PotState;
  readonly levelMm: Float32Array;
  readonly soilLitres: Float32Array;
  readonly events: TruthEvent[] = [];
  readonly waterings: Watering[] = [];
  readonly balance: Balance;
  /** States kept for the counterfactual of each origin, by step. */
  readonly snapshots = new Map<number, PotState>();
  /** Litres lost by the leak in each day since the start, and hours in which it ran. */
  readonly leakByDay = new Map<number, { litres: number; hours: number }>();
  readonly #rises: Rise[] = [];
  readonly #calendar: Calendar;
  #rain: OpenSpan | null = null;
  #overflow: OpenSpan | null = null;
  #above: OpenSpan | null = null;

  constructor(spec: PotSpec, calendar: Calendar) {
    this.#spec = spec;
    this.state = { ...spec.start };
    this.#calendar = calendar;
    this.levelMm = new Float32Array(calendar.hours * 4 + 1);
    this.soilLitres = new Float32Array(calendar.hours * 4 + 1);
    this.levelMm[0] = this.state.levelMm;
    this.soilLitres[0] = this.state.soilLitres;
    this.balance = {
      opening: spec.start.litres,
      refill: 0,
      rain: 0,
      wick: 0,
      roots: 0,
      leak: 0,
      overflow: 0,
      drained: 0,
    };
  }

  get spec(): PotSpec {
    return this.#spec;
  }

  /** Somebody repaired something: the pot goes on with another model from the next step on. */
  changeModel(model: PotSpec['model']): void {
    this.#spec = { ...this.#spec, model };
  }

  /** Opening and all that came in, less all that went out and what is there: zero but for rounding. */
  get balanceErrorLitres(): number {
    const b = this.balance;
    return b.opening + b.refill + b.rain - b.wick - b.roots - b.leak - b.overflow - b.drained - this.state.litres;
  }

  /** True level at an instant that has been simulated; a pour shows as a ramp within its step. */
  levelAt(ms: number): number {
    const position = (ms - this.#calendar.startMs) / STEP_MS;
    const step = Math.min(this.levelMm.length - 2, Math.max(0, Math.floor(position)));
    const from = this.levelMm[step]!;
    const to = this.levelMm[step + 1]!;
    let jump = 0;
    let jumped = 0;
    for (let i = this.#rises.length - 1; i >= 0 && this.#rises[i]!.step >= step; i--) {
      const rise = this.#rises[i]!;
      if (rise.step !== step) continue;
      jump += rise.riseMm;
      jumped += rise.riseMm * Math.min(1, Math.max(0, (ms - rise.atMs) / rise.durationMs));
    }
    return from + (to - jump - from) * (position - step) + jumped;
  }

  moistureAt(ms: number): number {
    const position = (ms - this.#calendar.startMs) / STEP_MS;
    const step = Math.min(this.soilLitres.length - 2, Math.max(0, Math.floor(position)));
    const share = position - step;
    return (this.soilLitres[step]! * (1 - share) + this.soilLitres[step + 1]! * share) / this.spec.model.soil.litres;
  }

  advance(step: number, ms: number, work: readonly Watering[], flows: StepFlows): void {
    const { model } = this.spec;
    const before = this.state.levelMm;
    const litresBefore = this.state.litres;
    let action = null;
    if (work.length > 0) {
      let pour = 0;
      let drain = 0;
      let top = 0;
      for (const w of work) {
        this.waterings.push(w);
        if (w.work === 'refill') pour += w.litres;
        else if (w.work === 'drain') drain += w.litres;
        else if (w.work === 'wet_from_above') top += w.litres;
      }
      action = { pourLitres: pour, drainLitres: drain, topLitres: top };
    }
    stepPot(model, this.state, step, action, flows);
    this.levelMm[step + 1] = this.state.levelMm;
    this.soilLitres[step + 1] = this.state.soilLitres;
    const b = this.balance;
    b.refill += flows.refill;
    b.rain += flows.rainIn;
    b.wick += flows.wick;
    b.roots += flows.roots;
    b.leak += flows.leak;
    b.overflow += flows.overflow;
    b.drained += flows.drained;
    if (flows.leak > 0) {
      const day = Math.floor((ms - this.#calendar.startMs) / 86_400_000);
      const kept = this.leakByDay.get(day) ?? { litres: 0, hours: 0 };
      kept.litres += flows.leak;
      kept.hours += 0.25;
      this.leakByDay.set(day, kept);
    }
    if (action !== null) this.#recordWork(step, ms, work, flows, before, litresBefore);
    this.#recordSpans(ms, flows, before, action !== null);
  }

  #recordWork(
    step: number,
    ms: number,
    work: readonly Watering[],
    flows: StepFlows,
    before: number,
    litresBefore: number,
  ): void {
    const { curve } = this.spec.model;
    const first = work[0]!;
    const gained = Math.max(0, flows.refill - flows.overflow);
    if (flows.refill > 0) {
      const after = curve.levelAt(litresBefore + gained, before);
      const durationMs = Math.min(ms + STEP_MS - first.atMs, (flows.refill / POUR_LITRES_PER_MINUTE) * 60_000);
      this.#rises.push({ step, atMs: first.atMs, durationMs: Math.max(1000, durationMs), riseMm: after - before });
      this.events.push({
        kind: 'refill',
        startMs: first.atMs,
        endMs: Math.round(first.atMs + durationMs),
        litres: gained,
        startLevelMm: before,
        endLevelMm: after,
        by: first.by,
      });
    }
    if (flows.drained > 0) {
      const after = curve.levelAt(litresBefore - flows.drained, before);
      const durationMs = Math.min(ms + STEP_MS - first.atMs, DRAIN_MS);
      this.#rises.push({ step, atMs: first.atMs, durationMs: Math.max(1000, durationMs), riseMm: after - before });
      this.events.push({
        kind: 'drained',
        startMs: first.atMs,
        endMs: Math.round(first.atMs + durationMs),
        litres: flows.drained,
        startLevelMm: before,
        endLevelMm: after,
        by: first.by,
      });
    }
    if (flows.topWater > 0) {
      this.events.push({
        kind: 'watered_from_above',
        startMs: first.atMs,
        endMs: ms + STEP_MS,
        litres: flows.topWater,
        startLevelMm: before,
        endLevelMm: this.state.levelMm,
        by: first.by,
      });
    }
  }

  #recordSpans(ms: number, flows: StepFlows, before: number, worked: boolean): void {
    const end = ms + STEP_MS;
    if (flows.rainIn > 0.002) {
      this.#rain ??= { startMs: ms, lastMs: end, litres: 0, startLevelMm: before, extremeMm: before };
      this.#rain.lastMs = end;
      this.#rain.litres += flows.rainIn;
      this.#rain.extremeMm = Math.max(this.#rain.extremeMm, this.state.levelMm);
    } else if (this.#rain !== null && end - this.#rain.lastMs > RAIN_EVENT_GAP_MS) {
      this.#close('rain', this.#rain);
      this.#rain = null;
    }
    if (flows.overflow > 0.001 && !worked) {
      this.#overflow ??= { startMs: ms, lastMs: end, litres: 0, startLevelMm: before, extremeMm: before };
      this.#overflow.lastMs = end;
      this.#overflow.litres += flows.overflow;
    } else if (this.#overflow !== null && end - this.#overflow.lastMs > RAIN_EVENT_GAP_MS) {
      this.#close('overflow', this.#overflow);
      this.#overflow = null;
    }
    if (this.state.levelMm > this.spec.model.overflowMm + 2) {
      this.#above ??= { startMs: ms, lastMs: end, litres: 0, startLevelMm: before, extremeMm: before };
      this.#above.lastMs = end;
      this.#above.extremeMm = Math.max(this.#above.extremeMm, this.state.levelMm);
    } else if (this.#above !== null) {
      if (this.#above.lastMs - this.#above.startMs >= 2 * 3_600_000) this.#close('above_overflow', this.#above);
      this.#above = null;
    }
  }

  #close(kind: TruthEvent['kind'], span: OpenSpan): void {
    this.events.push({
      kind,
      startMs: span.startMs,
      endMs: span.lastMs,
      litres: span.litres,
      startLevelMm: span.startLevelMm,
      endLevelMm: span.extremeMm,
      by: '',
    });
  }

  /** Ends the spans that are open when the record ends. */
  finish(): void {
    if (this.#rain !== null) this.#close('rain', this.#rain);
    if (this.#overflow !== null) this.#close('overflow', this.#overflow);
    if (this.#above !== null) this.#close('above_overflow', this.#above);
    this.#rain = null;
    this.#overflow = null;
    this.#above = null;
  }
}

/** All pots of one site under one crew. */
export class SiteSimulation {
  readonly runs: readonly PotRun[];
  readonly calendar: Calendar;
  readonly crew: SiteCrew;
  #step = 0;
  readonly #flows = newFlows();

  constructor(pots: readonly PotSpec[], calendar: Calendar, crew: SiteCrew) {
    this.runs = pots.map((spec) => new PotRun(spec, calendar));
    this.calendar = calendar;
    this.crew = crew;
  }

  get step(): number {
    return this.#step;
  }

  /** Advances to a step, with the site's own people or with what `workOf` says. */
  advanceTo(step: number, workOf?: (ms: number, runs: readonly PotRun[]) => readonly Watering[]): void {
    const states = this.runs.map((run) => run.state);
    const none: Watering[] = [];
    const last = Math.min(step, this.calendar.hours * 4);
    for (; this.#step < last; this.#step++) {
      const ms = this.calendar.startMs + this.#step * STEP_MS;
      const work = workOf === undefined ? this.crew.workIn(ms, states) : workOf(ms, this.runs);
      for (let i = 0; i < this.runs.length; i++) {
        const own = work.length === 0 ? none : work.filter((w) => w.potIndex === i);
        this.runs[i]!.advance(this.#step, ms, own, this.#flows);
      }
      for (const run of this.runs) {
        if (run.snapshots.has(this.#step + 1)) run.snapshots.set(this.#step + 1, { ...run.state });
      }
    }
  }
}

/** When the pot would run dry, and its soil lose its readily available water, if nobody refilled it. */
export interface Counterfactual {
  readonly dryMs: number | null;
  readonly stressMs: number | null;
}

export const HORIZON_DAYS = 60;

/** Runs the pot on from a state with the true weather and no hands. Null past the horizon of 60 days. */
export function runDry(spec: PotSpec, calendar: Calendar, fromStep: number, from: PotState): Counterfactual {
  const state = { ...from };
  const flows = newFlows();
  const { model } = spec;
  const originMs = calendar.startMs + fromStep * STEP_MS;
  const footLitres = model.curve.litresAt(model.footMm);
  let dryMs: number | null = state.litres <= footLitres + 1e-9 ? originMs : null;
  let stressMs: number | null = dryMs !== null && isStressed(model.soil, state.soilLitres) ? originMs : null;
  const last = Math.min(calendar.hours * 4, fromStep + HORIZON_DAYS * 96);
  for (let step = fromStep; step < last && (dryMs === null || stressMs === null); step++) {
    stepPot(model, state, step, null, flows);
    const ms = calendar.startMs + step * STEP_MS;
    if (dryMs === null && flows.footReached >= 0) dryMs = ms + Math.round(flows.footReached * STEP_MS);
    if (dryMs === null && state.litres <= footLitres + 1e-9) dryMs = ms + STEP_MS;
    if (dryMs !== null && stressMs === null && isStressed(model.soil, state.soilLitres)) stressMs = ms + STEP_MS;
  }
  return { dryMs, stressMs };
}
