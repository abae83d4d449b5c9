import type { MqttClient } from 'mqtt';
import { generate } from 'selfsigned';
import { describe, expect, it } from 'vitest';
import { makeCredential, revokeCredential } from '../../src/app/people/credentials.js';
import { makeAuthenticator, makeByCertificate, makeStillValid } from '../../src/ingest/authenticator.js';
import type { EmbeddedBroker } from '../../src/ingest/embedded-broker.js';
import { connect, credentials, publishAcknowledged, startBroker } from '../support/ingest-broker.js';
import { NOW_MS, OWNER, openFleetStore, type TestApp } from '../support/ingest-fixtures.js';
import { LOCALHOST_CERT_PEM, LOCALHOST_KEY_PEM } from '../support/tls.js';

const TIME_S = NOW_MS / 1000 - 3_600;
const HOUR_MS = 3_600_000;

const level = (mm: number, secondsLater = 0): string =>
  JSON.stringify([{ n: 'level', u: 'mm', v: mm, t: TIME_S + secondsLater }]);

const serverTls = { key: LOCALHOST_KEY_PEM, cert: LOCALHOST_CERT_PEM, port: 0, wsPort: 0 } as const;

/** Resolves once the connection has ended. */
function ended(client: MqttClient): Promise<void> {
  return new Promise((resolve) => (client.connected ? client.once('close', () => resolve()) : resolve()));
}

async function opens(broker: EmbeddedBroker, username: string, password: string): Promise<boolean> {
  try {
    await connect(`mqtt://127.0.0.1:${broker.port}`, { username, password });
    return true;
  } catch {
    return false;
  }
}

describe('MQTT over TLS', () => {
  it('is spoken on sockets and WebSockets, with passwords', async () => {
    const app = await openFleetStore();
    const byCertificate = makeByCertificate(app.store);
    const broker = await startBroker(app, { tls: { ...serverTls, clientCa: null, byCertificate } });
    const password = await credentials(app, { id: 'N1' });
    const trust = { username: 'N1', password, ca: LOCALHOST_CERT_PEM, servername: 'localhost' };
    for (const [index, url] of [`mqtts://localhost:${broker.tlsPort}`, `wss://localhost:${broker.wssPort}`].entries()) {
      const node = await connect(url, trust);
      expect(await publishAcknowledged(node, 'nodes/N1/readings', level(80 + index, index)), url).toBe(true);
    }
    expect(await app.store.readings.ofNode('N1', 0, NOW_MS)).toHaveLength(2);
    await expect(connect(`mqtts://localhost:${broker.tlsPort}`, { ...trust, password: 'wrong' })).rejects.toThrow();
    await expect(connect(`mqtt://localhost:${broker.tlsPort}`, { ...trust, connectTimeout: 1_000 })).rejects.toThrow();
  });

  it('takes a certificate of the firm’s authority for a password, for the node that it names only', async () => {
    const app = await openFleetStore();
    const ours = await authority('N1');
    const stranger = await authority('N1');
    const byCertificate = makeByCertificate(app.store);
    const broker = await startBroker(app, {
      tls: { ...serverTls, clientCa: ours.ca, byCertificate },
      stillValid: makeStillValid(app.store),
    });
    const url = `mqtts://localhost:${broker.tlsPort}`;
    const trust = { ca: LOCALHOST_CERT_PEM, servername: 'localhost' };
    await expect(connect(url, { ...trust, ...ours.client }), 'before N1 has credentials').rejects.toThrow();
    await credentials(app, { id: 'N1' });
    const node = await connect(url, { ...trust, ...ours.client });
    expect(await publishAcknowledged(node, 'nodes/N1/readings', level(80))).toBe(true);
    await expect(connect(url, { ...trust, ...stranger.client }), 'another authority').rejects.toThrow();
    await expect(connect(url, { ...trust, ...ours.client, username: 'N2' }), 'another node').rejects.toThrow();
    await expect(connect(url, trust), 'no certificate').rejects.toThrow();
    const gone = ended(node);
    await revokeCredential(app, OWNER, 'N1');
    await broker.recheck();
    await gone;
    await expect(connect(url, { ...trust, ...ours.client }), 'revoked').rejects.toThrow();
  });
});

/** An authority, and a node's certificate that it has signed. */
async function authority(nodeId: string) {
  const made = await generate([{ name: 'commonName', value: 'Test authority' }], {
    keyType: 'ec',
    algorithm: 'sha256',
    extensions: [
      { name: 'basicConstraints', cA: true, critical: true },
      { name: 'keyUsage', keyCertSign: true, digitalSignature: true },
    ],
    clientCertificate: { cn: nodeId, keyType: 'ec', algorithm: 'sha256' },
  });
  return { ca: made.cert, client: { key: String(made.clientprivate), cert: String(made.clientcert) } };
}

