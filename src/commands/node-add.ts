import { addPrincipal, type NewPrincipal } from '../app/people/add-principal.js';
import type { PrincipalKind } from '../domain/credential.js';
import type { Log } from '../domain/ports/log.js';
import { openStore } from '../store/open.js';
import { type Command, type Terminal, UsageError } from './command.js';
import { keyFileOf, parseOptions } from './options.js';

const HELP = `Usage: brimline node add ID --data DIR [--kind KIND] [--site S] [--gateway G] [--replace [--overlap HOURS]] [--json]

Makes the MQTT credentials of a node, or of a gateway, weather station or subscriber, and prints them once: the store
keeps a hash only. A node or gateway that the registry does not have yet is added to it.

  ID           the MQTT user name: 1 to 64 letters, digits, dots, dashes or underscores
  --data DIR   the data folder, the same that serve is given (or BRIMLINE_DATA); made where it does not exist
  --kind KIND  node (the default): publishes nodes/ID/readings and its state, reads its settings
               gateway: publishes for the nodes that name it
               station: publishes sites/S/weather
               subscriber: reads events/#
  --site S     the site of a station, or of a gateway that is new
  --gateway G  the gateway that may publish for this node
  --replace    make new credentials where ID has some; the old ones stop working
  --overlap H  with --replace: the old ones go on for H hours (at most 336), so that a node can be given the new
  --json       print one JSON document

Example:
  brimline node add N1 --data ./brimline-data`;

const KINDS: readonly PrincipalKind[] = ['node', 'gateway', 'station', 'subscriber'];
const BUSY_TIMEOUT_MS = 60_000;

export const nodeAdd: Command = {
  name: 'node add',
  summary: 'make the MQTT credentials of a node, gateway, station or subscriber',
  help: HELP,
  async run(args, terminal, environment) {
    const input = readArguments(args, environment);
    const store = await openStore({
      dir: input.dir,
      keyFile: keyFileOf(environment),
      busyTimeoutMs: BUSY_TIMEOUT_MS,
      log: terminalLog(terminal),
    });
    try {
      const app = { store, clock: { nowMs: () => Date.now() }, log: terminalLog(terminal) };
      const { credential, secret } = await addPrincipal(app, input.principal);
      const { principalId: username, kind, siteId } = credential;
      if (input.json) {
        terminal.out(JSON.stringify({ id: username, kind, siteId, username, password: secret }));
        return;
      }
      terminal.out(`Credentials of ${kind} ${username}; the password is shown this once:`);
      terminal.out(`  user name  ${username}`);
      terminal.out(`  password   ${secret}`);
      terminal.out(`Try it: ${trial(kind, username, secret, siteId)}`);
    } finally {
      await store.close();
    }
  },
};

function readArguments(
  args: readonly string[],
  environment: NodeJS.ProcessEnv,
): { readonly dir: string; readonly principal: NewPrincipal; readonly json: boolean } {
  const { options, operands } = parseOptions(
    args,
    { data: 'value', kind: 'value', site: 'value', gateway: 'value', replace: 'flag', overlap: 'value', json: 'flag' },
    ['ID'],
  );
  const [id] = operands;
  if (id === undefined) throw new UsageError('node add needs an ID: brimline node add N1 --data DIR.');
  const dir = options.data ?? environment.BRIMLINE_DATA;
  if (dir === undefined || dir === '') throw new UsageError('node add needs --data DIR, the data folder.');
  const kind = KINDS.find((one) => one === (options.kind ?? 'node'));
  if (kind === undefined) throw new UsageError(`--kind is “${options.kind}”; it is one of ${KINDS.join(', ')}.`);
  return {
    dir,
    principal: {
      id,
      kind,
      siteId: options.site ?? null,
      gatewayId: options.gateway ?? null,
      replace: options.replace === true,
      ...(options.overlap === undefined ? {} : { overlap: overlapOf(options.overlap, options.replace === true) }),
    },
    json: options.json === true,
  };
}

const MOST_OVERLAP_HOURS = 336;

function overlapOf(text: string, replaces: boolean): { readonly hours: number; readonly nowMs: number } {
  const hours = Number(text);
  if (!replaces) throw new UsageError('--overlap goes with --replace: it says how long the old credentials go on.');
  if (!(hours > 0) || hours > MOST_OVERLAP_HOURS) {
    throw new UsageError(
      `--overlap is “${text}”; a number of hours above 0, at most ${MOST_OVERLAP_HOURS}, was expected.`,
    );
  }
  return { hours, nowMs: Date.now() };
}

function trial(kind: PrincipalKind, user: string, secret: string, siteId: string | null): string {
  const log = `-u ${user} -P ${secret}`;
  switch (kind) {
    case 'node':
      return `mosquitto_pub -q 1 ${log} -t nodes/${user}/readings -m '[{"n":"level","u":"mm","v":87}]'`;
    case 'gateway':
      return `mosquitto_pub -q 1 ${log} -t nodes/NODE/readings -m '[{"n":"level","u":"mm","v":87}]'`;
    case 'station':
      return `mosquitto_pub -q 1 ${log} -t sites/${siteId}/weather -m '[{"n":"temperature","u":"Cel","v":21.5}]'`;
    case 'subscriber':
      return `mosquitto_sub ${log} -t 'events/#' -v`;
  }
}

function terminalLog(terminal: Terminal): Log {
  return {
    debug: () => {},
    info: () => {},
    warn: (_fields, text) => terminal.err(text),
    error: (_fields, text) => terminal.err(text),
  };
}
