import { revokePrincipal } from '../app/people/add-principal.js';
import { openStore } from '../store/open.js';
import { type Command, UsageError } from './command.js';
import { keyFileOf, parseOptions } from './options.js';
import { terminalLog } from './terminal-log.js';

const HELP = `Usage: brimline node revoke ID --data DIR

Takes the MQTT credentials of a node, gateway, weather station or subscriber away, for one that was lost or stolen. A
running server ends its connections within seconds. What it sent before stays. “brimline node add ID --replace” makes new
ones.

  ID          the MQTT user name
  --data DIR  the data folder, the same that serve is given (or BRIMLINE_DATA)

Example:
  brimline node revoke N1 --data ./brimline-data`;

const BUSY_TIMEOUT_MS = 60_000;

export const nodeRevoke: Command = {
  name: 'node revoke',
  summary: 'take the MQTT credentials of a lost or stolen node away',
  help: HELP,
  async run(args, terminal, environment) {
    const { options, operands } = parseOptions(args, { data: 'value' }, ['ID']);
    const [id] = operands;
    if (id === undefined) throw new UsageError('node revoke needs an ID: brimline node revoke N1 --data DIR.');
    const dir = options.data ?? environment.BRIMLINE_DATA;
    if (dir === undefined || dir === '') throw new UsageError('node revoke needs --data DIR, the data folder.');
    const log = terminalLog(terminal);
    const keyFile = keyFileOf(environment);
    const store = await openStore({ dir, keyFile, busyTimeoutMs: BUSY_TIMEOUT_MS, log });
    try {
      const { kind } = await revokePrincipal({ store, clock: { nowMs: () => Date.now() }, log }, id);
      terminal.out(`The credentials of ${kind} ${id} open nothing any more.`);
    } finally {
      await store.close();
    }
  },
};
