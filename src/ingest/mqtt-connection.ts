import { connect as connectTcp, isIP } from 'node:net';
import type { Duplex } from 'node:stream';
import { connect as connectTls, type SecureContextOptions } from 'node:tls';
import mqttPacket, { type IConnackPacket, type IPublishPacket, type Packet } from 'mqtt-packet';
import { createWebSocketStream, WebSocket } from 'ws';
import { CONNACK, FrameFilter, type FrameLimits } from './frame-filter.js';

export type ProtocolVersion = 4 | 5;

export interface ConnectionOptions {
  readonly url: URL;
  readonly protocolVersion: ProtocolVersion;
  readonly clientId: string;
  readonly keepaliveS: number;
  readonly connectTimeoutMs: number;
  readonly sessionExpiryS: number;
  /** MQTT 5: so many unacknowledged messages may be on the way to us. */
  readonly receiveMaximum: number;
  readonly tls: SecureContextOptions;
  readonly frameLimits: Omit<FrameLimits, 'firstByte' | 'protocolVersion'>;
  /**
   * Called at the broker's welcome, before any packet that came with it: a broker sends what it kept for us in the same
   * breath.
   */
  onWelcome(connection: MqttConnection): void;
  onPacket(packet: Packet): void;
  /** Called once, whatever ended the connection; before the log-in it rejects {@link openConnection} instead. */
  onClosed(reason: string): void;
}

/** Why a broker did not let us in. */
export class RefusedByBroker extends Error {
  override readonly name = 'RefusedByBroker';
  /** The broker does not speak this version of the protocol, or hung up without a word, as some do then. */
  readonly versionRefused: boolean;

  constructor(message: string, versionRefused: boolean) {
    super(message);
    this.versionRefused = versionRefused;
  }
}

export interface MqttConnection {
  readonly sessionPresent: boolean;
  send(packet: Packet): void;
  /** Stops and starts taking bytes from the broker. */
  pause(): void;
  resume(): void;
  /** Says good-bye, so that the last will stays unsaid, and hangs up. */
  end(): Promise<void>;
  destroy(reason: string): void;
}

const DEFAULT_PORTS: Readonly<Record<string, number>> = {
  'mqtt:': 1883,
  'tcp:': 1883,
  'mqtts:': 8883,
  'ssl:': 8883,
};
/** CONNACK return codes that mean "not this version": 1 in MQTT 3.1.1, 0x84 in MQTT 5. */
const UNACCEPTABLE_VERSION: ReadonlySet<number> = new Set([1, 0x84]);
const CONNACK_WORDS: Readonly<Record<number, string>> = {
  1: 'it does not speak this version of MQTT',
  2: 'it does not take the client id',
  3: 'it is not available now',
  4: 'user name or password is wrong',
  5: 'this user may not connect',
  132: 'it does not speak this version of MQTT',
  133: 'it does not take the client id',
  134: 'user name or password is wrong',
  135: 'this user may not connect',
  136: 'it is not available now',
  137: 'it is busy',
  138: 'it has banned us',
};

/**
 * Opens a connection to a broker and logs in with a session that outlives it; resolves at the broker's welcome.
 * @throws RefusedByBroker where the broker says no, Error where it cannot be reached in time
 */
export function openConnection(options: ConnectionOptions): Promise<void> {
  return new Connection(options).logIn();
}

class Connection implements MqttConnection {
  sessionPresent = false;
  readonly #options: ConnectionOptions;
  readonly #stream: Duplex;
  readonly #parser;
  readonly #filter: FrameFilter;
  #loggedIn = false;
  #closed = false;
  #sawBytes = false;
  #pingTimer: NodeJS.Timeout | null = null;
  #awaitingPing = false;
  #reason: string | null = null;
  #onLogIn: ((error: Error | null) => void) | null = null;

