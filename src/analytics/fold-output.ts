import type { Checkpoint, DerivedRecords } from '../domain/analysis.js';
import type { ContainerId, EpochMs, LocalDay } from '../domain/ids.js';
import type { DayRollup, HourRollup, LedgerDay, PotEvent } from '../domain/pot.js';
import { type RollupSums, valuesOf } from './rollups.js';
import type { PotState } from './state.js';

/** Collects what one run of the fold derives; a row given again replaces the one before. */
export class FoldOutput {
  readonly checkpoints: Checkpoint<PotState>[] = [];
  readonly #containerId: ContainerId;
  readonly #events = new Map<string, PotEvent>();
  readonly #withdrawn = new Set<string>();
  readonly #ledgerDays = new Map<LocalDay, LedgerDay>();
  readonly #hours = new Map<EpochMs, HourRollup>();
  readonly #days = new Map<LocalDay, DayRollup>();

  constructor(containerId: ContainerId) {
    this.#containerId = containerId;
  }

  putEvent(event: PotEvent): void {
    this.#withdrawn.delete(event.id);
    this.#events.set(event.id, event);
  }

  /** An event of an earlier run, or of this one, that is none. */
  withdrawEvent(id: string): void {
    this.#events.delete(id);
    this.#withdrawn.add(id);
  }

  putLedgerDay(day: LedgerDay): void {
    this.#ledgerDays.set(day.day, day);
  }

  putHour(sums: RollupSums): void {
    this.#hours.set(sums.fromMs, { containerId: this.#containerId, hourMs: sums.fromMs, ...valuesOf(sums) });
  }

  putDay(day: LocalDay, sums: RollupSums): void {
    this.#days.set(day, { containerId: this.#containerId, day, ...valuesOf(sums) });
  }

  derived(fromMs: EpochMs): DerivedRecords {
    return {
      fromMs,
      events: [...this.#events.values()].sort((a, b) => a.startMs - b.startMs),
      withdrawnEvents: [...this.#withdrawn].sort(),
      ledgerDays: [...this.#ledgerDays.values()].sort((a, b) => (a.day < b.day ? -1 : 1)),
      hourRollups: [...this.#hours.values()],
      dayRollups: [...this.#days.values()],
    };
  }
}
