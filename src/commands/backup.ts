import { readFile, rename, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { PUSH_KEYS_FILE } from '../notify/push-keys.js';
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

The keys of web push are copied to FILE.push-keys.json, where there are some: without them every phone has to subscribe
anew. Keep apart from both DIR/brimline-keys.json (or the file of BRIMLINE_KEY_FILE), which opens the gate codes and
contacts in the backup.

To restore: stop the server, move DIR/brimline.sqlite and the files beside it that begin with the same name out of the
folder, copy FILE to DIR/brimline.sqlite and FILE.push-keys.json to DIR/push-keys.json, start the server.

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
    const pushKeys = await copyPushKeys(dir, report.file);
    terminal.out(`Backup written and checked: ${report.file}`);
    if (pushKeys !== null) terminal.out(`Keys of web push beside it: ${pushKeys}`);
    terminal.out(`  size        ${formatBytes(report.bytes)}, layout ${report.schemaVersion}`);
    terminal.out(`  containers  ${report.containers}`);
    terminal.out(`  readings    ${report.readings}${formatSpan(report.firstReadingMs, report.lastReadingMs)}`);
    terminal.out(`  changes     up to number ${report.lastSeq}`);
  },
};

/** @returns the copy's path; null where web push was never set up */
async function copyPushKeys(dir: string, backupFile: string): Promise<string | null> {
  let keys: Buffer;
  try {
    keys = await readFile(join(dir, PUSH_KEYS_FILE));
  } catch (error) {
    if (error instanceof Error && 'code' in error && error.code === 'ENOENT') return null;
    throw error;
  }
  const to = `${backupFile}.${PUSH_KEYS_FILE}`;
  // A private key: for the owner of the file alone, from its first byte on.
  await writeFile(`${to}.part`, keys, { mode: 0o600 });
  await rename(`${to}.part`, to);
  return to;
}

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
