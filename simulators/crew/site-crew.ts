import { type Calendar, DAY_MS, HOUR_MS, STEP_MS } from '../calendar.js';
import type { PotSpec } from '../fleet/pot-spec.js';
import type { PotState } from '../pot/physics.js';
import { Draw } from '../rng.js';

/** Water that a person brings to one pot. */
export interface Watering {
  readonly potIndex: number;
  readonly atMs: number;
  readonly by: 'crew' | 'unknown';
  readonly work: 'refill' | 'wet_from_above' | 'drain' | 'repack_wick' | 'clear_overflow' | 'replant';
  readonly litres: number;
  /** What the crew writes down; null where nothing is reported. */
  readonly reportedLitres: number | null;
}

export interface CrewHabits {
  /** The fill at which a pot comes due is drawn from here; below 0 is days after it ran dry, in tenths. */
  readonly dueFrom: number;
  readonly dueTo: number;
  readonly forgetShare: number;
  readonly reportShare: number;
  /** Refills and waterings from above by people unknown, per pot and year. */
  readonly unknownRefillsPerYear: number;
  readonly unknownTopWateringsPerYear: number;
  readonly skipShare: number;
  /** Times per pot and year that somebody tips a pot or siphons it. */
  readonly suddenLossesPerYear: number;
}

export const USUAL_HABITS: CrewHabits = {
  dueFrom: -0.25,
  dueTo: 0.45,
  forgetShare: 0.06,
  reportShare: 0.85,
  unknownRefillsPerYear: 1.5,
  unknownTopWateringsPerYear: 1.5,
  skipShare: 0.04,
  suddenLossesPerYear: 0,
};

interface PotMemo {
  dueFill: number;
  forgottenUntilMs: number;
  drySinceMs: number | null;
}