describe('the secret of a node', () => {
  it('that is rotated opens beside the new one until the overlap is over, and what it opened ends then', async () => {
    const app = await openFleetStore();
    let machineMs = NOW_MS;
    const nowMs = () => machineMs;
    const broker = await startBroker(app, {
      authenticate: makeAuthenticator(app.store, nowMs),
      stillValid: makeStillValid(app.store, nowMs),
    });
    const former = await credentials(app, { id: 'N1' });
    const node = { principalId: 'N1', kind: 'node', siteId: null, overlapHours: 48 } as const;
    const { secret } = await makeCredential(app, OWNER, node, machineMs);
    expect([await opens(broker, 'N1', former), await opens(broker, 'N1', secret)]).toEqual([true, true]);
    const withFormer = await connect(`mqtt://127.0.0.1:${broker.port}`, { username: 'N1', password: former });
    const withNew = await connect(`mqtt://127.0.0.1:${broker.port}`, { username: 'N1', password: secret });
    machineMs += 47 * HOUR_MS;
    await broker.recheck();
    expect(await publishAcknowledged(withFormer, 'nodes/N1/readings', level(80))).toBe(true);
    const gone = ended(withFormer);
    machineMs += 2 * HOUR_MS;
    await broker.recheck();
    await gone;
    expect([await opens(broker, 'N1', former), await opens(broker, 'N1', secret)]).toEqual([false, true]);
    expect(await publishAcknowledged(withNew, 'nodes/N1/readings', level(81, 1))).toBe(true);
  });

  it('that is revoked opens nothing, nor does the one before it, and open connections end', async () => {
    const app = await openFleetStore();
    const broker = await startBroker(app, { stillValid: makeStillValid(app.store) });
    const former = await credentials(app, { id: 'N1' });
    const node = { principalId: 'N1', kind: 'node', siteId: null, overlapHours: 48 } as const;
    const { secret } = await makeCredential(app, OWNER, node, Date.now());
    const client = await connect(`mqtt://127.0.0.1:${broker.port}`, { username: 'N1', password: secret });
    await revokeCredential(app, OWNER, 'N1');
    const gone = ended(client);
    await broker.recheck();
    await gone;
    expect([await opens(broker, 'N1', former), await opens(broker, 'N1', secret)]).toEqual([false, false]);
  });
});

describe('a node that was stolen', () => {
  /** Twenty seconds' worth may come at once, so the flood is what goes beyond that. */
  const LIMITS = { messagesPerSecond: 20, connections: 4 } as const;
  const FLOOD = 440;

  it('and floods is slowed, loses nothing, and holds up nobody else', async () => {
    const app = await openFleetStore();
    const broker = await startBroker(app, { limits: LIMITS });
    const url = `mqtt://127.0.0.1:${broker.port}`;
    const stolen = await connect(url, { username: 'N1', password: await credentials(app, { id: 'N1' }) });
    const honest = await connect(url, { username: 'N2', password: await credentials(app, { id: 'N2' }) });
    let left = FLOOD;
    const flood = Array.from({ length: FLOOD }, async (_unused, i) => {
      const taken = await publishAcknowledged(stolen, 'nodes/N1/readings', level(i, i));
      left -= 1;
      return taken;
    });
    for (let i = 0; i < 30; i++) {
      expect(await publishAcknowledged(honest, 'nodes/N2/readings', level(i, i))).toBe(true);
    }
    expect(left, 'the other node was done while the flood still waited').toBeGreaterThan(0);
    expect(await Promise.all(flood)).toEqual(Array(FLOOD).fill(true));
    expect(broker.stats().slowed).toBeGreaterThan(0);
    expect(await stored(app, 'N1')).toBe(FLOOD);
    expect(await stored(app, 'N2')).toBe(30);
  });

  it('is slowed over all its connections together, and has few of them: the oldest makes place', async () => {
    const app = await openFleetStore();
    const broker = await startBroker(app, { limits: LIMITS });
    const password = await credentials(app, { id: 'N1' });
    const clients: MqttClient[] = [];
    for (let i = 0; i < 4; i++) {
      clients.push(await connect(`mqtt://127.0.0.1:${broker.port}`, { username: 'N1', password }));
    }
    const gone = ended(clients[0]!);
    clients.push(await connect(`mqtt://127.0.0.1:${broker.port}`, { username: 'N1', password }));
    await gone;
    expect(clients.map((client) => client.connected)).toEqual([false, true, true, true, true]);
    const publishes = clients
      .slice(1)
      .flatMap((client, of) =>
        Array.from({ length: 110 }, (_unused, i) =>
          publishAcknowledged(client, 'nodes/N1/readings', level(i, of * 200 + i)),
        ),
      );
    expect(await Promise.all(publishes)).toEqual(Array(440).fill(true));
    // No connection alone has sent more than may come at once.
    expect(broker.stats().slowed).toBeGreaterThan(0);
  });
});

async function stored(app: TestApp, nodeId: string): Promise<number> {
  return (await app.store.readings.ofNode(nodeId, 0, NOW_MS + HOUR_MS)).length;
}
