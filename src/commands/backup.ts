import { backupStore } from '../store/backup.js';
import { type Command, UsageError } from './command.js';
import { parseOptions } from './options.js';
import { terminalLog } from './terminal-log.js';

const HELP = `Usage: brimline backup --data DIR --to FILE [--replace]

Copies the store while the server runs, then opens the copy and checks it from end to end. FILE appears only once the
copy is found whole, so a backup that is there is a good one.

  --data DIR   the data folder, the same that serve is given (or BRIMLINE_DATA)
  --to FILE    the file to write; keep it on another disk than the store
  --replace    take the place of FILE if it is there already

The backup is the database alone. Keep beside it DIR/push-keys.json, and apart from it DIR/brimline-keys.json (or the file
of BRIMLINE_KEY_FILE), which opens the gate codes and contacts in it; neither changes often.

To restore: stop the server, move DIR/brimline.sqlite and the files beside it that begin with the same name out of the
folder, copy FILE to DIR/brimline.sqlite, start the server.

Example:
  brimline backup --data ./brimline-data --to ./brimline-backup.sqlite`;

export const backup: Command = {
  name: 'backup',
  summary: 'copy the store while it is in use, and check the copy',
  help: HELP,
  async run(args, terminal, environment) {
    const { dir, to, replace } = readArguments(args, environment);
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

function readArguments(
  args: readonly string[],
  environment: NodeJS.ProcessEnv,
): { readonly dir: string; readonly to: string; readonly replace: boolean } {
  const { options } = parseOptions(args, { data: 'value', to: 'value', replace: 'flag' });
  const dir = options.data ?? environment.BRIMLINE_DATA;
  if (dir === undefined) throw new UsageError('backup needs --data DIR, the data folder');
  if (options.to === undefined) throw new UsageError('backup needs --to FILE, the file to write');
  return { dir, to: options.to, replace: options.replace ?? false };
}

function formatBytes(bytes: number): string {
  return bytes < 1e6 ? `${Math.ceil(bytes / 1e3)} kB` : `${(bytes / 1e6).toFixed(1)} MB`;
}

function formatSpan(firstMs: number | null, lastMs: number | null): string {
  if (firstMs === null || lastMs === null) return '';
  return `, from ${new Date(firstMs).toISOString()} to ${new Date(lastMs).toISOString()}`;
}
