import { randomBytes } from 'node:crypto';
import type { Socket } from 'node:net';
import type { Duplex } from 'node:stream';
import { Aedes, type AuthenticateError, type Client, type PublishPacket } from 'aedes';
import { type IncomingPack, packTopic, type Recorder, sourceOf } from '../app/readings/record-readings.js';
import { DomainError } from '../domain/errors.js';
import type { NodeId } from '../domain/ids.js';
import type { Clock } from '../domain/ports/clock.js';
import type { Log } from '../domain/ports/log.js';
import type { Authenticate, ByCertificate, StillValid } from './authenticator.js';
import { BrokerDoors, type Certificates, nameInCertificate } from './broker-doors.js';
import { mayBeOnePack } from './commit-faults.js';
import { CONNECT, cutPayload, FrameFilter, type FrameLimits } from './frame-filter.js';
import { GroupCommit, type GroupCommitStats } from './group-commit.js';
import { isLoopback } from './listen.js';
import { type NodeState, nodeStateOf } from './node-state.js';
import { type PrincipalLimits, PrincipalThrottle } from './principal-throttle.js';
import { type MqttPrincipal, mayPublish, maySubscribe, nodeOfTopic } from './topic-rules.js';

export interface EmbeddedBrokerOptions {
  /** Address to listen on. */
  readonly host: string;
  /** 0 takes any free port; null listens on none. */
  readonly port: number | null;
  /** MQTT over WebSocket. */
  readonly wsPort: number | null;
  /** Takes clients without credentials, on loopback only. */
  readonly open: boolean;
  readonly authenticate: Authenticate;
  /** Listeners over TLS beside the others; left out: none. */
  readonly tls?: BrokerTls;
  /** Left out: nobody is slowed. */
  readonly limits?: PrincipalLimits;
  /** Asked now and then of every connection; left out: what opened one keeps it open. */
  readonly stillValid?: StillValid;
  readonly recorder: Recorder;
  /** The business clock; it dates the receipt. */
  readonly clock: Clock;
  readonly log: Log;
  readonly maxPayloadBytes: number;
  readonly maxConnections: number;
  /** Hears what a node, or its last will, says about its connection. */
  readonly onNodeState?: (nodeId: NodeId, state: NodeState) => void;
}

export interface BrokerTls extends Certificates {
  readonly byCertificate: ByCertificate;
  /** 0 takes any free port; null listens on none. */
  readonly port: number | null;
  readonly wsPort: number | null;
}

export interface BrokerStats {
  readonly connections: number;
  /** Messages that had to wait because their sender sent too much. */
  readonly slowed: number;
  /** Messages with a pack taken in, stored or not yet. */
  readonly packs: number;
  readonly deniedPublishes: number;
  readonly deniedConnections: number;
  readonly commit: GroupCommitStats;
}

export interface EmbeddedBroker {
  /** The ports in use; null where it does not listen. */
  readonly port: number | null;
  readonly wsPort: number | null;
  readonly tlsPort: number | null;
  readonly wssPort: number | null;
  /** Publishes for the rest of the program: settings of nodes (retained), events. */
  publish(topic: string, payload: string, options: { readonly retain: boolean }): Promise<void>;
  stats(): BrokerStats;
  /** Ends the connections that what they were opened with would no longer open. */
  recheck(): Promise<void>;
  /** New connections over TLS are shown this certificate from now on. */
  renewTls(certificates: Certificates): void;
  /** Stops listening, finishes and acknowledges what it holds, then closes the connections. */
  close(): Promise<void>;
}

export const DEFAULT_MAX_CONNECTIONS = 10_000;

/** A CONNECT with a last will is some hundred bytes; nobody is logged in yet when it arrives. */
const MAX_CONTROL_BYTES = 64 * 1024;
const KEPT_OF_LARGE_PAYLOAD_BYTES = 4 * 1024;
const BAD_USER_NAME_OR_PASSWORD = 4;
const RECHECK_MS = 5_000;

const ANYONE: MqttPrincipal = { id: 'anyone', kind: 'anyone', siteId: null };

/**
 * Starts the broker in this process: MQTT 3.1.1 over TCP and WebSocket. A PUBACK means that the reading is stored: the
 * publish is held in `authorizePublish`, the only hook before the PUBACK, until its batch is committed.
 *
 * @throws DomainError `port_in_use`, or `open_mode_not_loopback` where open mode would reach beyond this machine
 */