/** The people of one site: crews that come when a pot is due by their own rough idea of it, and neighbours. */
export class SiteCrew {
  readonly #pots: readonly PotSpec[];
  readonly #calendar: Calendar;
  readonly #habits: CrewHabits;
  readonly #draw: Draw;
  readonly #memos: PotMemo[];
  #visitMs: number | null = null;
  #lastDay = -1;
  #unknown: Watering[] = [];
  readonly #script: readonly {
    readonly potIndex: number;
    readonly atMs: number;
    readonly by: 'crew' | 'unknown';
    readonly shareOfMissing: number;
  }[];

  constructor(
    pots: readonly PotSpec[],
    calendar: Calendar,
    habits: CrewHabits,
    seed: string,
    siteId: string,
    script: readonly {
      readonly containerId: string;
      readonly atMs: number;
      readonly by: 'crew' | 'unknown';
      readonly shareOfMissing: number;
    }[] = [],
  ) {
    this.#script = script.flatMap((entry) => {
      const potIndex = pots.findIndex((pot) => pot.id === entry.containerId);
      return potIndex < 0 ? [] : [{ ...entry, potIndex }];
    });
    this.#pots = pots;
    this.#calendar = calendar;
    this.#habits = habits;
    this.#draw = new Draw(seed, 'crew', siteId);
    this.#memos = pots.map(() => ({ dueFill: this.#nextDue(), forgottenUntilMs: 0, drySinceMs: null }));
  }

  #nextDue(): number {
    return this.#draw.uniform(this.#habits.dueFrom, this.#habits.dueTo);
  }

  #fill(index: number, state: PotState): number {
    const { curve, footMm, overflowMm } = this.#pots[index]!.model;
    const foot = curve.litresAt(footMm);
    return (state.litres - foot) / (curve.litresAt(overflowMm) - foot);
  }

  #newDay(dayIndex: number, states: readonly PotState[]): void {
    const draw = this.#draw;
    const morning = this.#calendar.dayStartMs[dayIndex]! + 6 * HOUR_MS;
    let due = false;
    for (let i = 0; i < states.length; i++) {
      const memo = this.#memos[i]!;
      const fill = this.#fill(i, states[i]!);
      if (fill > 0.001) memo.drySinceMs = null;
      else memo.drySinceMs ??= morning;
      const waitedDays = memo.drySinceMs === null ? 0 : (morning - memo.drySinceMs) / DAY_MS;
      const reached = memo.dueFill >= 0 ? fill <= memo.dueFill : waitedDays >= -memo.dueFill * 10;
      if (reached && morning >= memo.forgottenUntilMs) {
        if (memo.forgottenUntilMs === 0 && draw.chance(this.#habits.forgetShare)) {
          memo.forgottenUntilMs = morning + draw.uniform(4, 14) * DAY_MS;
        } else {
          due = true;
        }
      }
      const unknown = this.#habits;
      if (draw.chance(unknown.unknownRefillsPerYear / 365) && fill < 0.8) {
        this.#unknown.push(this.#stranger(i, states[i]!, dayIndex, 'refill'));
      }
      if (unknown.suddenLossesPerYear > 0 && draw.chance(unknown.suddenLossesPerYear / 365) && fill > 0.3) {
        const litres = states[i]!.litres * draw.uniform(0.4, 0.95);
        const atMs = this.#calendar.dayStartMs[dayIndex]! + draw.uniform(8, 23) * HOUR_MS;
        this.#unknown.push({ potIndex: i, atMs, by: 'unknown', work: 'drain', litres, reportedLitres: null });
      }
      if (draw.chance(unknown.unknownTopWateringsPerYear / 365)) {
        this.#unknown.push(this.#stranger(i, states[i]!, dayIndex, 'wet_from_above'));
      }
    }
    if (due && this.#visitMs === null) {
      const delayDays = draw.weighted([0.5, 0.3, 0.2]);
      const dayOf = Math.min(this.#calendar.days.length - 1, dayIndex + delayDays);
      this.#visitMs = this.#calendar.dayStartMs[dayOf]! + draw.uniform(7.5, 16) * HOUR_MS;
    }
  }

  #stranger(potIndex: number, state: PotState, dayIndex: number, work: 'refill' | 'wet_from_above'): Watering {
    const { curve, overflowMm } = this.#pots[potIndex]!.model;
    const missing = Math.max(0.5, curve.litresAt(overflowMm) - state.litres);
    const litres = work === 'refill' ? missing * this.#draw.uniform(0.2, 1) : this.#draw.uniform(0.5, 3);
    const atMs = this.#calendar.dayStartMs[dayIndex]! + this.#draw.uniform(8, 21) * HOUR_MS;
    return { potIndex, atMs, by: 'unknown', work, litres, reportedLitres: null };
  }

  /** What is done at the site in the step that begins at `ms`. */
  workIn(ms: number, states: readonly PotState[]): Watering[] {
    const dayIndex = this.#calendar.dayIndex(ms);
    if (dayIndex !== this.#lastDay) {
      this.#lastDay = dayIndex;
      this.#newDay(dayIndex, states);
    }
    const work: Watering[] = [];
    for (const entry of this.#script) {
      if (entry.atMs < ms || entry.atMs >= ms + STEP_MS) continue;
      const { curve, overflowMm } = this.#pots[entry.potIndex]!.model;
      const missing = curve.litresAt(overflowMm) - states[entry.potIndex]!.litres;
      const litres = missing * Math.min(1, entry.shareOfMissing) + (entry.shareOfMissing > 1 ? 0.5 : 0);
      if (litres < 0.2) continue;
      const { potIndex, atMs, by } = entry;
      work.push({
        potIndex,
        atMs,
        by,
        work: 'refill',
        litres,
        reportedLitres: by === 'crew' ? Math.round(litres) : null,
      });
    }
    if (this.#unknown.length > 0) {
      const now = this.#unknown.filter((w) => w.atMs < ms + STEP_MS);
      if (now.length > 0) {
        this.#unknown = this.#unknown.filter((w) => w.atMs >= ms + STEP_MS);
        for (const w of now) work.push({ ...w, atMs: Math.max(ms, w.atMs) });
      }
    }
    if (this.#visitMs !== null && this.#visitMs < ms + STEP_MS) {
      const atMs = Math.max(ms, this.#visitMs);
      this.#visitMs = null;
      for (let i = 0; i < states.length; i++) {
        const watering = this.#serve(i, states[i]!, atMs);
        if (watering !== null) work.push(watering);
      }
    }
    return work;
  }

  #serve(potIndex: number, state: PotState, atMs: number): Watering | null {
    const draw = this.#draw;
    const memo = this.#memos[potIndex]!;
    const fill = this.#fill(potIndex, state);
    if (memo.forgottenUntilMs > atMs) return null;
    const wanted = fill < 0.35 ? 1 - this.#habits.skipShare : fill < 0.65 ? 0.55 : 0.15;
    if (!draw.chance(wanted)) return null;
    const { curve, overflowMm } = this.#pots[potIndex]!.model;
    const missing = curve.litresAt(overflowMm) - state.litres;
    if (missing < 0.3) return null;
    const mode = draw.weighted([0.55, 0.35, 0.1]);
    let litres: number;
    if (mode === 0) litres = missing + draw.uniform(0.1, 0.8);
    else if (mode === 1) litres = Math.max(0.5, Math.round(missing * draw.uniform(0.6, 1) * 2) / 2);
    else litres = missing * draw.uniform(0.2, 0.5);
    const reported = draw.chance(this.#habits.reportShare);
    const reportedLitres = Math.max(0.5, Math.round(litres * (1 + draw.normal(0, 0.06)) * 2) / 2);
    memo.dueFill = this.#nextDue();
    memo.forgottenUntilMs = 0;
    memo.drySinceMs = null;
    return { potIndex, atMs, by: 'crew', work: 'refill', litres, reportedLitres: reported ? reportedLitres : null };
  }
}
