import type { Terminal } from './command.js';

/** On a pipe a line of progress is printed no more often than this. */
const PIPE_PROGRESS_MS = 5_000;
const CLEAR_LINE = '\r\u001b[2K';

/** Results go to stdout, progress and faults to stderr. */
export function processTerminal({ stdout, stderr }: Pick<NodeJS.Process, 'stdout' | 'stderr'>): Terminal {
  let openLine = false;
  let lastMs = Number.NEGATIVE_INFINITY;
  const closeLine = (): void => {
    if (openLine) stderr.write(CLEAR_LINE);
    openLine = false;
  };
  return {
    out: (line) => {
      closeLine();
      stdout.write(`${line}\n`);
    },
    err: (line) => {
      closeLine();
      stderr.write(`${line}\n`);
    },
    progress: (line) => {
      if (stderr.isTTY) {
        stderr.write(`${CLEAR_LINE}${line.slice(0, Math.max(20, stderr.columns - 1))}`);
        openLine = true;
        return;
      }
      const nowMs = performance.now();
      if (nowMs - lastMs < PIPE_PROGRESS_MS) return;
      lastMs = nowMs;
      stderr.write(`${line}\n`);
    },
  };
}
