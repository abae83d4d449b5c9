import { type ChildProcess, spawn } from 'node:child_process';
import { existsSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import type { ClockScale } from '../../app/clock.js';
import type { Log } from '../../domain/ports/log.js';

/** A simulator that dies is started again after so long, and no more often than this in one demo. */
const RESTART_MS = 3_000;
const MAX_RESTARTS = 20;
/** Ends so when it does not understand how it was called; calling it again would not help. */
const WRONG_USAGE = 2;
/** It has nothing to finish; whoever does not go is made to. */
const STOP_PATIENCE_MS = 5_000;

export interface LiveSimulator {
  stop(): Promise<void>;
}

export interface LiveOptions {
  /** What {@link generateFleet} wrote. */
  readonly fleetDir: string;
  readonly mqttUrl: string;
  readonly clock: ClockScale;
  readonly credentialsFile: string;
}

/** Simulates the demo's fleet and its history into `dir`, in a process of its own. */
export async function generateFleet(seed: string, dir: string, log: Log): Promise<void> {
  const args = ['fleet', '--profile', 'demo', '--seed', seed, '--origin-days', '0', '--out', dir];
  const child = runSimulator(args, log);
  const status = await ended(child);
  if (status !== 0) throw new Error(`the fleet simulator ended with ${status}; its words are in the log`);
}

/** Starts the simulated nodes and crews, and starts them again should they die. */
export function startLive(options: LiveOptions, log: Log): LiveSimulator {
  const { fleetDir, mqttUrl, clock, credentialsFile } = options;
  const args = [
    'live',
    ...['--fleet-dir', fleetDir],
    ...['--mqtt', mqttUrl],
    ...['--credentials', credentialsFile],
    ...['--start-business-ms', String(clock.startBusinessMs)],
    ...['--start-process-ms', String(clock.startProcessMs)],
    ...['--speed', String(clock.speed)],
  ];
  let stopped = false;
  let restarts = 0;
  let waiting: NodeJS.Timeout | null = null;
  let child = start();

  function start(): ChildProcess {
    const started = runSimulator(args, log);
    ended(started).then((status) => {
      if (stopped) return;
      log.warn({ status, restarts }, 'the live simulator ended');
      restarts += 1;
      if (restarts > MAX_RESTARTS || status === WRONG_USAGE) {
        log.error({ restarts }, 'the live simulator cannot be kept running; the demo goes on without it');
        return;
      }
      waiting = setTimeout(() => {
        child = start();
      }, RESTART_MS);
    });
    return started;
  }

  return {
    stop: async () => {
      stopped = true;
      if (waiting !== null) clearTimeout(waiting);
      if (child.exitCode !== null || child.signalCode !== null) return;
      const gone = ended(child);
      child.kill('SIGTERM');
      const impatience = setTimeout(() => child.kill('SIGKILL'), STOP_PATIENCE_MS);
      await gone;
      clearTimeout(impatience);
    },
  };
}

/** The compiled simulator beside the compiled server, or its source beside the server's source. */
function simulatorMain(): string {
  for (const path of ['../../../simulators/main.js', '../../../simulators/main.ts']) {
    const file = fileURLToPath(new URL(path, import.meta.url));
    if (existsSync(file)) return file;
  }
  throw new Error('there is no simulators/main beside the program');
}

function runSimulator(args: readonly string[], log: Log): ChildProcess {
  const child = spawn(process.execPath, [...process.execArgv, simulatorMain(), ...args], {
    stdio: ['ignore', 'pipe', 'pipe'],
  });
  const say = (text: string): void => {
    for (const line of text.split(/[\r\n]+/)) if (line.trim() !== '') log.info({ simulator: line.trim() }, 'simulator');
  };
  child.stdout.setEncoding('utf8').on('data', say);
  child.stderr.setEncoding('utf8').on('data', say);
  return child;
}

function ended(child: ChildProcess): Promise<number | string> {
  return new Promise((resolve, reject) => {
    child.once('error', reject);
    child.once('close', (status, signal) => resolve(status ?? signal ?? 'nothing'));
  });
}
