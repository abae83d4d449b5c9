import type { Actor, ChangeSet, Write } from '../../domain/change-set.js';
import type { EpochMs } from '../../domain/ids.js';
import type { Store } from '../../domain/ports/store.js';

/** Rows in one commit; SQLite writes some 50,000 a second, and nothing else runs meanwhile. */
const MOST_ROWS = 1000;

/** Gathers writes and commits them in parts of bounded size. */
export class Batch {
  readonly #store: Store;
  readonly #actor: Actor;
  readonly #nowMs: EpochMs;
  #writes: Write[] = [];
  #rows = 0;

  constructor(store: Store, actor: Actor, nowMs: EpochMs) {
    this.#store = store;
    this.#actor = actor;
    this.#nowMs = nowMs;
  }

  async take(writes: readonly Write[]): Promise<void> {
    for (const write of writes) {
      this.#writes.push(write);
      this.#rows += rowsOf(write);
      if (this.#rows >= MOST_ROWS) await this.#commit(null);
    }
  }

  async close(cursor: ChangeSet['cursor']): Promise<void> {
    if (this.#writes.length > 0 || cursor !== null) await this.#commit(cursor);
  }

  async #commit(cursor: ChangeSet['cursor']): Promise<void> {
    const writes = this.#writes;
    this.#writes = [];
    this.#rows = 0;
    await this.#store.commit({ atMs: this.#nowMs, actor: this.#actor, writes, cursor });
  }
}

function rowsOf(write: Write): number {
  switch (write.kind) {
    case 'derived': {
      const { events, ledgerDays, hourRollups, dayRollups } = write.derived;
      return 1 + events.length + ledgerDays.length + hourRollups.length + dayRollups.length;
    }
    // A state is worth many rows.
    case 'checkpoints':
      return 1 + 10 * write.rows.length;
    default:
      return 1;
  }
}
