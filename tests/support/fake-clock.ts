import type { Clock } from '../../src/domain/ports/clock.js';

/** A clock that stands still until it is moved. */
export class FakeClock implements Clock {
  #nowMs: number;

  constructor(nowMs: number) {
    this.#nowMs = nowMs;
  }

  nowMs(): number {
    return this.#nowMs;
  }

  set(nowMs: number): void {
    this.#nowMs = nowMs;
  }

  advance(ms: number): void {
    this.#nowMs += ms;
  }
}
