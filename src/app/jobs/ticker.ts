import { schedule } from 'node-cron';
import type { Log } from '../../domain/ports/log.js';

/** Each minute on the minute; in a demo whose clock runs faster, each second. */
const EACH_MINUTE = '* * * * *';
const EACH_SECOND = '* * * * * *';

/**
 * Ticks, and nothing else: what is due is decided by the business clock. A tick that comes while the last one is still
 * at work is left out; the next one finds what is due then.
 * @param speed of the business clock, in business seconds a second
 * @returns the way to stop; resolves when the tick at work has ended
 */
export function startTicker(tick: () => Promise<unknown>, speed: number, log: Log): () => Promise<void> {
  let running: Promise<void> | null = null;
  const onTick = (): void => {
    if (running !== null) return;
    running = tick()
      .then(
        () => undefined,
        (error: unknown) => log.error({ err: error }, 'the tick failed; the next one tries again'),
      )
      .finally(() => {
        running = null;
      });
  };
  const task = schedule(speed > 1 ? EACH_SECOND : EACH_MINUTE, onTick, {
    // A tick that is missed is made up for by the next; a terminal need not hear of it.
    suppressMissedWarning: true,
  });
  onTick();
  return async () => {
    await task.stop();
    await running;
  };
}