export async function startEmbeddedBroker(options: EmbeddedBrokerOptions): Promise<EmbeddedBroker> {
  if (options.open && !isLoopback(options.host)) {
    throw new DomainError(
      'open_mode_not_loopback',
      `Without credentials MQTT is taken on this machine only, but it would listen on ${options.host}. Make credentials with “brimline node add”, or listen on 127.0.0.1.`,
    );
  }
  const broker = new Broker(options);
  await broker.start();
  return broker;
}

class Broker implements EmbeddedBroker {
  port: number | null = null;
  wsPort: number | null = null;
  tlsPort: number | null = null;
  wssPort: number | null = null;
  readonly #options: EmbeddedBrokerOptions;
  readonly #aedes: Aedes;
  readonly #doors: BrokerDoors;
  readonly #commit: GroupCommit<IncomingPack>;
  readonly #frameLimits: FrameLimits;
  readonly #principals = new WeakMap<Client, MqttPrincipal>();
  /** Connections that are logged in, the oldest first. */
  readonly #clients = new Map<string, Client[]>();
  readonly #throttle: PrincipalThrottle | null;
  #recheckTimer: NodeJS.Timeout | null = null;
  /** Whom the certificate of a connection names. */
  readonly #certificates = new WeakMap<object, string>();
  #closing = false;
  #packs = 0;
  #deniedPublishes = 0;
  #deniedConnections = 0;

