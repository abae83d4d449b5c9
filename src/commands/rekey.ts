import { existsSync } from 'node:fs';
import { join } from 'node:path';
import { DomainError } from '../domain/errors.js';
import { FILE_NAME } from '../store/database.js';
import { rekeyStore } from '../store/open.js';
import { type Command, UsageError } from './command.js';
import { keyFileOf, parseOptions } from './options.js';
import { terminalLog } from './terminal-log.js';

const HELP = `Usage: brimline rekey --data DIR [--forget-older]

Makes a new key and seals gate codes, contacts and second factors with it, also while the server runs. The keys lie in
DIR/brimline-keys.json, or where BRIMLINE_KEY_FILE says. Do this now and then, and whenever somebody who could read that
file leaves. Keep a copy of the file apart from the backups: together they tell everything, and without it a restored
backup has no gate codes.

  --data DIR      the data folder, the same that serve is given (or BRIMLINE_DATA)
  --forget-older  drop the older keys from the file; what backups made before hold sealed can then not be read any more

Example:
  brimline rekey --data ./brimline-data`;

const BUSY_TIMEOUT_MS = 60_000;

export const rekey: Command = {
  name: 'rekey',
  summary: 'seal gate codes and contacts with a new key',
  help: HELP,
  async run(args, terminal, environment) {
    const { options } = parseOptions(args, { data: 'value', 'forget-older': 'flag' });
    const dir = options.data ?? environment.BRIMLINE_DATA;
    if (dir === undefined || dir === '') throw new UsageError('rekey needs --data DIR, the data folder.');
    if (!existsSync(join(dir, FILE_NAME))) {
      throw new DomainError('not_found', `There is no ${join(dir, FILE_NAME)}. Check --data.`);
    }
    const { keyId, resealed, file } = await rekeyStore({
      dir,
      keyFile: keyFileOf(environment),
      busyTimeoutMs: BUSY_TIMEOUT_MS,
      log: terminalLog(terminal),
      forgetOlder: options['forget-older'] === true,
    });
    terminal.out(`Key ${keyId} seals from now on; ${resealed} texts were sealed anew.`);
    terminal.out(`Copy ${file} to where you keep it apart from the backups.`);
  },
};
