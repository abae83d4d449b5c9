import { systemClock } from '../app/clock.js';
import { resetPasswordFromTerminal } from '../app/people/people.js';
import { openStore } from '../store/open.js';
import { type Command, UsageError } from './command.js';
import { keyFileOf, parseOptions } from './options.js';
import { askNewPassword, canAsk } from './prompt.js';
import { terminalLog } from './terminal-log.js';

const HELP = `Usage: brimline owner password --login LOGIN [--data DIR]

Gives somebody a new password, and lets them in again where they were disabled: for the day on which no owner can sign
in. Any other day an owner does this on the page. It may run beside the server.

  --login LOGIN  whose password
  --data DIR     the data folder, the same that serve is given (or BRIMLINE_DATA; ./brimline-data otherwise)

The password is asked for, or taken from BRIMLINE_OWNER_PASSWORD where nobody sits at a terminal.

Example:
  brimline owner password --login ada --data ./brimline-data`;

export const ownerPassword: Command = {
  name: 'owner password',
  summary: 'give somebody a new password from the machine itself',
  help: HELP,
  async run(args, terminal, environment) {
    const { options } = parseOptions(args, { data: 'value', login: 'value' });
    if (options.login === undefined) throw new UsageError('owner password needs --login LOGIN.');
    const log = terminalLog(terminal);
    const store = await openStore({
      dir: options.data ?? environment.BRIMLINE_DATA ?? './brimline-data',
      keyFile: keyFileOf(environment),
      log,
    });
    try {
      const password =
        environment.BRIMLINE_OWNER_PASSWORD ?? (canAsk() ? await askNewPassword(terminal, options.login) : null);
      if (password === null) {
        throw new UsageError('There is no terminal to ask for the password on. Set BRIMLINE_OWNER_PASSWORD.');
      }
      const person = await resetPasswordFromTerminal({ store, clock: systemClock, log }, options.login, password);
      terminal.out(`${person.name} (“${person.login}”) has a new password.`);
    } finally {
      await store.close();
    }
  },
};
