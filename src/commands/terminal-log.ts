import type { Log } from '../domain/ports/log.js';
import type { Terminal } from './command.js';

/** For commands that run and end: what goes wrong is told on the terminal, the rest is left out. */
export function terminalLog(terminal: Terminal): Log {
  return {
    debug: () => {},
    info: () => {},
    warn: (_fields, text) => terminal.err(text),
    error: (_fields, text) => terminal.err(text),
  };
}
