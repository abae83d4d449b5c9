import { createHash, randomInt } from 'node:crypto';
import { hostname } from 'node:os';
import { resolve } from 'node:path';
import type { App } from '../app/context.js';
import { DEFAULT_MAX_PAYLOAD_BYTES, Recorder } from '../app/readings/record-readings.js';
import type { Settings } from '../config.js';
import type { Rng } from '../domain/ports/clock.js';
import type { Log } from '../domain/ports/log.js';
import { makeAuthenticator, makeByCertificate, makeStillValid } from '../ingest/authenticator.js';
import { DEFAULT_MAX_CONNECTIONS, startEmbeddedBroker } from '../ingest/embedded-broker.js';
import { startExternalBroker } from '../ingest/external-broker.js';
import type { GroupCommitStats } from '../ingest/group-commit.js';
import { isLoopback } from '../ingest/listen.js';
import { followTls, readTls } from './tls-files.js';

/** What whoever runs the server wants to know of the way in. */
export interface IngestStats {
  readonly connections: number;
  /** Messages with a pack taken in, stored or not yet. */
  readonly packs: number;
  /** Messages that had to wait because their sender sent too much. */
  readonly slowed: number;
  readonly refused: number;
  readonly commit: GroupCommitStats;
}

/** The way in for readings, whichever broker stands before it. */
export interface Ingest {
  /** Of the embedded broker; null where an external one is read. */
  readonly mqttUrl: string | null;
  readonly wsUrl: string | null;
  readonly mqttsUrl: string | null;
  readonly wssUrl: string | null;
  publish(topic: string, payload: string, options: { readonly retain: boolean }): Promise<void>;
  stats(): IngestStats;
  /** What keeps readings from coming in, in words. */
  notReady(): readonly string[];
  /** Finishes and acknowledges what it holds. */
  close(): Promise<void>;
}

const RANDOM_STEPS = 2 ** 47;

/** For pauses that should differ between servers; nothing that anybody has to guess hangs on it. */
export const systemRng: Rng = () => randomInt(RANDOM_STEPS) / RANDOM_STEPS;

/**
 * Starts the embedded broker, or reads from the external one of the settings.
 * @throws DomainError `port_in_use`, `open_mode_not_loopback`, or `invalid_input` for a broker's address
 */
export async function startIngest(app: App, settings: Settings, log: Log): Promise<Ingest> {
  const recorder = new Recorder({ store: app.store, clock: app.clock, maxPayloadBytes: DEFAULT_MAX_PAYLOAD_BYTES });
  const common = { recorder, clock: app.clock, log, maxPayloadBytes: DEFAULT_MAX_PAYLOAD_BYTES };
  const { host, port, wsPort, tlsPort, wssPort, open, brokerUrl, messagesPerSecond, connectionsEach } = settings.mqtt;
  if (brokerUrl !== null) {
    const reader = startExternalBroker({
      ...common,
      url: brokerUrl,
      clientId: clientIdOf(settings.dataDir),
      protocol: 'auto',
      rng: systemRng,
    });
    return {
      mqttUrl: null,
      wsUrl: null,
      mqttsUrl: null,
      wssUrl: null,
      publish: (...message) => reader.publish(...message),
      stats: () => {
        const { connected, packs, commit } = reader.stats();
        return { connections: connected ? 1 : 0, packs, slowed: 0, refused: 0, commit };
      },
      notReady: () => {
        const { trouble } = reader.stats();
        return trouble === null ? [] : [`The broker cannot be read: ${trouble}`];
      },
      close: () => reader.close(),
    };
  }
  const material = settings.tls === null ? null : readTls(settings.tls);
  const byCertificate = makeByCertificate(app.store);
  const broker = await startEmbeddedBroker({
    ...common,
    host,
    port,
    wsPort,
    open,
    authenticate: makeAuthenticator(app.store),
    stillValid: makeStillValid(app.store),
    limits: { messagesPerSecond, connections: connectionsEach },
    ...(material === null ? {} : { tls: { ...material, byCertificate, port: tlsPort, wsPort: wssPort } }),
    maxConnections: DEFAULT_MAX_CONNECTIONS,
  });
  const unfollow =
    settings.tls === null ? () => {} : followTls(settings.tls, (renewed) => broker.renewTls(renewed), log);
  if (!isLoopback(host) && (port !== null || wsPort !== null)) {
    log.warn(
      { host, port, wsPort },
      'nodes log in without encryption from other machines; BRIMLINE_MQTTS_PORT with a certificate, and BRIMLINE_MQTT_PORT=off, end that',
    );
  }
  return {
    mqttUrl: broker.port === null ? null : addressOf('mqtt', host, broker.port),
    wsUrl: broker.wsPort === null ? null : addressOf('ws', host, broker.wsPort),
    mqttsUrl: broker.tlsPort === null ? null : addressOf('mqtts', host, broker.tlsPort),
    wssUrl: broker.wssPort === null ? null : addressOf('wss', host, broker.wssPort),
    publish: (...message) => broker.publish(...message),
    stats: () => {
      const { connections, packs, slowed, deniedConnections, deniedPublishes, commit } = broker.stats();
      return { connections, packs, slowed, refused: deniedConnections + deniedPublishes, commit };
    },
    notReady: () => [],
    close: async () => {
      unfollow();
      await broker.close();
    },
  };
}

/** The same over restarts on the same data, and another for every other server on the broker. */
function clientIdOf(dataDir: string): string {
  const digest = createHash('sha256')
    .update(`${hostname()}\n${resolve(dataDir)}`)
    .digest('hex');
  return `brimline-${digest.slice(0, 12)}`;
}

function addressOf(scheme: 'mqtt' | 'ws' | 'mqtts' | 'wss', host: string, port: number): string {
  return `${scheme}://${host.includes(':') ? `[${host}]` : host}:${port}`;
}
