import { systemClock } from '../app/clock.js';
import { addOwnerFromTerminal } from '../app/people/people.js';
import { openStore } from '../store/open.js';
import { type Command, UsageError } from './command.js';
import { keyFileOf, parseOptions } from './options.js';
import { askNewPassword, canAsk } from './prompt.js';
import { terminalLog } from './terminal-log.js';

const HELP = `Usage: brimline owner add --login LOGIN [--name NAME] [--data DIR]

Makes an owner. The owner signs in on the page and adds everybody else there. Whoever may write the data folder may do
this, so it also helps when no owner can sign in any more. It may run beside the server.

  --login LOGIN  what the owner logs in with: 2 to 100 of a-z 0-9 . _ @ + -
  --name NAME    as others see it; the log-in where it is left out
  --data DIR     the data folder, the same that serve is given (or BRIMLINE_DATA; ./brimline-data otherwise)

The password is asked for. Where nobody sits at a terminal, it is taken from the variable BRIMLINE_OWNER_PASSWORD, so
that it stands in no list of processes. It needs at least 12 characters.

Example:
  brimline owner add --login ada --name "Ada Marsh" --data ./brimline-data`;

export const ownerAdd: Command = {
  name: 'owner add',
  summary: 'make an owner',
  help: HELP,
  async run(args, terminal, environment) {
    const { options } = parseOptions(args, { data: 'value', login: 'value', name: 'value' });
    if (options.login === undefined) throw new UsageError('owner add needs --login LOGIN.');
    const log = terminalLog(terminal);
    const dir = options.data ?? environment.BRIMLINE_DATA ?? './brimline-data';
    const store = await openStore({ dir, keyFile: keyFileOf(environment), log });
    try {
      const password =
        environment.BRIMLINE_OWNER_PASSWORD ?? (canAsk() ? await askNewPassword(terminal, options.login) : null);
      if (password === null) {
        throw new UsageError('There is no terminal to ask for the password on. Set BRIMLINE_OWNER_PASSWORD.');
      }
      const person = await addOwnerFromTerminal(
        { store, clock: systemClock, log },
        { name: options.name ?? options.login, login: options.login, password },
      );
      terminal.out(`Added the owner ${person.name}, who logs in as “${person.login}”.`);
    } finally {
      await store.close();
    }
  },
};
