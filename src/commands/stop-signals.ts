import type { Logger } from 'pino';

const SIGNALS = ['SIGINT', 'SIGTERM'] as const;

/**
 * Resolves at the first signal to stop, in words. A second one ends the process at once, for whoever cannot wait: what
 * was acknowledged is on disk by then.
 */
export function untilToldToStop(): Promise<string> {
  return new Promise((resolve) => {
    const first = (signal: NodeJS.Signals): void => {
      for (const name of SIGNALS) {
        process.off(name, first);
        process.once(name, () => process.exit(1));
      }
      resolve(signal === 'SIGINT' ? 'Told to stop' : 'Told to stop by the system');
    };
    for (const name of SIGNALS) process.on(name, first);
  });
}

/**
 * A fault that nobody caught leaves the program in a state that nobody knows: it is logged, and the process ends with 1.
 * What was acknowledged is on disk; whatever watches over the server starts it again.
 */
export function logFatalFaults(log: Logger): void {
  process.once('uncaughtException', (err) => {
    log.fatal({ err }, 'a fault that nobody caught; the server ends');
    process.exit(1);
  });
}
