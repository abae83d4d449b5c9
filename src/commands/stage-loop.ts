import type { Log } from '../domain/ports/log.js';

/** A part of the program that follows the change log in small steps. */
export interface Stage {
  readonly name: string;
  /** Does the next step. @returns false where nothing was waiting */
  step(): Promise<boolean>;
}

const FIRST_WAIT_MS = 1_000;
const LONGEST_WAIT_MS = 60_000;

interface Trouble {
  readonly error: unknown;
  readonly waitMs: number;
  readonly untilMs: number;
}

/**
 * Runs the stages by turns, a step each, until nothing is waiting. A stage that fails waits, longer each time, while the
 * others go on; what it had to do stays in the log, so that nothing is lost.
 */
export class StageLoop {
  readonly #stages: readonly Stage[];
  readonly #log: Log;
  readonly #nowMs: () => number;
  readonly #troubles = new Map<string, Trouble>();
  #running: Promise<void> | null = null;
  #woken = false;
  #stopped = false;

  /** @param nowMs the process clock */
  constructor(stages: readonly Stage[], log: Log, nowMs: () => number) {
    this.#stages = stages;
    this.#log = log;
    this.#nowMs = nowMs;
  }

  /** There may be something to do. */
  wake(): void {
    this.#woken = true;
    if (this.#stopped || this.#running !== null) return;
    this.#running = this.#run().finally(() => {
      this.#running = null;
      if (this.#woken && !this.#stopped) this.wake();
    });
  }

  /** Resolves when nothing is waiting any more; stages in trouble are not waited for. */
  async idle(): Promise<void> {
    this.wake();
    while (this.#running !== null) await this.#running;
  }

  /** Stages that failed at their last step, in words. */
  troubles(): readonly string[] {
    return [...this.#troubles].map(
      ([name, { error }]) => `The stage “${name}” failed: ${error instanceof Error ? error.message : String(error)}`,
    );
  }

  /** Lets the step that runs end, and takes no more. */
  async stop(): Promise<void> {
    this.#stopped = true;
    await this.#running;
  }

  async #run(): Promise<void> {
    let worked = true;
    while (worked && !this.#stopped) {
      this.#woken = false;
      worked = false;
      for (const stage of this.#stages) {
        if (this.#stopped) return;
        if (await this.#step(stage)) worked = true;
        // Between two steps, whatever came in meanwhile is served.
        await new Promise((resolve) => setImmediate(resolve));
      }
      if (this.#woken) worked = true;
    }
  }

  async #step(stage: Stage): Promise<boolean> {
    const trouble = this.#troubles.get(stage.name);
    if (trouble !== undefined && this.#nowMs() < trouble.untilMs) return false;
    try {
      const worked = await stage.step();
      this.#troubles.delete(stage.name);
      return worked;
    } catch (error) {
      const waitMs = Math.min(LONGEST_WAIT_MS, trouble === undefined ? FIRST_WAIT_MS : trouble.waitMs * 2);
      this.#troubles.set(stage.name, { error, waitMs, untilMs: this.#nowMs() + waitMs });
      this.#log.error({ err: error, stage: stage.name, waitMs }, 'a stage failed and will be tried again');
      return false;
    }
  }
}
