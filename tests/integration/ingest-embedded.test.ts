import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { connect as connectTcp, createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Encoder } from 'cbor-x';
import { describe, expect, it, onTestFinished } from 'vitest';
import { DEFAULT_MAX_PAYLOAD_BYTES, Recorder } from '../../src/app/readings/record-readings.js';
import { DomainError } from '../../src/domain/errors.js';
import {
  connect,
  credentials,
  hasMosquitto,
  publishAcknowledged,
  runMosquitto,
  startBroker,
} from '../support/ingest-broker.js';
import { NOW_MS, openFleetStore, smallFleet, type TestApp } from '../support/ingest-fixtures.js';

const TIME_S = NOW_MS / 1000;
const level = (v: number, t = TIME_S) => JSON.stringify([{ bn: 'N1/', n: 'level', u: 'mm', v, t }]);
const stored = (app: TestApp, nodeId = 'N1') => app.store.readings.ofNode(nodeId, 0, NOW_MS + 1e9);

async function quarantineOf(app: TestApp) {
  return (await app.store.readings.quarantine({ limit: 500, cursor: null })).rows;
}

describe('the embedded broker', () => {
  it('acknowledges a reading once it is in the store, over TCP and WebSocket', async () => {
    const app = await openFleetStore();
    const broker = await startBroker(app);
    const password = await credentials(app, { id: 'N1' });
    const options = { username: 'N1', password };
    const tcp = await connect(`mqtt://127.0.0.1:${broker.port}`, options);
    expect(await publishAcknowledged(tcp, 'nodes/N1/readings', level(80, TIME_S - 60))).toBe(true);
    expect(await stored(app)).toMatchObject([{ levelMm: 80, receivedMs: NOW_MS }]);
    const ws = await connect(`ws://127.0.0.1:${broker.wsPort}`, { ...options, clientId: 'other' });
    expect(await publishAcknowledged(ws, 'nodes/N1/readings', level(81))).toBe(true);
    expect((await stored(app)).map((row) => row.levelMm)).toEqual([80, 81]);
  });

  it('stores QoS 0 and QoS 2 as well', async () => {
    const app = await openFleetStore();
    const broker = await startBroker(app);
    const password = await credentials(app, { id: 'N1' });
    const client = await connect(`mqtt://127.0.0.1:${broker.port}`, { username: 'N1', password });
    client.publish('nodes/N1/readings', level(80, TIME_S - 60), { qos: 0 });
    await client.publishAsync('nodes/N1/readings', level(81), { qos: 2 });
    expect((await stored(app)).map((row) => row.levelMm)).toEqual([80, 81]);
  });

  it('refuses wrong, missing, replaced and revoked credentials', async () => {
    const app = await openFleetStore();
    const broker = await startBroker(app);
    const password = await credentials(app, { id: 'N1' });
    const url = `mqtt://127.0.0.1:${broker.port}`;
    await expect(connect(url, { username: 'N1', password: 'wrong' })).rejects.toThrow('Bad username or password');
    await expect(connect(url, { username: 'N2', password })).rejects.toThrow('Bad username or password');
    await expect(connect(url)).rejects.toThrow('Bad username or password');
    await connect(url, { username: 'N1', password });
    const rotated = await credentials(app, { id: 'N1' });
    await expect(connect(url, { username: 'N1', password })).rejects.toThrow('Bad username or password');
    await connect(url, { username: 'N1', password: rotated });
    const credential = await app.store.people.credential('N1');
    if (credential === null) throw new Error('the credential is there');
    await app.store.commit({
      atMs: NOW_MS,
      actor: { kind: 'command', id: 'test' },
      writes: [{ kind: 'credential', row: { ...credential, revokedMs: NOW_MS } }],
      cursor: null,
    });
    await expect(connect(url, { username: 'N1', password: rotated })).rejects.toThrow('Bad username or password');
    expect(broker.stats().deniedConnections).toBe(5);
  });

  it('drops a node that publishes as another, and stores nothing of it', async () => {
    const app = await openFleetStore();
    const broker = await startBroker(app);
    const password = await credentials(app, { id: 'N2' });
    const client = await connect(`mqtt://127.0.0.1:${broker.port}`, { username: 'N2', password });
    expect(await publishAcknowledged(client, 'nodes/N1/readings', level(80))).toBe(false);
    expect(await stored(app)).toEqual([]);
    expect(broker.stats().deniedPublishes).toBe(1);
  });

  it('guards $SYS, settings and events', async () => {
    const app = await openFleetStore();
    const broker = await startBroker(app);
    const password = await credentials(app, { id: 'N1' });
    for (const topic of ['$SYS/broker/x', 'nodes/N1/settings', 'events/alarm']) {
      const client = await connect(`mqtt://127.0.0.1:${broker.port}`, { username: 'N1', password });
      expect(await publishAcknowledged(client, topic, 'x')).toBe(false);
    }
  });

  it('lets a gateway publish for the nodes that name it, also for one that came to it just now', async () => {
    const app = await openFleetStore({
      ...smallFleet(),
      gateways: [{ id: 'G1', siteId: 'S1' }],
    });
    const broker = await startBroker(app);
    const password = await credentials(app, { id: 'G1', kind: 'gateway' });
    const url = `mqtt://127.0.0.1:${broker.port}`;
    const stranger = await connect(url, { username: 'G1', password });
    expect(await publishAcknowledged(stranger, 'nodes/N1/readings', level(80))).toBe(false);
    await credentials(app, { id: 'N1', gatewayId: 'G1' });
    const gateway = await connect(url, { username: 'G1', password });
    expect(await publishAcknowledged(gateway, 'nodes/N1/readings', level(80))).toBe(true);
    expect(await stored(app)).toHaveLength(1);
  });

  it('takes a station’s weather for its own site only', async () => {
    const app = await openFleetStore();
    const broker = await startBroker(app);
    const password = await credentials(app, { id: 'W1', kind: 'station', siteId: 'S1' });
    const url = `mqtt://127.0.0.1:${broker.port}`;
    const payload = JSON.stringify([{ n: 'temperature', u: 'Cel', v: 24, t: TIME_S }]);
    const station = await connect(url, { username: 'W1', password });
    expect(await publishAcknowledged(station, 'sites/S1/weather', payload)).toBe(true);
    expect(await publishAcknowledged(station, 'sites/S2/weather', payload)).toBe(false);
    expect(await app.store.weather.samples('S1', 0, NOW_MS + 1)).toMatchObject([{ temperatureC: 24 }]);
  });

  it('gives a node its retained settings and a subscriber the events, and neither anything else', async () => {
    const app = await openFleetStore();
    const broker = await startBroker(app);
    const url = `mqtt://127.0.0.1:${broker.port}`;
    await broker.publish('nodes/N1/settings', '{"intervalS":900,"fastUntil":null}', { retain: true });
    const node = await connect(url, { username: 'N1', password: await credentials(app, { id: 'N1' }) });
    const subscriber = await connect(url, {
      username: 'sub',
      password: await credentials(app, { id: 'sub', kind: 'subscriber' }),
    });
    const heard: string[] = [];
    for (const client of [node, subscriber])
      client.on('message', (topic, payload) => heard.push(`${topic} ${payload}`));
    const granted = async (client: typeof node, filter: string) =>
      new Promise<number>((resolve) => {
        client.subscribe(filter, { qos: 1 }, (_error, _grants, packet) => resolve(Number(packet?.granted[0])));
      });
    expect(await granted(node, 'nodes/N1/settings')).toBe(1);
    expect(await granted(subscriber, 'events/#')).toBe(1);
    for (const [client, filter] of [
      [node, 'events/#'],
      [node, 'nodes/N2/settings'],
      [node, '#'],
      [subscriber, 'nodes/N1/settings'],
      [subscriber, 'nodes/+/readings'],
    ] as const) {
      expect(await granted(client, filter)).toBe(128);
    }
    await broker.publish('events/alarm', '{}', { retain: false });
    await expect.poll(() => heard).toEqual(['nodes/N1/settings {"intervalS":900,"fastUntil":null}', 'events/alarm {}']);
  });

  it('tells of a node’s last will', async () => {
    const app = await openFleetStore();
    const states: string[] = [];
    const broker = await startBroker(app, { onNodeState: (nodeId, state) => states.push(`${nodeId} ${state}`) });
    const client = await connect(`mqtt://127.0.0.1:${broker.port}`, {
      username: 'N1',
      password: await credentials(app, { id: 'N1' }),
      will: { topic: 'nodes/N1/state', payload: Buffer.from('offline'), qos: 1, retain: true },
    });
    await client.publishAsync('nodes/N1/state', 'online', { qos: 1, retain: true });
    client.stream.destroy();
    await expect.poll(() => states).toEqual(['N1 online', 'N1 offline']);
  });

  it('does not let a node take over another’s connection by its client id', async () => {
    const app = await openFleetStore();
    const broker = await startBroker(app);
    const url = `mqtt://127.0.0.1:${broker.port}`;
    const one = await connect(url, {
      username: 'N1',
      password: await credentials(app, { id: 'N1' }),
      clientId: 'same',
    });
    await connect(url, { username: 'N2', password: await credentials(app, { id: 'N2' }), clientId: 'same' });
    expect(await publishAcknowledged(one, 'nodes/N1/readings', level(80))).toBe(true);
    expect(broker.stats().connections).toBe(2);
  });

  it('refuses a payload of 10 MB in words, acknowledges it, and takes the next one on the same connection', async () => {
    const app = await openFleetStore();
    const broker = await startBroker(app);
    const client = await connect(`mqtt://127.0.0.1:${broker.port}`, {
      username: 'N1',
      password: await credentials(app, { id: 'N1' }),
    });
    expect(await publishAcknowledged(client, 'nodes/N1/readings', Buffer.alloc(10_000_000, '[{"n":'))).toBe(true);
    expect(await publishAcknowledged(client, 'nodes/N1/readings', level(80))).toBe(true);
    expect(await stored(app)).toHaveLength(1);
    const [row] = await quarantineOf(app);
    expect(row).toMatchObject({ refusal: 'payload_too_large', nodeId: 'N1', source: 'nodes/N1/readings' });
    expect(row?.detail).toContain('10000000 bytes');
    expect(Buffer.from(row?.raw ?? []).toString()).toMatch(/^\[\{"n":\[\{"n":/);
  });

  it('acknowledges what it refuses, keeps it, and goes on', async () => {
    const app = await openFleetStore();
    const broker = await startBroker(app);
    const client = await connect(`mqtt://127.0.0.1:${broker.port}`, {
      username: 'N1',
      password: await credentials(app, { id: 'N1' }),
    });
    const bad = ['', 'hello', Buffer.from([0xff, 0xfe]), '[]', '[{"n":"level","u":"mm","v":1e999}]', '{"n":1}'];
    for (const payload of bad) expect(await publishAcknowledged(client, 'nodes/N1/readings', payload)).toBe(true);
    expect(await publishAcknowledged(client, 'nodes/N1/readings', level(80))).toBe(true);
    expect(await quarantineOf(app)).toHaveLength(bad.length);
    expect(await stored(app)).toHaveLength(1);
  });

  it('leads to the same readings from a backlog in any order, with repeats', async () => {
    const app = await openFleetStore();
    const broker = await startBroker(app);
    const client = await connect(`mqtt://127.0.0.1:${broker.port}`, {
      username: 'N1',
      password: await credentials(app, { id: 'N1' }),
    });
    const packs = Array.from({ length: 60 }, (_unused, i) => level(80 + i / 10, TIME_S - i * 900));
    const repeated = [...packs, ...packs.slice(0, 20)];
    // 33 and 80 have no common factor, so that each message comes once, far from its neighbours.
    const shuffled = repeated.map((_pack, i) => repeated[(i * 33) % repeated.length] ?? '');
    const acknowledged = await Promise.all(
      shuffled.map((payload) => client.publishAsync('nodes/N1/readings', payload, { qos: 1 })),
    );
    expect(acknowledged).toHaveLength(80);
    const rows = await stored(app);
    expect(rows.map((row) => row.levelMm)).toEqual(packs.map((_pack, i) => 80 + i / 10).reverse());
  });

  it('takes clients without credentials in open mode, on loopback only', async () => {
    const app = await openFleetStore();
    const broker = await startBroker(app, { open: true });
    const client = await connect(`mqtt://127.0.0.1:${broker.port}`);
    expect(await publishAcknowledged(client, 'nodes/N1/readings', level(80))).toBe(true);
    await expect(startBroker(app, { open: true, host: '0.0.0.0' })).rejects.toMatchObject({
      code: 'open_mode_not_loopback',
    });
  });

  it('says in words that a port is taken', async () => {
    const app = await openFleetStore();
    const blocker = createServer();
    await new Promise<void>((resolve) => blocker.listen(0, '127.0.0.1', () => resolve()));
    onTestFinished(() => void blocker.close());
    const address = blocker.address();
    const port = typeof address === 'object' && address !== null ? address.port : 0;
    await expect(startBroker(app, { port })).rejects.toMatchObject({
      code: 'port_in_use',
      message: expect.stringContaining(`Port ${port} on 127.0.0.1 cannot be used for MQTT: another program`),
    });
    await expect(startBroker(app, { wsPort: port })).rejects.toMatchObject({ code: 'port_in_use' });
  });

  it('refuses MQTT 5 with the protocol’s own answer', async () => {
    const app = await openFleetStore();
    const broker = await startBroker(app, { open: true });
    await expect(connect(`mqtt://127.0.0.1:${broker.port}`, { protocolVersion: 5 })).rejects.toThrow();
    expect(
      await publishAcknowledged(await connect(`mqtt://127.0.0.1:${broker.port}`), 'nodes/N1/readings', level(1)),
    ).toBe(true);
  });

  it('takes no more connections than it may, and closes also with some that never logged in', async () => {
    const app = await openFleetStore();
    const broker = await startBroker(app, { open: true, maxConnections: 2 });
    const idle = connectTcp(broker.port ?? 0, '127.0.0.1');
    onTestFinished(() => void idle.destroy());
    await new Promise<void>((resolve) => idle.once('connect', () => resolve()));
    await connect(`mqtt://127.0.0.1:${broker.port}`);
    await expect(connect(`mqtt://127.0.0.1:${broker.port}`)).rejects.toThrow();
    await broker.close();
    expect(broker.stats().deniedConnections).toBe(1);
  });

  it('drops the sender and stores nothing where a commit fails, and takes the readings once it can', async () => {
    const app = await openFleetStore();
    const recorder = new Recorder({ store: app.store, clock: app.clock, maxPayloadBytes: DEFAULT_MAX_PAYLOAD_BYTES });
    const record = recorder.record.bind(recorder);
    let full = true;
    recorder.record = async (packs) => {
      if (full) throw new DomainError('store_full', 'The disk is full.');
      return record(packs);
    };
    const broker = await startBroker(app, { open: true, recorder });
    const client = await connect(`mqtt://127.0.0.1:${broker.port}`);
    expect(await publishAcknowledged(client, 'nodes/N1/readings', level(80))).toBe(false);
    full = false;
    const again = await connect(`mqtt://127.0.0.1:${broker.port}`);
    expect(await publishAcknowledged(again, 'nodes/N1/readings', level(80))).toBe(true);
    expect(await stored(app)).toHaveLength(1);
  });

  it('finishes what it holds when it is closed: what was acknowledged is stored, what was not is not lost to the sender', async () => {
    const app = await openFleetStore();
    const broker = await startBroker(app, { open: true });
    const client = await connect(`mqtt://127.0.0.1:${broker.port}`);
    let acknowledged = 0;
    const sent = Array.from({ length: 300 }, (_unused, i) =>
      publishAcknowledged(client, 'nodes/N1/readings', level(80, TIME_S - i)).then((ok) => {
        if (ok) acknowledged += 1;
      }),
    );
    await expect.poll(() => acknowledged, { interval: 1 }).toBeGreaterThan(0);
    await broker.close();
    await Promise.all(sent);
    expect((await stored(app)).length).toBeGreaterThanOrEqual(acknowledged);
    expect(broker.stats().commit.waiting).toBe(0);
  });
});

describe.runIf(hasMosquitto('independent clients at the embedded broker'))('mosquitto_pub', () => {
  it('publishes JSON and CBOR packs with MQTT 3.1.1', async () => {
    const app = await openFleetStore();
    const broker = await startBroker(app);
    const password = await credentials(app, { id: 'N1' });
    const dir = mkdtempSync(join(tmpdir(), 'brimline-'));
    onTestFinished(() => rmSync(dir, { recursive: true }));
    const file = join(dir, 'pack.cbor');
    const cbor = new Encoder({ mapsAsObjects: false, useRecords: false, variableMapSize: true });
    const record = new Map<number, unknown>([
      [-2, 'N1/'],
      [0, 'level'],
      [1, 'm'],
      [2, 0.081],
      [6, TIME_S],
    ]);
    writeFileSync(file, cbor.encode([record]));
    const common = [
      '-h',
      '127.0.0.1',
      '-p',
      String(broker.port),
      '-V',
      'mqttv311',
      '-q',
      '1',
      '-u',
      'N1',
      '-P',
      password,
    ];
    await runMosquitto('mosquitto_pub', [...common, '-t', 'nodes/N1/readings', '-m', level(80, TIME_S - 60)]);
    await runMosquitto('mosquitto_pub', [...common, '-t', 'nodes/N1/readings', '-f', file]);
    expect((await stored(app)).map((row) => row.levelMm)).toEqual([80, 81]);
  });
});
