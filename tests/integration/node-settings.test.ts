import { connectAsync, type MqttClient } from 'mqtt';
import { describe, expect, it, onTestFinished } from 'vitest';
import { GENERATED_SECRET_COST, hashSecret } from '../../src/app/people/secrets.js';
import type { Write } from '../../src/domain/change-set.js';
import { startTestServer } from '../support/server.js';

const SECRET = 'water-under-soil';

async function seed(): Promise<readonly Write[]> {
  const secretHash = await hashSecret(SECRET, GENERATED_SECRET_COST);
  return [
    { kind: 'node', row: { id: 'N1', gatewayId: null, promisedIntervalS: null } },
    { kind: 'node', row: { id: 'N2', gatewayId: null, promisedIntervalS: 600 } },
    {
      kind: 'credential',
      row: {
        principalId: 'N1',
        kind: 'node',
        siteId: null,
        secretHash,
        createdMs: 0,
        revokedMs: null,
        previousHash: null,
        previousUntilMs: null,
      },
    },
  ];
}

/** The next settings that reach the node. */
function nextSettings(client: MqttClient): Promise<unknown> {
  return new Promise((resolve) =>
    client.once('message', (topic, payload) => resolve({ topic, settings: JSON.parse(payload.toString('utf8')) })),
  );
}

describe('the settings of a node', () => {
  it('stand retained on its topic, follow a change, and are nobody else’s', async () => {
    const server = await startTestServer({ seed: await seed() });
    onTestFinished(() => server.close());
    await server.running.stages.idle();
    const client = await connectAsync(server.mqttUrl, { username: 'N1', password: SECRET, protocolVersion: 4 });
    onTestFinished(async () => client.endAsync(true));

    const first = nextSettings(client);
    await client.subscribeAsync('nodes/N1/settings', { qos: 1 });
    expect(await first).toEqual({ topic: 'nodes/N1/settings', settings: { intervalS: 900, fastUntil: null } });

    const changed = nextSettings(client);
    await server.store.commit({
      atMs: Date.now(),
      actor: { kind: 'command', id: 'test' },
      writes: [{ kind: 'node', row: { id: 'N1', gatewayId: null, promisedIntervalS: 300 } }],
      cursor: null,
    });
    expect(await changed).toEqual({ topic: 'nodes/N1/settings', settings: { intervalS: 300, fastUntil: null } });

    const hurried = nextSettings(client);
    const untilMs = Date.now() + 600_000;
    await server.store.commit({
      atMs: Date.now(),
      actor: { kind: 'command', id: 'test' },
      writes: [{ kind: 'fast_report', row: { nodeId: 'N1', untilMs } }],
      cursor: null,
    });
    const fastUntil = new Date(untilMs).toISOString();
    expect(await hurried).toEqual({ topic: 'nodes/N1/settings', settings: { intervalS: 300, fastUntil } });

    const [granted] = await client.subscribeAsync('nodes/N2/settings', { qos: 1 }).catch(() => [{ qos: 128 }]);
    expect(granted?.qos).toBe(128);
  });
});
