import { existsSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { isMainThread, parentPort, Worker } from 'node:worker_threads';
import type { PlanContent } from '../../domain/plan.js';
import { breathe } from '../turns.js';
import { PlanAnswerer, type PlanAnswers, type PlanQuestion } from './plan-answers.js';

type Asked<Kind extends PlanQuestion['kind']> = Extract<PlanQuestion, { readonly kind: Kind }>;

type FromThread =
  | { readonly kind: 'first'; readonly id: number; readonly content: PlanContent }
  | { readonly kind: 'answer'; readonly id: number; readonly answer: PlanAnswers[PlanQuestion['kind']] }
  | { readonly kind: 'failed'; readonly id: number; readonly detail: string };

interface Waiting {
  readonly resolve: (answer: PlanAnswers[PlanQuestion['kind']]) => void;
  readonly reject: (error: Error) => void;
  readonly onFirst: (content: PlanContent) => void;
}

/**
 * A planner in a thread of its own, so that whoever serves requests is not kept waiting. Questions are answered one after
 * the other. From source, where no thread can be had, the answers are worked out in this one.
 */
export class PlanThread {
  readonly #waiting = new Map<number, Waiting>();
  #worker: Worker | null = null;
  #inPlace: PlanAnswerer | null = null;
  #nextId = 1;
  #closed = false;

  ask<Kind extends PlanQuestion['kind']>(
    question: Asked<Kind>,
    onFirst: (content: PlanContent) => void = () => undefined,
  ): Promise<PlanAnswers[Kind]> {
    if (this.#closed) return Promise.reject(new Error('the planner is closed'));
    const file = fileURLToPath(new URL('./plan-thread.js', import.meta.url));
    if (!existsSync(file)) {
      this.#inPlace ??= new PlanAnswerer();
      const answerer = this.#inPlace;
      // What waits to be served goes first.
      return breathe().then(() => answerer.answer(question, onFirst));
    }
    const worker = this.#worker ?? this.#start(file);
    const id = this.#nextId++;
    return new Promise((resolve, reject) => {
      this.#waiting.set(id, { resolve: (answer) => resolve(answer as PlanAnswers[Kind]), reject, onFirst });
      worker.ref();
      worker.postMessage({ id, question });
    });
  }

  /** Ends the thread with what it is at; questions that wait are refused. The next question starts a new one. */
  async stop(): Promise<void> {
    const worker = this.#worker;
    this.#worker = null;
    this.#inPlace = null;
    this.#fail(new Error('the planner was stopped'));
    await worker?.terminate();
  }

  async close(): Promise<void> {
    this.#closed = true;
    await this.stop();
  }

  #start(file: string): Worker {
    const worker = new Worker(file);
    this.#worker = worker;
    worker.on('message', (message: FromThread) => {
      const waiting = this.#waiting.get(message.id);
      if (waiting === undefined) return;
      if (message.kind === 'first') {
        waiting.onFirst(message.content);
        return;
      }
      this.#waiting.delete(message.id);
      // Only a question that waits keeps the process alive.
      if (this.#waiting.size === 0) worker.unref();
      if (message.kind === 'answer') waiting.resolve(message.answer);
      else waiting.reject(new Error(`the planner failed: ${message.detail}`));
    });
    worker.on('error', (error) => {
      if (this.#worker === worker) this.#worker = null;
      this.#fail(error instanceof Error ? error : new Error(String(error)));
    });
    return worker;
  }

  #fail(error: Error): void {
    for (const { reject } of this.#waiting.values()) reject(error);
    this.#waiting.clear();
  }
}

if (!isMainThread && parentPort !== null) {
  const port = parentPort;
  const answerer = new PlanAnswerer();
  port.on('message', ({ id, question }: { readonly id: number; readonly question: PlanQuestion }) => {
    const say = (message: FromThread) => port.postMessage(message);
    try {
      say({ kind: 'answer', id, answer: answerer.answer(question, (content) => say({ kind: 'first', id, content })) });
    } catch (error) {
      say({ kind: 'failed', id, detail: error instanceof Error ? (error.stack ?? error.message) : String(error) });
    }
  });
}
