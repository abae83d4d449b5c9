import type { App } from '../../app/context.js';
import { firmZone } from '../../app/fieldwork/voices.js';
import { localDaysOf } from '../../app/fleet-view.js';
import { WHOLE_FLEET } from '../../domain/access.js';
import type { PersonId } from '../../domain/ids.js';
import type { Role } from '../../domain/registry.js';
import type { Terminal } from '../command.js';
import { dashboardDir, type RunningServer } from '../start-server.js';
import { DEMO_PASSWORD, type DemoSecrets } from './secrets.js';

const SEES: Readonly<Record<Role, string>> = {
  owner: 'water use and everything else',
  dispatcher: 'today: what cannot wait, and who goes',
  technician: 'the own round',
  installer: 'commissioning of pots and nodes',
  client: 'the own account',
};

const ROLES = ['dispatcher', 'technician', 'owner', 'installer', 'client'] as const satisfies readonly Role[];

/** A node to speak for by hand. */
export interface NodeToTry {
  readonly nodeId: string;
  readonly password: string;
  readonly containerId: string;
  readonly containerName: string;
  readonly levelMm: number;
}

/**
 * The node that has been silent longest: whoever speaks for it brings its pot back, and contradicts no simulated node.
 * Null where nothing was ever heard.
 */
export async function nodeToTry(app: App, secrets: DemoSecrets): Promise<NodeToTry | null> {
  const { registry, readings } = app.store;
  const nowMs = app.clock.nowMs();
  const assignments = (await registry.assignments(WHOLE_FLEET)).filter(
    (row) => row.fromMs <= nowMs && (row.toMs === null || row.toMs > nowMs),
  );
  const heard = await readings.lastHeard();
  const [longest] = assignments
    .filter(({ nodeId }) => secrets.passwordOf.has(nodeId) && heard.has(nodeId))
    .sort((a, b) => (heard.get(a.nodeId) ?? 0) - (heard.get(b.nodeId) ?? 0));
  if (longest === undefined) return null;
  const last = await readings.latestOfNode(longest.nodeId);
  const container = await registry.container(WHOLE_FLEET, longest.containerId);
  return {
    nodeId: longest.nodeId,
    password: secrets.passwordOf.get(longest.nodeId) ?? '',
    containerId: longest.containerId,
    containerName: container?.name ?? longest.containerId,
    levelMm: Math.round(last?.levelMm ?? 50),
  };
}

/** Technicians with stops on today’s rounds: whoever wants to see a round signs in as one of them. */
export async function onRoundToday(app: App): Promise<ReadonlySet<PersonId>> {
  const day = localDaysOf(await firmZone(app)).dayOf(app.clock.nowMs());
  const stops = await app.store.work.roundStops({ fromDay: day, toDay: day, technicianId: null });
  return new Set(stops.map((stop) => stop.technicianId));
}

/** Prints where the demo is, how to sign in, and how to send a reading. */
export function announce(
  terminal: Terminal,
  server: RunningServer,
  secrets: DemoSecrets,
  node: NodeToTry | null,
  onRound: ReadonlySet<PersonId>,
  speed: number,
): void {
  const say = (line = ''): void => terminal.out(line);
  say();
  say('Tern & Tide Container Gardens is open. All of it is invented.');
  say();
  say(`  ${server.url}`);
  say();
  say(`  Sign in with one of these; the password of all is  ${DEMO_PASSWORD}`);
  say('  It is known to everybody, and works in the demo on this machine only.');
  for (const role of ROLES) {
    const people = secrets.people.filter((person) => person.role === role);
    const out = people.filter((person) => onRound.has(person.id)).map(({ login }) => login);
    const sees = out.length === 0 ? SEES[role] : `${SEES[role]}; today ${out.join(' and ')} will be out`;
    say(
      `    ${role.padEnd(11)} ${people
        .map(({ login }) => login)
        .join(', ')
        .padEnd(20)} ${sees}`,
    );
  }
  if (dashboardDir() === null) {
    say();
    say('  The pages are not built: stop, run “npm run build:dashboard”, and start again. The API works without them.');
  }
  if (node !== null && server.mqttUrl !== null) sayHowToPublish(say, server.mqttUrl, node);
  say();
  say(`  It is Monday 31 August 2026, 06:30 in the demo; ${paceOf(speed)}. Ctrl-C stops it.`);
}

function sayHowToPublish(say: (line?: string) => void, mqttUrl: string, node: NodeToTry): void {
  const { hostname, port } = new URL(mqttUrl);
  const message = `'[{"n":"level","u":"mm","v":${node.levelMm}}]'`;
  const options = `-q 1 -u ${node.nodeId} -P ${node.password} -t nodes/${node.nodeId}/readings -m ${message}`;
  say();
  say(
    `  Send a reading of your own: the node of “${node.containerName}” (${node.containerId}) fell silent; speak for it`,
  );
  say(`    mosquitto_pub -h ${hostname} -p ${port} ${options}`);
  say('  or, without mosquitto, in this folder');
  say(`    npx mqtt publish -h ${hostname} -p ${port} ${options}`);
}

function paceOf(speed: number): string {
  if (speed === 60) return 'a real minute is an hour';
  return speed === 1 ? 'its clock runs like yours' : `its clock runs ${speed} times as fast as yours`;
}
