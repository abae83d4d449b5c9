import { type ChildProcess, spawn } from 'node:child_process';
import { createInterface } from 'node:readline';
import type { ServerFigures, ServerMode } from './ingest-server.js';
import { programArguments } from './program-path.js';

/** A server in a process of its own (`ingest-server`), seen from outside. */
export interface IngestChild {
  /** Opens the store and listens; the port. */
  listen(): Promise<number>;
  figures(): Promise<ServerFigures>;
  /** kill -9, and waits until it is gone. */
  kill(): Promise<void>;
}

/** Starts the process, which loads the program and then waits to be told to listen. */
export function prepareServer(dir: string, mode: ServerMode): IngestChild {
  const child = spawn(process.execPath, [...programArguments('tests/support/ingest-server.ts'), dir, mode], {
    stdio: ['pipe', 'pipe', 'inherit'],
  });
  const gone = new Promise<void>((resolve) => child.once('exit', () => resolve()));
  const ask = asker(child);
  return {
    listen: async () => Number(await ask('listen')),
    figures: async () => JSON.parse(await ask('figures')) as ServerFigures,
    kill: () => {
      child.kill('SIGKILL');
      return gone;
    },
  };
}

/** Writes a line and gives back the line that answers it. */
function asker(child: ChildProcess): (line: string) => Promise<string> {
  const { stdin, stdout } = child;
  if (stdin === null || stdout === null) throw new Error('the server has pipes');
  const lines = createInterface({ input: stdout });
  // A server that was killed takes no more questions.
  stdin.on('error', () => {});
  return (line) =>
    new Promise((resolve, reject) => {
      const ended = (code: number | null): void => reject(new Error(`the server ended with ${code}`));
      child.once('exit', ended);
      lines.once('line', (answer) => {
        child.off('exit', ended);
        resolve(answer);
      });
      stdin.write(`${line}\n`);
    });
}
