import { type ChildProcess, spawn } from 'node:child_process';
import { fileURLToPath } from 'node:url';
import { runCommandLine } from '../../src/commands/run.js';

export interface CliResult {
  /** Null where a signal ended it. */
  readonly status: number | null;
  readonly stdout: string;
  readonly stderr: string;
}

export interface CliOptions {
  readonly env?: Readonly<Record<string, string>>;
  readonly cwd?: string;
  /** Another user of the system to run as; for root only. */
  readonly uid?: number;
}

/** A command that goes on running, a server for instance. */
export interface RunningCli {
  readonly process: ChildProcess;
  /** Resolves with the first match in what was printed so far or is printed next. @throws Error when it ends first */
  printed(pattern: RegExp): Promise<RegExpMatchArray>;
  readonly ended: Promise<CliResult>;
  stop(signal?: NodeJS.Signals): Promise<CliResult>;
}

const MAIN = fileURLToPath(new URL('../../src/main.ts', import.meta.url));
const TSX = import.meta.resolve('tsx');

/** Arguments for node that start the program from its sources. */
export const PROGRAM = ['--import', TSX, MAIN] as const;

/** Runs `brimline` from its sources, as a process of its own, without a terminal, and waits for its end. */
export function runCli(args: readonly string[], options: CliOptions = {}): Promise<CliResult> {
  return startCli(args, options).ended;
}

/** Runs a command that ends, in this process: starting one costs seconds on a busy machine. */
export async function runHere(args: readonly string[], options: CliOptions = {}): Promise<CliResult> {
  let stdout = '';
  let stderr = '';
  const status = await runCommandLine(
    args,
    {
      out: (line) => {
        stdout += `${line}\n`;
      },
      err: (line) => {
        stderr += `${line}\n`;
      },
      progress: () => {},
    },
    options.env ?? {},
  );
  return { status, stdout, stderr };
}

export function startCli(args: readonly string[], options: CliOptions = {}): RunningCli {
  // Nothing of the machine's own settings may reach the command under test.
  const inherited = Object.entries(process.env).filter(([name]) => !name.startsWith('BRIMLINE_'));
  const child = spawn(process.execPath, [...PROGRAM, ...args], {
    env: { ...Object.fromEntries(inherited), ...options.env },
    ...(options.cwd === undefined ? {} : { cwd: options.cwd }),
    ...(options.uid === undefined ? {} : { uid: options.uid }),
    stdio: ['ignore', 'pipe', 'pipe'],
  });
  let stdout = '';
  let stderr = '';
  const listeners = new Set<() => void>();
  const tell = (): void => {
    for (const listener of listeners) listener();
  };
  child.stdout.setEncoding('utf8').on('data', (text: string) => {
    stdout += text;
    tell();
  });
  child.stderr.setEncoding('utf8').on('data', (text: string) => {
    stderr += text;
    tell();
  });
  const ended = new Promise<CliResult>((resolve, reject) => {
    child.once('error', reject);
    child.once('close', (status) => {
      resolve({ status, stdout, stderr });
      tell();
    });
  });
  return {
    process: child,
    ended,
    printed: (pattern) =>
      new Promise((resolve, reject) => {
        const look = (): void => {
          const match = pattern.exec(stdout) ?? pattern.exec(stderr);
          if (match === null && child.exitCode === null && child.signalCode === null) return;
          listeners.delete(look);
          if (match !== null) resolve(match);
          else reject(new Error(`it ended without printing ${pattern}:\n${stdout}\n${stderr}`));
        };
        listeners.add(look);
        look();
      }),
    stop: (signal = 'SIGTERM') => {
      child.kill(signal);
      return ended;
    },
  };
}
