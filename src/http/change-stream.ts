import type { ServerResponse } from 'node:http';
import { ChangeFilter, coalesce } from '../app/changes.js';
import type { SignedIn } from '../app/people/sessions.js';
import type { Change } from '../domain/change-set.js';
import { type HttpDeps, whoOf } from './api.js';
import type { ChangeJson, StreamNotice } from './schemas/index.js';
import { toWire } from './wire.js';

/** Whoever missed more than this loads everything anew; listing it would cost more. */
export const MOST_MISSED = 10_000;
/** Browsers and proxies drop a silent connection after 30 to 60 seconds (common practice, no source). */
const HEARTBEAT_MS = 15_000;
const RECONNECT_MS = 3_000;

/**
 * One open page that follows the change log. It reads the log at its own pace and keeps no more than one batch, so a
 * slow reader costs no memory; one that takes nothing for long is let go, and comes back with the last id that it saw.
 */
export class ChangeStream {
  readonly #deps: HttpDeps;
  readonly #response: ServerResponse;
  readonly #filter: ChangeFilter;
  readonly #stillSignedIn: () => Promise<boolean>;
  #seq: number;
  #pumping = false;
  #again = false;
  #ended = false;
  readonly #stop: (() => void)[] = [];

  constructor(
    deps: HttpDeps,
    response: ServerResponse,
    signedIn: SignedIn,
    afterSeq: number | null,
    stillSignedIn: () => Promise<boolean>,
  ) {
    this.#deps = deps;
    this.#response = response;
    this.#filter = new ChangeFilter(deps.app.store, whoOf(signedIn));
    this.#stillSignedIn = stillSignedIn;
    // A number beyond the log's end comes from another data folder.
    this.#seq = afterSeq === null || afterSeq > deps.feed.lastSeq ? deps.feed.lastSeq : afterSeq;
  }

  start(onEnd: () => void): void {
    const response = this.#response;
    response.once('close', () => this.#finish());
    this.#stop.push(onEnd);
    response.writeHead(200, {
      'content-type': 'text/event-stream; charset=utf-8',
      'cache-control': 'no-store',
      'x-accel-buffering': 'no',
      'x-content-type-options': 'nosniff',
    });
    response.write(`retry: ${RECONNECT_MS}\n\n`);
    this.#notice('hello', 'Changes follow as they are made.');
    this.#stop.push(this.#deps.feed.follow(() => this.#wake()));
    const heartbeat = setInterval(() => this.#background(this.#beat()), HEARTBEAT_MS);
    this.#stop.push(() => clearInterval(heartbeat));
    this.#wake();
  }

  /** Says why, and ends the stream; the browser comes back with its last event id. */
  goodbye(detail: string): void {
    if (this.#ended) return;
    this.#notice('goodbye', detail);
    this.#response.end();
    this.#finish();
  }

  #finish(): void {
    if (this.#ended) return;
    this.#ended = true;
    for (const stop of this.#stop) stop();
  }

  #wake(): void {
    if (this.#pumping) {
      this.#again = true;
      return;
    }
    this.#pumping = true;
    this.#background(
      this.#pump().finally(() => {
        this.#pumping = false;
      }),
    );
  }

  async #pump(): Promise<void> {
    do {
      this.#again = false;
      if (this.#deps.feed.lastSeq - this.#seq > MOST_MISSED) {
        this.#seq = this.#deps.feed.lastSeq;
        this.#notice('reset', 'Too much has changed to list it. Load everything anew.');
      }
      for (;;) {
        const batch = await this.#deps.feed.after(this.#seq);
        const last = batch.at(-1);
        if (last === undefined || this.#ended) break;
        const heard = await this.#filter.heard(coalesce(batch));
        for (const change of heard) this.#write(eventText(change));
        this.#seq = last.seq;
        await this.#drained();
        if (this.#ended) return;
      }
    } while (this.#again);
  }

  #notice(event: 'hello' | 'reset' | 'goodbye', detail: string): void {
    const notice: StreamNotice = { seq: this.#seq, detail };
    this.#write(`event: ${event}\nid: ${this.#seq}\ndata: ${JSON.stringify(notice)}\n\n`);
  }

  #write(text: string): void {
    if (!this.#ended) this.#response.write(text);
  }

  /** Resolves when the reader has taken what was written; lets it go where it does not. */
  #drained(): Promise<void> {
    if (!this.#response.writableNeedDrain) return Promise.resolve();
    return new Promise((resolve) => {
      const done = (): void => {
        clearTimeout(timer);
        this.#response.off('drain', done);
        this.#response.off('close', done);
        resolve();
      };
      const timer = setTimeout(() => {
        this.#deps.log.info({}, 'a change stream took nothing for too long and was let go');
        this.#response.destroy();
        done();
      }, this.#deps.settings.changePatienceMs);
      this.#response.on('drain', done);
      this.#response.on('close', done);
    });
  }

  async #beat(): Promise<void> {
    if (!(await this.#stillSignedIn())) {
      this.goodbye('The session has ended. Sign in again.');
      return;
    }
    this.#write(': still here\n\n');
  }

  #background(work: Promise<void>): void {
    work.catch((err: unknown) => {
      this.#deps.log.error({ err }, 'a change stream failed');
      this.#response.destroy();
    });
  }
}

function eventText(change: Change): string {
  const { actor: _kept, ...rest } = change;
  const json: ChangeJson = toWire(rest);
  return `id: ${change.seq}\nevent: change\ndata: ${JSON.stringify(json)}\n\n`;
}