  constructor(options: ConnectionOptions) {
    this.#options = options;
    const { protocolVersion } = options;
    this.#filter = new FrameFilter({ ...options.frameLimits, firstByte: CONNACK, protocolVersion });
    this.#parser = mqttPacket.parser({ protocolVersion });
    this.#parser.on('packet', (packet) => this.#receive(packet));
    this.#parser.on('error', (error: Error) => this.destroy(`the broker's packet cannot be read: ${error.message}`));
    this.#stream = openStream(options.url, options.tls);
    this.#stream.on('data', (chunk: Buffer) => this.#take(chunk));
    this.#stream.on('error', (error) => {
      this.#reason ??= error.message || ('code' in error ? String(error.code) : 'the connection failed');
    });
    this.#stream.on('close', () => this.#finish());
  }

  logIn(): Promise<void> {
    return new Promise((resolve, reject) => {
      const timer = setTimeout(() => this.destroy('the broker did not answer in time'), this.#options.connectTimeoutMs);
      this.#onLogIn = (error) => {
        clearTimeout(timer);
        this.#onLogIn = null;
        if (error === null) resolve();
        else reject(error);
      };
      this.send(connectPacket(this.#options));
    });
  }

  send(packet: Packet): void {
    if (this.#closed) return;
    this.#stream.write(mqttPacket.generate(packet, { protocolVersion: this.#options.protocolVersion }));
  }

  pause(): void {
    this.#stream.pause();
  }

  resume(): void {
    this.#stream.resume();
  }

  end(): Promise<void> {
    if (this.#closed) return Promise.resolve();
    this.#reason ??= 'closed by us';
    return new Promise((resolve) => {
      this.#stream.once('close', () => resolve());
      this.send({ cmd: 'disconnect' });
      this.#stream.end(() => this.#stream.destroy());
    });
  }

  destroy(reason: string): void {
    this.#reason ??= reason;
    this.#stream.destroy();
  }

  #take(chunk: Buffer): void {
    this.#sawBytes = true;
    try {
      this.#parser.parse(this.#filter.filter(chunk));
    } catch (error) {
      this.destroy(error instanceof Error ? error.message : String(error));
    }
  }

  #receive(packet: Packet): void {
    if (packet.cmd === 'connack') {
      this.#welcome(packet);
    } else if (packet.cmd === 'pingresp') {
      this.#awaitingPing = false;
    } else if (packet.cmd === 'disconnect') {
      const code = packet.reasonCode ?? 0;
      const words = code === 0x8e ? 'another connection took over our client id' : `reason 0x${code.toString(16)}`;
      this.destroy(`the broker hung up: ${words}`);
    } else if (this.#loggedIn) {
      this.#options.onPacket(packet);
    }
  }

  #welcome(packet: IConnackPacket): void {
    const code = packet.reasonCode ?? packet.returnCode ?? 0;
    if (code !== 0) {
      const words = CONNACK_WORDS[code] ?? `code ${code}`;
      this.#onLogIn?.(new RefusedByBroker(`the broker refused us: ${words}`, UNACCEPTABLE_VERSION.has(code)));
      this.destroy(words);
      return;
    }
    this.#loggedIn = true;
    this.sessionPresent = packet.sessionPresent;
    const keepaliveS = packet.properties?.serverKeepAlive ?? this.#options.keepaliveS;
    this.#pingTimer = setInterval(() => this.#ping(), (keepaliveS * 1000) / 2);
    this.#onLogIn?.(null);
    this.#options.onWelcome(this);
  }

  #ping(): void {
    if (this.#awaitingPing) {
      this.destroy('the broker no longer answers');
      return;
    }
    this.#awaitingPing = true;
    this.send({ cmd: 'pingreq' });
  }

  #finish(): void {
    if (this.#closed) return;
    this.#closed = true;
    if (this.#pingTimer !== null) clearInterval(this.#pingTimer);
    const reason = this.#reason ?? 'the broker hung up';
    if (this.#loggedIn) this.#options.onClosed(reason);
    // A broker that knows 3.1.1 only may answer version 5 with a packet that cannot be read, or by hanging up.
    else this.#onLogIn?.(new RefusedByBroker(reason, this.#sawBytes || this.#reason === null));
  }
}

function openStream(url: URL, tls: SecureContextOptions): Duplex {
  const host = url.hostname.replace(/^\[(.*)\]$/, '$1');
  const port = url.port === '' ? DEFAULT_PORTS[url.protocol] : Number(url.port);
  switch (url.protocol) {
    case 'mqtts:':
    case 'ssl:':
      return connectTls({ host, port, ...(isIP(host) === 0 ? { servername: host } : {}), ...tls });
    case 'ws:':
    case 'wss:': {
      const address = new URL(url);
      address.username = '';
      address.password = '';
      return createWebSocketStream(new WebSocket(address, 'mqtt', { ...tls, perMessageDeflate: false }));
    }
    default:
      return connectTcp({ host, port: port ?? 1883, noDelay: true });
  }
}

function connectPacket(options: ConnectionOptions): Packet {
  const { url, clientId, keepaliveS, protocolVersion } = options;
  const credentials = {
    ...(url.username === '' ? {} : { username: decodeURIComponent(url.username) }),
    ...(url.password === '' ? {} : { password: Buffer.from(decodeURIComponent(url.password)) }),
  };
  const common = {
    cmd: 'connect',
    protocolId: 'MQTT',
    clean: false,
    clientId,
    keepalive: keepaliveS,
    ...credentials,
  } as const;
  if (protocolVersion === 4) return { ...common, protocolVersion };
  const { sessionExpiryS: sessionExpiryInterval, receiveMaximum } = options;
  return { ...common, protocolVersion, properties: { sessionExpiryInterval, receiveMaximum } };
}

/** A PUBLISH as its bytes came. */
export function payloadOf(packet: IPublishPacket): Buffer {
  return Buffer.isBuffer(packet.payload) ? packet.payload : Buffer.from(packet.payload);
}
