/** Work that was recorded on this device and that the server has not yet taken. */
export interface Outgoing<Body> {
  /** Made here, once; the server takes a repeat for the same thing. */
  readonly id: string;
  readonly body: Body;
  /** By the process clock, for the order of sending. */
  readonly queuedMs: number;
  /** What the server said against it, in words; null while it only waits for a signal. */
  readonly refusal: string | null;
}

/** Where the queue outlives the page. */
export interface OutboxStorage<Body> {
  all(): Promise<readonly Outgoing<Body>[]>;
  put(item: Outgoing<Body>): Promise<void>;
  remove(id: string): Promise<void>;
}

/** `sent`: taken, also when it had been taken before. `later`: no signal, or the server cannot answer now. */
export type SendOutcome =
  | { readonly kind: 'sent' }
  | { readonly kind: 'later' }
  | { readonly kind: 'refused'; readonly detail: string };

/**
 * A queue that loses nothing: what is put in is on the device's disk before `add` resolves, leaves only when the server
 * has it, and stays with the server's words where the server refuses it, until a person decides.
 */
export class Outbox<Body> {
  readonly #storage: OutboxStorage<Body>;
  readonly #send: (id: string, body: Body) => Promise<SendOutcome>;
  readonly #listeners = new Set<() => void>();
  #items: readonly Outgoing<Body>[] = [];
  #flushing: Promise<void> | null = null;

  constructor(storage: OutboxStorage<Body>, send: (id: string, body: Body) => Promise<SendOutcome>) {
    this.#storage = storage;
    this.#send = send;
  }

  get items(): readonly Outgoing<Body>[] {
    return this.#items;
  }

  onChange(listener: () => void): () => void {
    this.#listeners.add(listener);
    return () => this.#listeners.delete(listener);
  }

  /** Reads what an earlier page left behind. */
  async open(): Promise<void> {
    this.#set([...(await this.#storage.all())].sort((a, b) => a.queuedMs - b.queuedMs));
  }

  async add(id: string, body: Body, queuedMs: number): Promise<void> {
    const item: Outgoing<Body> = { id, body, queuedMs, refusal: null };
    await this.#storage.put(item);
    this.#set([...this.#items.filter((known) => known.id !== id), item]);
  }

  /** Sends what waits, oldest first. Calls while one is under way share it. */
  flush(): Promise<void> {
    this.#flushing ??= this.#flushAll().finally(() => {
      this.#flushing = null;
    });
    return this.#flushing;
  }

  /** A person decided that a refused record shall go. */
  async discard(id: string): Promise<void> {
    await this.#storage.remove(id);
    this.#set(this.#items.filter((item) => item.id !== id));
  }

  async #flushAll(): Promise<void> {
    const tried = new Set<string>();
    for (;;) {
      const next = this.#items.find((item) => item.refusal === null && !tried.has(item.id));
      if (next === undefined) return;
      tried.add(next.id);
      const outcome = await this.#send(next.id, next.body);
      if (outcome.kind === 'later') return;
      if (outcome.kind === 'sent') {
        await this.discard(next.id);
      } else {
        const refused = { ...next, refusal: outcome.detail };
        await this.#storage.put(refused);
        this.#set(this.#items.map((item) => (item.id === next.id ? refused : item)));
      }
    }
  }

  #set(items: readonly Outgoing<Body>[]): void {
    this.#items = items;
    for (const listener of [...this.#listeners]) listener();
  }
}
