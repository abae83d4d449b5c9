import { type ChildProcess, spawn } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { connect } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { freePort } from './free-port.js';

export interface Mosquitto {
  readonly port: number;
  /** Ends the process and starts it again on the same port, with what it had stored. */
  restart(signal?: NodeJS.Signals): Promise<void>;
}

export interface MosquittoProcess extends Mosquitto {
  /** Ends it and removes what it had stored. */
  stop(): Promise<void>;
}

/**
 * Debian's mosquitto on a free port of this machine, with the limits lifted beyond which it would drop queued messages
 * that it had acknowledged.
 */
export async function runMosquitto(extraLines: readonly string[] = []): Promise<MosquittoProcess> {
  const dir = mkdtempSync(join(tmpdir(), 'brimline-mosquitto-'));
  const port = await freePort();
  const file = join(dir, 'mosquitto.conf');
  const lines = [
    `listener ${port} 127.0.0.1`,
    ...(extraLines.some((line) => line.startsWith('allow_anonymous')) ? [] : ['allow_anonymous true']),
    'user root',
    'persistence true',
    `persistence_location ${dir}/`,
    'max_queued_messages 0',
    'max_inflight_messages 0',
    ...extraLines,
  ];
  writeFileSync(file, `${lines.join('\n')}\n`);
  let child = await start(file, port);
  return {
    port,
    restart: async (signal = 'SIGTERM') => {
      await end(child, signal);
      child = await start(file, port);
    },
    stop: async () => {
      await end(child, 'SIGTERM');
      rmSync(dir, { recursive: true, force: true });
    },
  };
}

async function start(file: string, port: number): Promise<ChildProcess> {
  const child = spawn('mosquitto', ['-c', file], { stdio: 'ignore' });
  for (let attempt = 0; attempt < 200; attempt++) {
    if (child.exitCode !== null) throw new Error(`mosquitto ended with ${child.exitCode}`);
    if (await answers(port)) return child;
    await new Promise((resolve) => setTimeout(resolve, 25));
  }
  throw new Error('mosquitto does not listen');
}

function end(child: ChildProcess, signal: NodeJS.Signals): Promise<void> {
  if (child.exitCode !== null || child.signalCode !== null) return Promise.resolve();
  return new Promise((resolve) => {
    child.once('exit', () => resolve());
    child.kill(signal);
  });
}

/** Whether somebody listens on that port of this machine. */
export function answers(port: number): Promise<boolean> {
  return new Promise((resolve) => {
    const socket = connect(port, '127.0.0.1');
    socket.once('connect', () => {
      socket.destroy();
      resolve(true);
    });
    socket.once('error', () => resolve(false));
  });
}
