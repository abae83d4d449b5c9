/** The business clock that server and simulators agree on: so many business milliseconds for each real one. */
export class ScaledClock {
  readonly #startBusinessMs: number;
  readonly #startProcessMs: number;
  readonly #speed: number;
  readonly #processNow: () => number;

  /** @param processNow real time, epoch ms */
  constructor(startBusinessMs: number, startProcessMs: number, speed: number, processNow: () => number) {
    this.#startBusinessMs = startBusinessMs;
    this.#startProcessMs = startProcessMs;
    this.#speed = speed;
    this.#processNow = processNow;
  }

  nowMs(): number {
    return this.#startBusinessMs + (this.#processNow() - this.#startProcessMs) * this.#speed;
  }
}