  constructor(options: EmbeddedBrokerOptions) {
    this.#options = options;
    const { host, maxConnections, log } = options;
    this.#doors = new BrokerDoors({
      host,
      maxConnections,
      log,
      onStream: (stream, socket) => this.#handle(stream, socket),
    });
    this.#throttle = options.limits === undefined ? null : new PrincipalThrottle(options.limits);
    this.#commit = new GroupCommit((packs) => options.recorder.record(packs), mayBeOnePack);
    this.#frameLimits = {
      maxPayloadBytes: options.maxPayloadBytes,
      maxControlBytes: MAX_CONTROL_BYTES,
      firstByte: CONNECT,
      protocolVersion: 4,
      keptBytes: KEPT_OF_LARGE_PAYLOAD_BYTES,
      marker: randomBytes(16),
    };
    this.#aedes = new Aedes({
      // Ids are made longer in preConnect; the limit of MQTT 3.1 would refuse them.
      maxClientsIdLength: 256,
      preConnect: (_client, packet, done) => {
        // Sessions belong to a principal: nobody can take over another's connection by choosing its client id.
        if (packet.clientId !== '') packet.clientId = `${packet.username ?? ''}|${packet.clientId}`;
        done(null, true);
      },
      authenticate: (client, userName, password, done) => this.#authenticate(client, userName, password, done),
      authorizePublish: (client, packet, done) => this.#authorizePublish(client, packet, done),
      authorizeSubscribe: (client, subscription, done) => {
        const who = this.#principals.get(client);
        const allowed = who !== undefined && maySubscribe(who, subscription.topic);
        if (!allowed) options.log.warn({ principal: who?.id, filter: subscription.topic }, 'subscription refused');
        done(null, allowed ? subscription : null);
      },
    });
    this.#aedes.on('clientError', (client, error) => {
      options.log.info({ principal: this.#principals.get(client)?.id, reason: error.message }, 'MQTT client dropped');
    });
    this.#aedes.on('clientDisconnect', (client) => this.#left(client));
    this.#aedes.on('connectionError', (_client, error) => {
      options.log.info({ reason: error.message }, 'MQTT connection dropped before its log-in');
    });
  }

  async start(): Promise<void> {
    const { port, wsPort, tls } = this.#options;
    await this.#aedes.listen();
    try {
      await this.#options.recorder.directory.refresh();
      if (port !== null) this.port = await this.#doors.tcp(port);
      if (wsPort !== null) this.wsPort = await this.#doors.webSocket(wsPort);
      if (tls !== undefined && tls.port !== null) this.tlsPort = await this.#doors.tls(tls.port, tls);
      if (tls !== undefined && tls.wsPort !== null) this.wssPort = await this.#doors.webSocketTls(tls.wsPort, tls);
      if (this.#options.stillValid !== undefined) {
        this.#recheckTimer = setInterval(() => {
          this.#throttle?.forgetFull(performance.now());
          this.recheck().catch((error: unknown) => {
            this.#options.log.error({ err: error }, 'credentials of open connections could not be checked');
          });
        }, RECHECK_MS);
      }
    } catch (error) {
      await this.close();
      throw error;
    }
  }

  publish(topic: string, payload: string, { retain }: { readonly retain: boolean }): Promise<void> {
    const packet: PublishPacket = {
      cmd: 'publish',
      topic,
      payload: Buffer.from(payload),
      qos: 1,
      retain,
      dup: false,
    };
    return new Promise((resolve, reject) => {
      this.#aedes.publish(packet, (error) => (error === undefined || error === null ? resolve() : reject(error)));
    });
  }

  stats(): BrokerStats {
    return {
      connections: this.#aedes.connectedClients,
      slowed: this.#throttle?.slowed ?? 0,
      packs: this.#packs,
      deniedPublishes: this.#deniedPublishes,
      deniedConnections: this.#deniedConnections + this.#doors.turnedAway,
      commit: this.#commit.stats(),
    };
  }

  async recheck(): Promise<void> {
    const { stillValid, log } = this.#options;
    if (stillValid === undefined) return;
    for (const client of [...this.#clients.values()].flat()) {
      const who = this.#principals.get(client);
      if (who === undefined || (await stillValid(who))) continue;
      log.warn({ principal: who.id }, 'MQTT connection ended: its credentials were replaced or revoked');
      client.close();
    }
  }

  renewTls(certificates: Certificates): void {
    this.#doors.renewTls(certificates);
  }

  async close(): Promise<void> {
    if (this.#closing) return;
    this.#closing = true;
    if (this.#recheckTimer !== null) clearInterval(this.#recheckTimer);
    const { ended } = this.#doors.shut();
    await this.#commit.drain();
    // The acknowledgements were written in the turn that settled them; let the sockets take them.
    await new Promise<void>((resolve) => setImmediate(resolve));
    await new Promise<void>((resolve) => this.#aedes.close(() => resolve()));
    this.#doors.clear();
    await ended;
  }

  /** Of a principal's connections only the newest few stay: the older ones are most often half-open. */
  #joined(client: Client, who: MqttPrincipal): void {
    this.#principals.set(client, who);
    if (who.kind === 'anyone') return;
    const open = [...(this.#clients.get(who.id) ?? []), client];
    this.#clients.set(who.id, open);
    const most = this.#options.limits?.connections ?? Number.POSITIVE_INFINITY;
    for (const oldest of open.slice(0, Math.max(0, open.length - most))) {
      this.#options.log.warn({ principal: who.id, most }, 'oldest MQTT connection ended: the principal has too many');
      this.#left(oldest);
      oldest.close();
    }
  }

  #left(client: Client): void {
    const who = this.#principals.get(client);
    if (who === undefined) return;
    const rest = (this.#clients.get(who.id) ?? []).filter((one) => one !== client);
    if (rest.length === 0) this.#clients.delete(who.id);
    else this.#clients.set(who.id, rest);
  }

  #handle(stream: Duplex, socket: Socket): void {
    const named = nameInCertificate(socket);
    if (named !== null) this.#certificates.set(stream, named);
    const filter = new FrameFilter(this.#frameLimits);
    const read = stream.read.bind(stream);
    // aedes takes its bytes by read(), so this is the place before its parser.
    stream.read = (size?: number): unknown => {
      const chunk: unknown = read(size);
      if (!(chunk instanceof Buffer)) return chunk;
      try {
        const passed = filter.filter(chunk);
        return passed.length === 0 ? null : passed;
      } catch (error) {
        const reason = error instanceof Error ? error.message : String(error);
        this.#options.log.warn({ from: socket.remoteAddress, reason }, 'MQTT connection refused');
        this.#deniedConnections += 1;
        stream.destroy();
        return null;
      }
    };
    this.#aedes.handle(stream);
  }

  #authenticate(
    client: Client,
    userName: string | undefined,
    password: Buffer | undefined,
    done: (error: AuthenticateError | null, success: boolean | null) => void,
  ): void {
    const refuse = (): void => {
      this.#deniedConnections += 1;
      this.#options.log.warn({ userName: userName?.slice(0, 64) }, 'MQTT log-in refused');
      done(Object.assign(new Error('wrong user name or password'), { returnCode: BAD_USER_NAME_OR_PASSWORD }), null);
    };
    const accept = (who: MqttPrincipal): void => {
      this.#joined(client, who);
      done(null, true);
    };
    const named = this.#certificates.get(client.conn) ?? null;
    if (named !== null && password === undefined && (userName ?? named) === named) {
      this.#options.tls?.byCertificate(named).then(
        (who) => (who === null ? refuse() : accept(who)),
        (error: unknown) => {
          this.#options.log.error({ err: error, userName: named }, 'MQTT certificate could not be checked');
          refuse();
        },
      );
      return;
    }
    if (userName === undefined || password === undefined) {
      if (this.#options.open) accept(ANYONE);
      else refuse();
      return;
    }
    this.#options.authenticate(userName, password.toString('utf8')).then(
      (who) => {
        if (who !== null) accept(who);
        else if (this.#options.open) accept(ANYONE);
        else refuse();
      },
      (error: unknown) => {
        this.#options.log.error({ err: error, userName: userName.slice(0, 64) }, 'MQTT log-in could not be checked');
        refuse();
      },
    );
  }

  #authorizePublish(client: Client | null, packet: PublishPacket, done: (error?: Error | null) => void): void {
    const who = client === null ? undefined : this.#principals.get(client);
    if (who === undefined) {
      done(new Error('a publish of nobody'));
      return;
    }
    const gatewayOf = (nodeId: NodeId) => this.#options.recorder.directory.node(nodeId)?.gatewayId ?? null;
    if (mayPublish(who, packet.topic, gatewayOf)) {
      this.#takeInTime(who, packet, done);
      return;
    }
    const deny = (): void => {
      this.#deniedPublishes += 1;
      this.#options.log.warn({ principal: who.id, topic: packet.topic.slice(0, 200) }, 'publish refused');
      // MQTT 3.1.1 knows no refusal of a publish; an acknowledgement would say that it was stored.
      done(new Error(`${who.kind} ${who.id} may not publish to ${packet.topic.slice(0, 200)}`));
    };
    if (who.kind !== 'gateway' || nodeOfTopic(packet.topic) === null) {
      deny();
      return;
    }
    // The node may have been given to this gateway a moment ago.
    this.#options.recorder.directory.refresh().then(
      () => (mayPublish(who, packet.topic, gatewayOf) ? this.#takeInTime(who, packet, done) : deny()),
      (error: unknown) => done(error instanceof Error ? error : new Error(String(error))),
    );
  }

  /** aedes reads on from a connection only when all it has read of it is done: a wait here slows this sender alone. */
  #takeInTime(who: MqttPrincipal, packet: PublishPacket, done: (error?: Error | null) => void): void {
    const waitMs = this.#throttle?.waitMs(who, packet.payload.length, performance.now()) ?? 0;
    if (waitMs <= 0) this.#take(packet, done);
    else setTimeout(() => this.#take(packet, done), waitMs).unref();
  }

  #take(packet: PublishPacket, done: (error?: Error | null) => void): void {
    const topic = packTopic(packet.topic);
    const payload = Buffer.isBuffer(packet.payload) ? packet.payload : Buffer.from(packet.payload);
    if (topic === null) {
      this.#takeOther(packet, payload, done);
      return;
    }
    // Held without an answer: the client sends it again once a server is back.
    if (this.#closing) return;
    this.#packs += 1;
    // Nobody subscribes to readings, and a retained one would be sent out again with an age that nobody knows.
    packet.retain = false;
    const cut = cutPayload(payload, this.#frameLimits);
    const pack: IncomingPack = {
      ...topic,
      source: sourceOf(packet.topic, false),
      receivedMs: this.#options.clock.nowMs(),
      payload: cut?.kept ?? payload,
      cutFromBytes: cut?.bytes ?? null,
      contentType: packet.properties?.contentType ?? null,
      retained: false,
    };
    this.#commit.add(pack, (error) => {
      if (error !== null) this.#options.log.error({ err: error, topic: packet.topic }, 'readings could not be stored');
      done(error);
    });
  }

  /** What a node says beside its readings; only its state is kept, by the broker. */
  #takeOther(packet: PublishPacket, payload: Buffer, done: (error?: Error | null) => void): void {
    const state = nodeStateOf(packet.topic, payload);
    if (state !== null) {
      this.#options.onNodeState?.(state.nodeId, state.state);
    } else {
      packet.retain = false;
      this.#options.log.debug({ topic: packet.topic.slice(0, 200) }, 'message without a use here');
    }
    done(null);
  }
}
