/** Where a command speaks: results on `out`, progress and faults on `err`. */
export interface Terminal {
  out(line: string): void;
  err(line: string): void;
  /** Replaces the current line on a terminal; on a pipe, prints a line now and then. */
  progress(line: string): void;
}

export interface Command {
  /** As typed; two words where there is a sub-command, for instance `node add`. */
  readonly name: string;
  readonly summary: string;
  /** What `--help` prints: usage, each option with its unit and default, an example that works as it stands. */
  readonly help: string;
  /** @throws UsageError for wrong usage (exit 2), DomainError for a refusal (exit 1) */
  run(args: readonly string[], terminal: Terminal, environment: NodeJS.ProcessEnv): Promise<void>;
}

export class UsageError extends Error {
  override readonly name = 'UsageError';
}
