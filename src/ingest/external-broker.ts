import { randomBytes } from 'node:crypto';
import type { SecureContextOptions } from 'node:tls';
import type { IPublishPacket, Packet } from 'mqtt-packet';
import { type IncomingPack, packTopic, type Recorder, sourceOf } from '../app/readings/record-readings.js';
import { DomainError } from '../domain/errors.js';
import type { NodeId } from '../domain/ids.js';
import type { Clock, Rng } from '../domain/ports/clock.js';
import type { Log } from '../domain/ports/log.js';
import { mayBeOnePack } from './commit-faults.js';
import { cutPayload, type FrameLimits } from './frame-filter.js';
import { GroupCommit, type GroupCommitStats } from './group-commit.js';
import {
  type MqttConnection,
  openConnection,
  type ProtocolVersion,
  payloadOf,
  RefusedByBroker,
} from './mqtt-connection.js';
import { type NodeState, nodeStateOf } from './node-state.js';

export interface ExternalBrokerOptions {
  /** `mqtt://`, `mqtts://`, `ws://` or `wss://`, with user name and password where the broker asks for them. */
  readonly url: string;
  /** Names our session at the broker; must stay the same over restarts and differ between servers. */
  readonly clientId: string;
  /** `auto` begins with MQTT 5 and falls back to 3.1.1 where the broker does not speak it. */
  readonly protocol: 'auto' | ProtocolVersion;
  readonly recorder: Recorder;
  /** The business clock; it dates the receipt. */
  readonly clock: Clock;
  readonly log: Log;
  readonly rng: Rng;
  readonly maxPayloadBytes: number;
  /** Own certificate authority or client certificate, where needed. */
  readonly tls?: SecureContextOptions;
  readonly onNodeState?: (nodeId: NodeId, state: NodeState) => void;
  readonly backOff?: BackOff;
}

export interface BackOff {
  readonly firstMs: number;
  readonly longestMs: number;
}

export interface ExternalBrokerStats {
  readonly connected: boolean;
  readonly protocol: ProtocolVersion | null;
  readonly connects: number;
  readonly packs: number;
  readonly commit: GroupCommitStats;
  /** Why there is no connection; null while there is one. */
  readonly trouble: string | null;
}

export interface ExternalBroker {
  /** Publishes at QoS 1; resolves when the broker has it, also after a reconnect. */
  publish(topic: string, payload: string, options: { readonly retain: boolean }): Promise<void>;
  /** Resolves once we are subscribed, for the first time or again. */
  subscribed(): Promise<void>;
  stats(): ExternalBrokerStats;
  /** Finishes and acknowledges what it holds, then leaves; the session stays at the broker. */
  close(): Promise<void>;
}

const FILTERS = ['nodes/+/readings', 'nodes/+/state', 'sites/+/weather'] as const;
const KEEPALIVE_S = 30;
const CONNECT_TIMEOUT_MS = 15_000;
/** The broker keeps our session for so long while we are away, MQTT 5; 3.1.1 leaves that to the broker. */
const SESSION_EXPIRY_S = 7 * 86_400;
/** Four full commits may be on the way. */
const RECEIVE_MAXIMUM = 2_000;
/** Beyond this many held messages we stop reading, until half of them are settled. */
const PAUSE_ABOVE = 4_000;
const MAX_UNACKNOWLEDGED_PUBLISHES = 10_000;
const MAX_CONTROL_BYTES = 64 * 1024;
const KEPT_OF_LARGE_PAYLOAD_BYTES = 4 * 1024;
const MAX_PACKET_ID = 0xffff;
const DEFAULT_BACK_OFF: BackOff = { firstMs: 1_000, longestMs: 60_000 };

/**
 * Reads from a broker that somebody else runs. Our PUBACK for a message comes after the commit that stored it, and many
 * messages share a commit: usual client libraries hand over one message at a time, which would make one commit a
 * message (some 175/s), so this speaks the protocol itself, over `mqtt-packet`, and holds the PUBACKs of a batch.
 *
 * It connects in the background, and again with growing pauses whenever the connection is lost; the session at the
 * broker keeps what arrives meanwhile.
 *
 * @throws DomainError `invalid_input` for an address that cannot be used
 */
export function startExternalBroker(options: ExternalBrokerOptions): ExternalBroker {
  if (!URL.canParse(options.url) || !/^(mqtts?|tcp|ssl|wss?):$/.test(new URL(options.url).protocol)) {
    throw new DomainError(
      'invalid_input',
      `The broker's address “${options.url}” cannot be used; an address such as mqtt://localhost:1883 was expected.`,
    );
  }
  const reader = new Reader(options, new URL(options.url));
  reader.start();
  return reader;
}

interface PendingPublish {
  readonly packet: IPublishPacket;
  sent: boolean;
  readonly resolve: () => void;
}

