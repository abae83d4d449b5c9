import { mkdtempSync, rmSync } from 'node:fs';
import { connect } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import mqttPacket, { type Packet } from 'mqtt-packet';
import { freePort } from '../support/free-port.js';
import { seededRng } from '../support/pot-series.js';
import { StormClient } from '../support/storm-client.js';
import { stormNodeId, tortureFleet } from './fleet.js';
import type { FuzzPlan, Target } from './fuzz.js';
import { importFleetFile } from './import.js';
import { mutated } from './mutate.js';
import { type Served, serve, sleep } from './served.js';

const AT_ONCE = 40;
const PATIENCE_MS = 40;
const PROOF_READINGS = 3;
const PROOF_MS = 10_000;

/** Broken packets on the port of the broker, many connections at once; a node that does all right has to get through. */
export const fuzzMqtt: Target = {
  name: 'mqtt',
  run: async (plan) => {
    const dir = mkdtempSync(join(tmpdir(), 'brimline-fuzz-'));
    const [mqttPort, httpPort] = [await freePort(), await freePort()];
    await importFleetFile(dir, tortureFleet());
    const server = serve({ dir, mqttPort, httpPort });
    try {
      await server.ready();
      return await fuzz(server, mqttPort, plan);
    } finally {
      if (server.alive()) await server.kill();
      rmSync(dir, { recursive: true, force: true });
    }
  },
};

async function fuzz(server: Served, port: number, { seed, untilMs }: FuzzPlan) {
  const random = seededRng(seed);
  const samples = packets();
  const faults: string[] = [];
  let inputs = 0;
  for (let round = 0; Date.now() < untilMs && faults.length === 0; round++) {
    const sent = Array.from({ length: AT_ONCE }, () => {
      const opening = random() < 0.7 ? [samples[0] ?? Buffer.alloc(0)] : [];
      return Buffer.concat([
        ...opening,
        ...Array.from({ length: 1 + Math.floor(random() * 3) }, () => mutated(samples, random)),
      ]);
    });
    await Promise.all(sent.map((bytes) => send(port, bytes)));
    inputs += sent.length;
    if (!(await provesAlive(server, port, round))) {
      const inputsOfRound = sent.map((bytes) => bytes.toString('base64')).join(' ');
      faults.push(`the server no longer takes readings after one of (base64): ${inputsOfRound}`);
    }
  }
  return { inputs, faults };
}

function send(port: number, bytes: Buffer): Promise<void> {
  return new Promise((resolve) => {
    const socket = connect({ port, host: '127.0.0.1' });
    const done = (): void => {
      socket.destroy();
      resolve();
    };
    // Being shown the door is the answer that is hoped for.
    socket.on('error', done);
    socket.on('close', done);
    socket.on('connect', () => socket.write(bytes));
    socket.resume();
    setTimeout(done, PATIENCE_MS);
  });
}

async function provesAlive(server: Served, port: number, round: number): Promise<boolean> {
  const node = new StormClient(stormNodeId(round % 20), 1, PROOF_READINGS);
  const done = node.done().then(() => true);
  void node.run(port);
  const proved = await Promise.race([done, sleep(PROOF_MS).then(() => false)]);
  node.stop();
  return proved && server.alive();
}

function packets(): readonly Buffer[] {
  const payload = '[{"n":"level","u":"mm","v":83}]';
  const topic = `nodes/${stormNodeId(0)}/readings`;
  const list: Packet[] = [
    { cmd: 'connect', protocolId: 'MQTT', protocolVersion: 4, clientId: 'fuzz', clean: true, keepalive: 60 },
    {
      cmd: 'connect',
      protocolId: 'MQTT',
      protocolVersion: 4,
      clientId: 'fuzz-2',
      clean: false,
      keepalive: 0,
      username: 'N1',
      password: Buffer.from('x'),
      will: { topic: 'nodes/N1/state', payload: Buffer.from('offline'), qos: 1, retain: true },
    },
    { cmd: 'publish', topic, payload, qos: 1, retain: false, dup: false, messageId: 7 },
    { cmd: 'publish', topic, payload, qos: 2, retain: true, dup: true, messageId: 8 },
    { cmd: 'publish', topic, payload, qos: 0, retain: false, dup: false },
    { cmd: 'subscribe', messageId: 9, subscriptions: [{ topic: `nodes/${stormNodeId(0)}/settings`, qos: 1 }] },
    { cmd: 'subscribe', messageId: 10, subscriptions: [{ topic: '#', qos: 2 }] },
    { cmd: 'unsubscribe', messageId: 11, unsubscriptions: ['a/+/b'] },
    { cmd: 'puback', messageId: 7 },
    { cmd: 'pubrel', messageId: 8 },
    { cmd: 'pingreq' },
    { cmd: 'disconnect' },
  ];
  return list.map((packet) => mqttPacket.generate(packet));
}
