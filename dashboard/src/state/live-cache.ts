/** What a line of the change stream says: something of this kind, belonging to this site and container, is new. */
export interface ChangeNotice {
  readonly seq: number;
  readonly kind: string;
  readonly key: string;
  readonly siteId: string | null;
  readonly containerId: string | null;
}

/** A view of the server: how to load it, and which changes make it old. */
export interface LiveQuery<Data> {
  /** Equal keys are the same view. */
  readonly key: string;
  readonly load: (signal: AbortSignal) => Promise<Data>;
  readonly touchedBy: (change: ChangeNotice) => boolean;
}

export interface LiveState<Data> {
  readonly data: Data | null;
  /** The last load failed; `data` is what was known before. */
  readonly fault: unknown;
  readonly loading: boolean;
}

/** Timers as an argument, so that the cache itself holds no clock. */
export interface LivePacing {
  nowMs(): number;
  later(run: () => void, delayMs: number): () => void;
}

interface Entry {
  query: LiveQuery<unknown>;
  state: LiveState<unknown>;
  readonly listeners: Set<() => void>;
  stale: boolean;
  running: AbortController | null;
  cancelTimer: (() => void) | null;
  lastStartMs: number;
  lastTookMs: number;
}

const EMPTY: LiveState<unknown> = { data: null, fault: null, loading: false };

/** A burst of changes makes one load; the pause also keeps the load on the server below a fifth of the time. */
const LEAST_PAUSE_MS = 600;
const PAUSE_PER_LOAD = 4;

/**
 * Keeps the views that are on the page true: a change that touches a view loads it again, soon but not more often than
 * it can be answered. Views that nobody looks at are only marked, and load when they are looked at again.
 */
export class LiveCache {
  readonly #entries = new Map<string, Entry>();
  readonly #pacing: LivePacing;

  constructor(pacing: LivePacing) {
    this.#pacing = pacing;
  }

  /** Looks at a view; `listener` is called whenever its state changes. Returns the way to stop looking. */
  watch<Data>(query: LiveQuery<Data>, listener: () => void): () => void {
    const entry = this.#entry(query);
    entry.query = query as LiveQuery<unknown>;
    entry.listeners.add(listener);
    if (entry.stale && entry.running === null) this.#start(entry);
    return () => {
      entry.listeners.delete(listener);
      if (entry.listeners.size > 0) return;
      entry.cancelTimer?.();
      entry.cancelTimer = null;
      // A view that nobody waits for any more must not hold a connection.
      if (entry.running !== null) {
        entry.running.abort();
        entry.running = null;
        entry.stale = true;
        entry.state = { ...entry.state, loading: false };
      }
    };
  }

  state<Data>(key: string): LiveState<Data> {
    return (this.#entries.get(key)?.state ?? EMPTY) as LiveState<Data>;
  }

  /** Puts in what is known from elsewhere, for instance from the last visit without a signal; it counts as old. */
  seed<Data>(query: LiveQuery<Data>, data: Data): void {
    const entry = this.#entry(query);
    if (entry.state.data !== null) return;
    this.#set(entry, { ...entry.state, data });
  }

  apply(changes: readonly ChangeNotice[]): void {
    for (const entry of this.#entries.values()) {
      if (changes.some((change) => entry.query.touchedBy(change))) this.#age(entry);
    }
  }

  /** After a gap in the stream nobody knows what changed. */
  ageAll(): void {
    for (const entry of this.#entries.values()) this.#age(entry);
  }

  /** Loads a view again now, for instance after a person's own change. */
  async refresh(key: string): Promise<void> {
    const entry = this.#entries.get(key);
    if (entry === undefined) return;
    entry.stale = true;
    entry.cancelTimer?.();
    entry.cancelTimer = null;
    entry.running?.abort();
    entry.running = null;
    if (entry.listeners.size > 0) await this.#start(entry);
  }

  /** Forgets everything, for instance when another person signs in. */
  clear(): void {
    for (const entry of this.#entries.values()) {
      entry.cancelTimer?.();
      entry.running?.abort();
    }
    this.#entries.clear();
  }

  #entry<Data>(query: LiveQuery<Data>): Entry {
    const known = this.#entries.get(query.key);
    if (known !== undefined) return known;
    const made: Entry = {
      query: query as LiveQuery<unknown>,
      state: EMPTY,
      listeners: new Set(),
      stale: true,
      running: null,
      cancelTimer: null,
      lastStartMs: Number.NEGATIVE_INFINITY,
      lastTookMs: 0,
    };
    this.#entries.set(query.key, made);
    return made;
  }

  #age(entry: Entry): void {
    entry.stale = true;
    if (entry.listeners.size === 0 || entry.running !== null || entry.cancelTimer !== null) return;
    const pauseMs = Math.max(LEAST_PAUSE_MS, entry.lastTookMs * PAUSE_PER_LOAD);
    const waitMs = Math.max(0, entry.lastStartMs + pauseMs - this.#pacing.nowMs());
    entry.cancelTimer = this.#pacing.later(() => {
      entry.cancelTimer = null;
      void this.#start(entry);
    }, waitMs);
  }

  async #start(entry: Entry): Promise<void> {
    const controller = new AbortController();
    entry.running = controller;
    entry.stale = false;
    entry.lastStartMs = this.#pacing.nowMs();
    this.#set(entry, { ...entry.state, loading: true });
    let next: LiveState<unknown>;
    try {
      const data = await entry.query.load(controller.signal);
      next = { data, fault: null, loading: false };
    } catch (fault) {
      next = { data: entry.state.data, fault, loading: false };
    }
    // A later load or the end of the watching took over.
    if (entry.running !== controller) return;
    entry.running = null;
    entry.lastTookMs = this.#pacing.nowMs() - entry.lastStartMs;
    this.#set(entry, next);
    if (entry.stale) this.#age(entry);
  }

  #set(entry: Entry, state: LiveState<unknown>): void {
    entry.state = state;
    for (const listener of [...entry.listeners]) listener();
  }
}
