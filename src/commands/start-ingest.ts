import type { App } from '../app/context.js';
import { DEFAULT_MAX_PAYLOAD_BYTES, Recorder } from '../app/record-readings.js';
import type { MqttSettings } from '../config.js';
import type { Log } from '../domain/ports/log.js';
import { makeAuthenticator } from '../ingest/authenticator.js';
import { DEFAULT_MAX_CONNECTIONS, type EmbeddedBroker, startEmbeddedBroker } from '../ingest/embedded-broker.js';

/** The way in for readings, whichever broker stands before it. */
export interface Ingest {
  /** Of the embedded broker; null where an external one is read. */
  readonly mqttUrl: string | null;
  readonly wsUrl: string | null;
  readonly broker: EmbeddedBroker;
  /** What keeps readings from coming in, in words. */
  notReady(): readonly string[];
  /** Finishes and acknowledges what it holds. */
  close(): Promise<void>;
}

export async function startIngest(app: App, settings: MqttSettings, log: Log): Promise<Ingest> {
  const { host, port, wsPort, open } = settings;
  const recorder = new Recorder({ store: app.store, clock: app.clock, maxPayloadBytes: DEFAULT_MAX_PAYLOAD_BYTES });
  const broker = await startEmbeddedBroker({
    host,
    port,
    wsPort,
    open,
    authenticate: makeAuthenticator(app.store),
    recorder,
    clock: app.clock,
    log,
    maxPayloadBytes: DEFAULT_MAX_PAYLOAD_BYTES,
    maxConnections: DEFAULT_MAX_CONNECTIONS,
  });
  return {
    mqttUrl: broker.port === null ? null : addressOf('mqtt', host, broker.port),
    wsUrl: broker.wsPort === null ? null : addressOf('ws', host, broker.wsPort),
    broker,
    notReady: () => [],
    close: () => broker.close(),
  };
}

function addressOf(scheme: 'mqtt' | 'ws', host: string, port: number): string {
  return `${scheme}://${host.includes(':') ? `[${host}]` : host}:${port}`;
}
