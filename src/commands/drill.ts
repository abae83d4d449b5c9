import { DomainError } from '../domain/errors.js';
import { drillBackup } from '../store/drill.js';
import { type Command, UsageError } from './command.js';
import { parseOptions } from './options.js';
import { terminalLog } from './terminal-log.js';

const HELP = `Usage: brimline drill --from FILE [--keys FILE]

Shows that a backup would do: restores it into a folder of its own, brings it to the newest layout as a server would, checks
every page, every reference and that each day of the ledger closes, opens what is sealed, and removes the folder. Neither
the backup nor the running server is touched. Do this after each change of how backups are made, and every few months.

  --from FILE  a file that “brimline backup” made
  --keys FILE  the keys of gate codes and contacts, as you keep them apart from the backups; without them these are counted
               and not opened

Exit status: 0 it would do, 1 it would not.

Example:
  brimline drill --from ./brimline-backup.sqlite --keys /media/safe/brimline-keys.json`;

export const drill: Command = {
  name: 'drill',
  summary: 'restore a backup aside, check it from end to end, and remove it again',
  help: HELP,
  async run(args, terminal) {
    const { options } = parseOptions(args, { from: 'value', keys: 'value' });
    if (options.from === undefined) throw new UsageError('drill needs --from FILE, a file that a backup made.');
    const report = await drillBackup({ file: options.from, keyFile: options.keys ?? null, log: terminalLog(terminal) });
    const { layouts, counts, lastReadingMs, sealed, opened, faults } = report;
    const [before, after] = layouts;
    terminal.out(`Restored and checked: ${options.from}`);
    terminal.out(`  layout      ${before === after ? `${after}` : `${before}, brought to ${after}`}`);
    for (const [table, rows] of Object.entries(counts)) terminal.out(`  ${table.padEnd(11)} ${rows}`);
    if (lastReadingMs !== null) terminal.out(`  last read   ${new Date(lastReadingMs).toISOString()}`);
    terminal.out(`  sealed      ${sealed}${opened === null ? ', not opened: no --keys given' : `, ${opened} opened`}`);
    if (faults.length === 0) {
      terminal.out('This backup would do.');
      return;
    }
    throw new DomainError('store_damaged', `This backup would not do. ${faults.join(' ')}`);
  },
};
