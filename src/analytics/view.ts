import type { PotContext } from '../domain/analysis.js';
import type { EpochMs, NodeId } from '../domain/ids.js';
import type { PotEvent } from '../domain/pot.js';
import type { PackedBlock } from './block.js';
import { expectedRate } from './bookkeeping.js';
import type { PackedDay } from './day-record.js';
import type { PotView } from './pot-view.js';
import { soilDebtLitres } from './soil.js';
import { type PotState, strappingOf } from './state.js';
import type { Strapping } from './strapping.js';

/** The state as the findings see it. */
export function viewOf(ctx: PotContext, state: PotState): PotView {
  return new StateView(ctx, state);
}

/**
 * Made for every reading and at every look, and most of it is not asked for then: all but the plain references is worked
 * out on demand. A class, since an object with getters of its own costs more to make than what it saves.
 */
class StateView implements PotView {
  readonly ctx: PotContext;
  readonly #state: PotState;
  #demand: number | null = null;

  constructor(ctx: PotContext, state: PotState) {
    this.ctx = ctx;
    // The fold goes on changing its draft's fields; what a view shows is read at once by those that it is given to.
    this.#state = state;
  }

  get strapping(): Strapping {
    return strappingOf(this.ctx);
  }

  get atMs(): EpochMs {
    return this.#state.atMs;
  }

  get nodeId(): NodeId | null {
    const { assignment, latest } = this.#state;
    return assignment.ended ? null : (assignment.nodeId ?? latest.nodeId);
  }

  get assignedMs(): EpochMs | null {
    return this.#state.assignment.sinceMs ?? this.#state.latest.firstReadingMs;
  }

  get promisedIntervalS(): number | null {
    return this.#state.assignment.promisedIntervalS;
  }

  get learntIntervalS(): number | null {
    return this.#state.cleaning.intervalS;
  }

  get lastReadingMs(): EpochMs | null {
    return this.#state.latest.readingMs;
  }

  get lastLevelMs(): EpochMs | null {
    const { cleaning } = this.#state;
    return cleaning.levelMm === null ? null : cleaning.levelMs;
  }

  get levelMm(): number | null {
    return this.#state.cleaning.levelMm;
  }

  get litres(): number | null {
    const { levelMm } = this.#state.cleaning;
    return levelMm === null ? null : Math.max(0, this.strapping.litresAt(levelMm));
  }

  get moistureFraction(): number | null {
    return this.#state.latest.moistureFraction;
  }

  get noiseMm(): number {
    return this.#state.cleaning.noiseMm;
  }

  get temperatureMmPerK(): number {
    return this.#state.temperature?.mmPerK ?? 0;
  }

  get temperatureSdMmPerK(): number | null {
    return this.#state.temperature?.sdMmPerK ?? null;
  }

  get demandLitresPerDay(): number {
    this.#demand ??= expectedRate(this.ctx, this.#state);
    return this.#demand;
  }

  get et0Mm(): number {
    const { weather, demand } = this.#state;
    return weather.days[weather.days.length - 1]?.[1] ?? this.demandLitresPerDay / Math.exp(demand.kappa);
  }

  get kappa(): number {
    return this.#state.demand.kappa;
  }

  get kappaSd(): number {
    return Math.sqrt(this.#state.demand.varKappa);
  }

  get demandDays(): number {
    return this.#state.demand.days;
  }

  get moistureReference(): number | null {
    return this.#state.soil.reference;
  }

  get debtLitres(): number {
    return soilDebtLitres(this.ctx, this.#state.soil, this.#state.atMs, this.demandLitresPerDay);
  }

  get rainBucketLitres(): number {
    return this.#state.soil.bucketLitres;
  }

  get recentEvents(): readonly PotEvent[] {
    return this.#state.events.records.map((record) => record.event);
  }

  get blocks(): readonly PackedBlock[] {
    return this.#state.blocks;
  }

  get days(): readonly PackedDay[] {
    return this.#state.days;
  }
}
