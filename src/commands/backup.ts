import { parseArgs } from 'node:util';
import type { Log } from '../domain/ports/log.js';
import { backupStore } from '../store/backup.js';
import { type Command, type Terminal, UsageError } from './command.js';

const HELP = `Usage: brimline backup --data DIR --to FILE [--replace]

Copies the store while the server runs, then opens the copy and checks it from end to end. FILE appears only once the
copy is found whole, so a backup that is there is a good one.

  --data DIR   the data folder, the same that serve is given
  --to FILE    the file to write; keep it on another disk than the store
  --replace    take the place of FILE if it is there already

To restore: stop the server, move DIR/brimline.sqlite and the files beside it that begin with the same name out of the
folder, copy FILE to DIR/brimline.sqlite, start the server.

Example:
  brimline backup --data ./brimline-data --to ./brimline-backup.sqlite`;

export const backup: Command = {
  name: 'backup',
  summary: 'copy the store while it is in use, and check the copy',
  help: HELP,
  async run(args, terminal) {
    const { dir, to, replace } = readArguments(args);
    const report = await backupStore({
      dir,
      to,
      replace,
      log: terminalLog(terminal),
      onProgress: (doneFraction) => terminal.progress(`copying: ${Math.floor(doneFraction * 100)} %`),
    });
    terminal.out(`Backup written and checked: ${report.file}`);
    terminal.out(`  size        ${formatBytes(report.bytes)}, layout ${report.schemaVersion}`);
    terminal.out(`  containers  ${report.containers}`);
    terminal.out(`  readings    ${report.readings}${formatSpan(report.firstReadingMs, report.lastReadingMs)}`);
    terminal.out(`  changes     up to number ${report.lastSeq}`);
  },
};

function readArguments(args: readonly string[]): { dir: string; to: string; replace: boolean } {
  const values = parse(args);
  if (values.data === undefined) throw new UsageError('backup needs --data DIR, the data folder');
  if (values.to === undefined) throw new UsageError('backup needs --to FILE, the file to write');
  return { dir: values.data, to: values.to, replace: values.replace };
}

function parse(args: readonly string[]) {
  try {
    return parseArgs({
      args: [...args],
      options: {
        data: { type: 'string' },
        to: { type: 'string' },
        replace: { type: 'boolean', default: false },
      },
      strict: true,
      allowPositionals: false,
    }).values;
  } catch (error) {
    throw new UsageError(error instanceof Error ? error.message : String(error), { cause: error });
  }
}

/** What the store has to say while it is opened belongs to the faults and progress, not to the result. */
function terminalLog(terminal: Terminal): Log {
  return {
    debug: () => {},
    info: () => {},
    warn: (_fields, text) => terminal.err(text),
    error: (_fields, text) => terminal.err(text),
  };
}

function formatBytes(bytes: number): string {
  return bytes < 1e6 ? `${Math.ceil(bytes / 1e3)} kB` : `${(bytes / 1e6).toFixed(1)} MB`;
}

function formatSpan(firstMs: number | null, lastMs: number | null): string {
  if (firstMs === null || lastMs === null) return '';
  return `, from ${new Date(firstMs).toISOString()} to ${new Date(lastMs).toISOString()}`;
}
