/** Told when the item is durable (null), or that it is not. */
export type Settle = (error: Error | null) => void;

export interface GroupCommitStats {
  /** Commits done. */
  readonly commits: number;
  readonly items: number;
  /** Largest number of items in one commit so far. */
  readonly largest: number;
  readonly waiting: number;
  readonly failedCommits: number;
  /** Time spent in commits, process clock. */
  readonly commitMs: number;
}

/** So many messages share one fsync; more would make the first of them wait without storing any sooner. */
export const DEFAULT_MAX_BATCH = 500;

/**
 * Gathers items from all connections and commits them together; each is settled after its commit, never before.
 *
 * It commits at the end of the event loop's turn, so that whatever the sockets had to say in that turn shares a commit.
 * Waiting for a timer of some milliseconds instead was slower for few clients and no faster for many.
 */
export class GroupCommit<Item> {
  readonly #commit: (items: readonly Item[]) => Promise<unknown>;
  readonly #isolates: (error: Error) => boolean;
  readonly #maxBatch: number;
  #waiting: { readonly item: Item; readonly settle: Settle }[] = [];
  #running: Promise<void> | null = null;
  #scheduled = false;
  #commits = 0;
  #items = 0;
  #largest = 0;
  #failedCommits = 0;
  #commitMs = 0;

  /**
   * @param commit stores items durably and all at once, or rejects having stored none
   * @param isolates whether an error may be the fault of one item, so that trying them one by one can save the others; a
   *   full or locked store would only fail once for each
   */
  constructor(
    commit: (items: readonly Item[]) => Promise<unknown>,
    isolates: (error: Error) => boolean,
    maxBatch = DEFAULT_MAX_BATCH,
  ) {
    this.#commit = commit;
    this.#isolates = isolates;
    this.#maxBatch = maxBatch;
  }

  add(item: Item, settle: Settle): void {
    this.#waiting.push({ item, settle });
    this.#schedule();
  }

  /** Resolves when everything that was added before the call is settled. */
  async drain(): Promise<void> {
    while (this.#waiting.length > 0 || this.#running !== null) {
      await (this.#running ?? new Promise<void>((resolve) => setImmediate(resolve)));
    }
  }

  stats(): GroupCommitStats {
    return {
      commits: this.#commits,
      items: this.#items,
      largest: this.#largest,
      waiting: this.#waiting.length,
      failedCommits: this.#failedCommits,
      commitMs: this.#commitMs,
    };
  }

  #schedule(): void {
    if (this.#scheduled || this.#running !== null) return;
    this.#scheduled = true;
    setImmediate(() => {
      this.#scheduled = false;
      this.#running = this.#flush().finally(() => {
        this.#running = null;
        if (this.#waiting.length > 0) this.#schedule();
      });
    });
  }

  async #flush(): Promise<void> {
    const batch = this.#waiting.splice(0, this.#maxBatch);
    const error = await this.#tryCommit(batch);
    if (error === null || batch.length === 1 || !this.#isolates(error)) {
      for (const { settle } of batch) settle(error);
      return;
    }
    // One item that the store cannot take must not hold up those that happened to share its commit.
    for (const one of batch) one.settle(await this.#tryCommit([one]));
  }

  async #tryCommit(batch: readonly { readonly item: Item }[]): Promise<Error | null> {
    const startedMs = performance.now();
    try {
      await this.#commit(batch.map(({ item }) => item));
      this.#commits += 1;
      this.#items += batch.length;
      this.#largest = Math.max(this.#largest, batch.length);
      return null;
    } catch (error) {
      this.#failedCommits += 1;
      return error instanceof Error ? error : new Error(String(error));
    } finally {
      this.#commitMs += performance.now() - startedMs;
    }
  }
}
