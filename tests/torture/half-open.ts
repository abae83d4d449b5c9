import { mkdtempSync } from 'node:fs';
import { connect, type Socket } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import mqttPacket from 'mqtt-packet';
import { freePort } from '../support/free-port.js';
import { stormPayload, stormReading } from '../support/storm-client.js';
import { damage, openLeft, readingFaults, repeatFaults } from './checks.js';
import { stormNodeId, tortureFleet } from './fleet.js';
import { importFleetFile } from './import.js';
import { stormNodes, totalAcknowledged } from './nodes.js';
import { keptWhereFaulty, type Outcome, type Plan, type Scenario } from './scenario.js';
import { serve, untilAcknowledged } from './served.js';

const SOCKETS_OF_A_KIND = 100;
const LET_IN = 2_000;
const MOST_GROWTH_MB = 250;

/** Peers that went away without a word, half a packet after the last one, or that never read: the others go on. */
export const halfOpen: Scenario = {
  name: 'half-open',
  summary: 'hundreds of connections that say nothing, stop half-way, or never read',
  share: 0.01,
  run: async (plan) => {
    const dir = mkdtempSync(join(tmpdir(), 'brimline-torture-'));
    return keptWhereFaulty(dir, await crowd(dir, plan));
  },
};

async function crowd(dir: string, plan: Plan): Promise<Outcome> {
  await importFleetFile(dir, tortureFleet());
  const [mqttPort, httpPort] = [await freePort(), await freePort()];
  const server = serve({ dir, mqttPort, httpPort });
  await server.ready();
  const nodes = stormNodes(8);
  const total = (): number => totalAcknowledged(nodes);
  for (const node of nodes) void node.run(mqttPort);
  await untilAcknowledged(total, LET_IN);
  const before = { acknowledged: total(), megabytes: server.residentMb() };
  const crowdSockets = Array.from({ length: SOCKETS_OF_A_KIND }, (_unused, index) => [
    open(mqttPort, []),
    open(httpPort, [Buffer.from('GET /api/v1/today HTTP/1.1\r\nHost: local')]),
    open(mqttPort, [connectPacket(`half-${index}`), publishPacket(0).subarray(0, 20)]),
    open(mqttPort, [connectPacket(`deaf-${index}`), ...Array.from({ length: 200 }, (_none, i) => publishPacket(i))]),
  ]).flat();
  await untilAcknowledged(total, LET_IN);
  const after = { acknowledged: total() - before.acknowledged, megabytes: server.residentMb() };
  plan.say(`${crowdSockets.length} connections that lead nowhere`);
  const faults: string[] = [];
  if (!server.alive()) faults.push('the server ended by itself');
  if (after.acknowledged < LET_IN) faults.push(`beside them only ${after.acknowledged} readings were taken`);
  const grownMb = after.megabytes - before.megabytes;
  if (grownMb > MOST_GROWTH_MB) faults.push(`the server grew by ${grownMb} MB under them`);
  for (const socket of crowdSockets) socket.destroy();
  for (const node of nodes) node.stop();
  await server.kill();
  const db = openLeft(dir);
  for (const node of nodes) faults.push(...readingFaults(db, node.acknowledged).slice(0, 3));
  faults.push(...repeatFaults(db), ...damage(db, 'full'));
  db.close();
  const notes = [`${crowdSockets.length} such connections, ${grownMb} MB more memory under them`];
  return { kills: 1, acknowledged: total(), acts: 0, faults, notes };
}

/** Sends and then neither reads nor closes. */
function open(port: number, frames: readonly Buffer[]): Socket {
  const socket = connect({ port, host: '127.0.0.1' });
  socket.pause();
  // The server may end such a connection at any time: that is its good right.
  socket.on('error', () => {});
  for (const frame of frames) socket.write(frame);
  return socket;
}

function connectPacket(clientId: string): Buffer {
  return mqttPacket.generate({
    cmd: 'connect',
    protocolId: 'MQTT',
    protocolVersion: 4,
    clientId,
    clean: true,
    keepalive: 0,
  });
}

function publishPacket(number: number): Buffer {
  const nodeId = stormNodeId(0);
  return mqttPacket.generate({
    cmd: 'publish',
    topic: `nodes/${nodeId}/readings`,
    payload: stormPayload(stormReading(nodeId, number)),
    qos: 1,
    retain: false,
    dup: false,
    messageId: 1 + number,
  });
}