class Reader implements ExternalBroker {
  readonly #options: ExternalBrokerOptions;
  readonly #url: URL;
  readonly #commit: GroupCommit<IncomingPack>;
  readonly #frameLimits: Omit<FrameLimits, 'firstByte' | 'protocolVersion'>;
  readonly #pending = new Map<number, PendingPublish>();
  #protocol: ProtocolVersion;
  #provenProtocol: ProtocolVersion | null = null;
  #connection: MqttConnection | null = null;
  #loop: Promise<void> | null = null;
  #wake: (() => void) | null = null;
  #closing = false;
  #everSubscribed = false;
  #subscribed = false;
  #onSubscribed: (() => void)[] = [];
  #trouble: string | null = 'not connected yet';
  #connects = 0;
  #packs = 0;
  #held = 0;
  #paused = false;
  #lastPacketId = 0;

  constructor(options: ExternalBrokerOptions, url: URL) {
    this.#options = options;
    this.#url = url;
    this.#protocol = options.protocol === 'auto' ? 5 : options.protocol;
    this.#commit = new GroupCommit((packs) => options.recorder.record(packs), mayBeOnePack);
    this.#frameLimits = {
      maxPayloadBytes: options.maxPayloadBytes,
      maxControlBytes: MAX_CONTROL_BYTES,
      keptBytes: KEPT_OF_LARGE_PAYLOAD_BYTES,
      marker: randomBytes(16),
    };
  }

  start(): void {
    this.#loop = this.#run();
  }

  publish(topic: string, payload: string, { retain }: { readonly retain: boolean }): Promise<void> {
    if (this.#pending.size >= MAX_UNACKNOWLEDGED_PUBLISHES) {
      return Promise.reject(new Error(`${this.#pending.size} messages already wait for the broker`));
    }
    const messageId = this.#freePacketId();
    const packet: IPublishPacket = {
      cmd: 'publish',
      topic,
      payload: Buffer.from(payload),
      qos: 1,
      retain,
      dup: false,
      messageId,
    };
    return new Promise((resolve) => {
      const pending: PendingPublish = { packet, sent: false, resolve };
      this.#pending.set(messageId, pending);
      if (this.#connection !== null) this.#sendPending(pending, this.#connection);
    });
  }

  subscribed(): Promise<void> {
    if (this.#subscribed) return Promise.resolve();
    return new Promise((resolve) => this.#onSubscribed.push(resolve));
  }

  stats(): ExternalBrokerStats {
    return {
      connected: this.#connection !== null,
      protocol: this.#connection === null ? null : this.#protocol,
      connects: this.#connects,
      packs: this.#packs,
      commit: this.#commit.stats(),
      trouble: this.#trouble,
    };
  }

  async close(): Promise<void> {
    this.#closing = true;
    this.#connection?.pause();
    await this.#commit.drain();
    await this.#connection?.end();
    this.#wake?.();
    await this.#loop;
  }

  /** Connects, serves the connection to its end, waits, and so on until closed. */
  async #run(): Promise<void> {
    const backOff = this.#options.backOff ?? DEFAULT_BACK_OFF;
    let pauseMs = backOff.firstMs;
    while (!this.#closing) {
      const outcome = await this.#serve();
      if (this.#closing) return;
      // A version that worked once is not to blame for a broker that was away.
      const mayFallBack = this.#options.protocol === 'auto' && this.#provenProtocol === null && this.#protocol === 5;
      if (outcome.versionRefused && mayFallBack) {
        this.#options.log.info({}, 'the broker does not speak MQTT 5; trying 3.1.1');
        this.#protocol = 4;
        continue;
      }
      if (this.#options.protocol === 'auto') this.#protocol = this.#provenProtocol ?? 5;
      pauseMs = outcome.served ? backOff.firstMs : Math.min(pauseMs * 2, backOff.longestMs);
      this.#trouble = outcome.reason;
      this.#options.log.warn(
        { broker: this.#url.host, reason: outcome.reason, pauseMs },
        'not connected to the broker',
      );
      // Half of it is chance, so that many servers do not come back at once.
      await this.#sleep(pauseMs * (0.5 + this.#options.rng() / 2));
    }
  }

  async #serve(): Promise<{ readonly served: boolean; readonly versionRefused: boolean; readonly reason: string }> {
    let ended: (reason: string) => void = () => {};
    const end = new Promise<string>((resolve) => {
      ended = resolve;
    });
    try {
      await openConnection({
        url: this.#url,
        protocolVersion: this.#protocol,
        clientId: this.#options.clientId,
        keepaliveS: KEEPALIVE_S,
        connectTimeoutMs: CONNECT_TIMEOUT_MS,
        sessionExpiryS: SESSION_EXPIRY_S,
        receiveMaximum: RECEIVE_MAXIMUM,
        tls: this.#options.tls ?? {},
        frameLimits: this.#frameLimits,
        onWelcome: (connection) => this.#begin(connection),
        onPacket: (packet) => this.#receive(packet),
        onClosed: ended,
      });
    } catch (error) {
      const versionRefused = error instanceof RefusedByBroker && error.versionRefused;
      return { served: false, versionRefused, reason: error instanceof Error ? error.message : String(error) };
    }
    const reason = await end;
    this.#connection = null;
    this.#subscribed = false;
    return { served: true, versionRefused: false, reason };
  }

  #begin(connection: MqttConnection): void {
    this.#connection = connection;
    this.#connects += 1;
    this.#trouble = null;
    this.#paused = false;
    this.#options.log.info(
      { broker: this.#url.host, protocol: this.#protocol, sessionPresent: connection.sessionPresent },
      'connected to the broker',
    );
    if (this.#closing) {
      connection.destroy('closing');
      return;
    }
    // A session that lasted still has our subscriptions; asking again would only bring the retained messages again.
    if (connection.sessionPresent && this.#everSubscribed) this.#isSubscribed();
    else connection.send(this.#subscribePacket());
    for (const pending of this.#pending.values()) this.#sendPending(pending, connection);
  }

  #subscribePacket(): Packet {
    const subscriptions = FILTERS.map((topic) =>
      this.#protocol === 5
        ? // Retained messages for a new subscription only; the retain flag then says that a message is old.
          { topic, qos: 1 as const, nl: false, rap: false, rh: 1 }
        : { topic, qos: 1 as const },
    );
    return { cmd: 'subscribe', messageId: this.#freePacketId(), subscriptions };
  }

  #receive(packet: Packet): void {
    switch (packet.cmd) {
      case 'publish':
        this.#take(packet);
        return;
      case 'suback': {
        const refused = FILTERS.filter((_filter, index) => Number(packet.granted[index]) >= 0x80);
        if (refused.length > 0)
          this.#connection?.destroy(`the broker refuses the subscription to ${refused.join(', ')}`);
        else this.#isSubscribed();
        return;
      }
      case 'puback': {
        const pending = this.#pending.get(packet.messageId ?? 0);
        this.#pending.delete(packet.messageId ?? 0);
        pending?.resolve();
        return;
      }
      default:
        this.#options.log.debug({ cmd: packet.cmd }, 'packet of the broker without a use here');
    }
  }

  #isSubscribed(): void {
    this.#subscribed = true;
    this.#provenProtocol = this.#protocol;
    this.#everSubscribed = true;
    for (const resolve of this.#onSubscribed.splice(0)) resolve();
  }

  #take(packet: IPublishPacket): void {
    const connection = this.#connection;
    if (connection === null || this.#closing) return;
    const payload = payloadOf(packet);
    const topic = packTopic(packet.topic);
    const acknowledge = (): void => {
      // A packet id means nothing on another connection: there the broker sends the message again.
      if (packet.qos === 1 && packet.messageId !== undefined && this.#connection === connection) {
        connection.send({ cmd: 'puback', messageId: packet.messageId });
      }
    };
    if (topic === null) {
      const state = nodeStateOf(packet.topic, payload);
      if (state !== null) this.#options.onNodeState?.(state.nodeId, state.state);
      else this.#options.log.warn({ topic: packet.topic.slice(0, 200) }, 'message of the broker without a use here');
      acknowledge();
      return;
    }
    this.#packs += 1;
    this.#hold(connection);
    const cut = cutPayload(payload, { marker: this.#frameLimits.marker });
    const pack: IncomingPack = {
      ...topic,
      source: sourceOf(packet.topic, packet.retain),
      receivedMs: this.#options.clock.nowMs(),
      payload: cut?.kept ?? payload,
      cutFromBytes: cut?.bytes ?? null,
      contentType: packet.properties?.contentType ?? null,
      retained: packet.retain,
    };
    this.#commit.add(pack, (error) => {
      this.#release();
      if (error === null) {
        acknowledge();
        return;
      }
      this.#options.log.error({ err: error, topic: packet.topic }, 'readings could not be stored');
      // Without a PUBACK the broker sends it again, but only on a new connection.
      if (this.#connection === connection) connection.destroy('readings could not be stored');
    });
  }

  #hold(connection: MqttConnection): void {
    this.#held += 1;
    if (this.#held > PAUSE_ABOVE && !this.#paused) {
      this.#paused = true;
      connection.pause();
    }
  }

  #release(): void {
    this.#held -= 1;
    if (this.#paused && this.#held < PAUSE_ABOVE / 2 && !this.#closing) {
      this.#paused = false;
      this.#connection?.resume();
    }
  }

  #sendPending(pending: PendingPublish, connection: MqttConnection): void {
    connection.send({ ...pending.packet, dup: pending.sent });
    pending.sent = true;
  }

  #freePacketId(): number {
    do {
      this.#lastPacketId = (this.#lastPacketId % MAX_PACKET_ID) + 1;
    } while (this.#pending.has(this.#lastPacketId));
    return this.#lastPacketId;
  }

  #sleep(ms: number): Promise<void> {
    return new Promise((resolve) => {
      const timer = setTimeout(resolve, ms);
      this.#wake = () => {
        clearTimeout(timer);
        resolve();
      };
    });
  }
}
