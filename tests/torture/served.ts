import { type ChildProcess, spawn } from 'node:child_process';
import { openSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { answers } from '../support/mosquitto-process.js';

const MAIN = fileURLToPath(new URL('../../src/main.js', import.meta.url));
const READY_MS = 180_000;

export const OWNER = { login: 'torture', password: 'correct horse battery staple' } as const;

export interface ServedOptions {
  readonly dir: string;
  readonly mqttPort: number;
  readonly httpPort: number;
  /** Reads from this broker instead of its own. */
  readonly brokerUrl?: string;
  /** Arguments for node itself, before the program. */
  readonly nodeArguments?: readonly string[];
  /** Runs the server under this command, such as a tracer. */
  readonly under?: readonly string[];
  readonly environment?: Readonly<Record<string, string>>;
}

/** A real `brimline serve` in a process of its own. */
export interface Served {
  /** Resolves when the API answers. @throws Error when it ends before */
  ready(): Promise<void>;
  /** Whether it still runs. */
  alive(): boolean;
  /** How much memory it holds, as the kernel counts. */
  residentMb(): number;
  /** kill -9, and waits until it is gone. */
  kill(): Promise<void>;
  /** Asks it to finish; resolves with its exit code. */
  stop(): Promise<number | null>;
}

export function serve(options: ServedOptions): Served {
  const { dir, mqttPort, httpPort, brokerUrl } = options;
  const command = [
    ...(options.under ?? []),
    process.execPath,
    ...(options.nodeArguments ?? []),
    MAIN,
    'serve',
    ...['--data', dir, '--http', String(httpPort), '--mqtt', String(mqttPort), '--ws', '0', '--log-level', 'warn'],
    ...(brokerUrl === undefined ? ['--open'] : ['--broker', brokerUrl]),
  ];
  const inherited = Object.entries(process.env).filter(([name]) => !name.startsWith('BRIMLINE_'));
  const log = openSync(join(dir, 'server-log.ndjson'), 'a');
  const child = spawn(String(command[0]), command.slice(1), {
    stdio: ['ignore', log, log],
    env: {
      ...Object.fromEntries(inherited),
      BRIMLINE_OWNER_LOGIN: OWNER.login,
      BRIMLINE_OWNER_PASSWORD: OWNER.password,
      BRIMLINE_OWNER_NAME: 'Torture',
      BRIMLINE_LOG_INS_PER_MINUTE: '100000',
      BRIMLINE_REQUESTS_PER_MINUTE: '1000000',
      BRIMLINE_PRIVATE_HOSTS: 'localhost',
      ...options.environment,
    },
  });
  const gone = new Promise<number | null>((resolve) => child.once('exit', (code) => resolve(code)));
  return {
    ready: () => answering(child, httpPort, dir),
    alive: () => child.exitCode === null && child.signalCode === null,
    residentMb: () => {
      const status = readFileSync(`/proc/${child.pid}/status`, 'utf8');
      return Math.round(Number(/VmRSS:\s+(\d+) kB/.exec(status)?.[1]) / 1024);
    },
    kill: async () => {
      signal(child, options, 'SIGKILL');
      await gone;
    },
    stop: () => {
      signal(child, options, 'SIGTERM');
      return gone;
    },
  };
}

/** A tracer lets go of what it traces when it is told to end; so the server itself is told. */
function signal(child: ChildProcess, { under }: ServedOptions, name: NodeJS.Signals): void {
  if (under === undefined) {
    child.kill(name);
    return;
  }
  const server = readFileSync(`/proc/${child.pid}/task/${child.pid}/children`, 'utf8').trim().split(' ')[0];
  if (server !== undefined && server !== '') process.kill(Number(server), name);
}

async function answering(child: ChildProcess, httpPort: number, dir: string): Promise<void> {
  const untilMs = Date.now() + READY_MS;
  while (Date.now() < untilMs) {
    if (child.exitCode !== null || child.signalCode !== null) {
      throw new Error(`the server ended with ${child.exitCode ?? child.signalCode}; see ${dir}/server-log.ndjson`);
    }
    if (await answers(httpPort)) return;
    await sleep(15);
  }
  throw new Error(`the server does not answer after ${READY_MS / 1000} s; see ${dir}/server-log.ndjson`);
}

export function sleep(ms: number): Promise<void> {
  return new Promise((resolve) => setTimeout(resolve, ms));
}

const MOST_PATIENCE_MS = 6_000;

/** Waits until so many more were acknowledged, or until it becomes clear that they will not be. */
export async function untilAcknowledged(total: () => number, more: number): Promise<void> {
  const goal = total() + more;
  const untilMs = Date.now() + MOST_PATIENCE_MS;
  while (total() < goal && Date.now() < untilMs) await sleep(2);
}
