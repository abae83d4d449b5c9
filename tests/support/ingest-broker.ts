import { execFile, spawnSync } from 'node:child_process';
import mqtt, { type IClientOptions, type MqttClient } from 'mqtt';
import { onTestFinished } from 'vitest';
import { addPrincipal, type NewPrincipal } from '../../src/app/people/add-principal.js';
import { DEFAULT_MAX_PAYLOAD_BYTES, Recorder } from '../../src/app/readings/record-readings.js';
import { makeAuthenticator } from '../../src/ingest/authenticator.js';
import {
  DEFAULT_MAX_CONNECTIONS,
  type EmbeddedBroker,
  type EmbeddedBrokerOptions,
  startEmbeddedBroker,
} from '../../src/ingest/embedded-broker.js';
import type { TestApp } from './ingest-fixtures.js';

/** An embedded broker over the store of `app`, on free ports of this machine; closed when the test ends. */
export async function startBroker(
  app: TestApp,
  overrides: Partial<EmbeddedBrokerOptions> = {},
): Promise<EmbeddedBroker> {
  const broker = await startEmbeddedBroker({
    host: '127.0.0.1',
    port: 0,
    wsPort: 0,
    open: false,
    authenticate: makeAuthenticator(app.store),
    recorder: new Recorder({ store: app.store, clock: app.clock, maxPayloadBytes: DEFAULT_MAX_PAYLOAD_BYTES }),
    clock: app.clock,
    log: app.log,
    maxPayloadBytes: DEFAULT_MAX_PAYLOAD_BYTES,
    maxConnections: DEFAULT_MAX_CONNECTIONS,
    ...overrides,
  });
  onTestFinished(() => broker.close());
  return broker;
}

/** Makes credentials and gives back the secret. */
export async function credentials(app: TestApp, input: Partial<NewPrincipal> & { id: string }): Promise<string> {
  const principal = { kind: 'node', siteId: null, gatewayId: null, replace: true, ...input } as const;
  return (await addPrincipal(app, principal)).secret;
}

/** A client that does not come back by itself; ended when the test ends. Rejects where the log-in is refused. */
export async function connect(url: string, options: IClientOptions = {}): Promise<MqttClient> {
  const client = mqtt.connect(url, { reconnectPeriod: 0, connectTimeout: 10_000, ...options });
  onTestFinished(() => void client.end(true));
  await new Promise<void>((resolve, reject) => {
    client.once('connect', () => resolve());
    client.once('error', reject);
    client.once('close', () => reject(new Error('closed before it was connected')));
  });
  client.on('error', () => {});
  // One listener for each publish under way.
  client.setMaxListeners(0);
  return client;
}

/** Resolves with true once the publish is acknowledged, with false where the connection ends first. */
export function publishAcknowledged(client: MqttClient, topic: string, payload: string | Buffer): Promise<boolean> {
  return new Promise((resolve) => {
    client.once('close', () => resolve(false));
    client.publish(topic, payload, { qos: 1 }, (error) => resolve(error === undefined || error === null));
  });
}

const mosquittoFound = spawnSync('mosquitto_pub', ['--help']).error === undefined;
const brokerFound = spawnSync('mosquitto', ['-h']).error === undefined;

/** Whether Debian's mosquitto and its clients are installed; says loudly where they are not. */
export function hasMosquitto(what: string): boolean {
  if (mosquittoFound && brokerFound) return true;
  process.stderr.write(
    `\n*** SKIPPED: ${what}: mosquitto or mosquitto-clients are not installed (apt-get install mosquitto mosquitto-clients) ***\n\n`,
  );
  return false;
}

/** Runs a mosquitto client to its end; rejects with what it said where it fails. */
export function runMosquitto(program: 'mosquitto_pub' | 'mosquitto_sub', args: readonly string[]): Promise<string> {
  return new Promise((resolve, reject) => {
    execFile(program, [...args], { timeout: 20_000 }, (error, stdout, stderr) =>
      error === null ? resolve(stdout) : reject(new Error(`${error.message}\n${stdout}${stderr}`)),
    );
  });
}
