import { connect, type Socket } from 'node:net';
import mqttPacket from 'mqtt-packet';

/** One reading of a storm: the value follows from node and number, so that a stored row can be checked by itself. */
export interface StormReading {
  readonly nodeId: string;
  readonly timeMs: number;
  readonly levelMm: number;
}

const STORM_START_MS = Date.UTC(2026, 4, 1);

export function stormReading(nodeId: string, number: number): StormReading {
  return { nodeId, timeMs: STORM_START_MS + number * 1_000, levelMm: (number * 37 + nodeId.length * 101) % 3_000 };
}

export function stormPayload({ timeMs, levelMm }: StormReading): string {
  return `[{"n":"level","u":"mm","t":${timeMs / 1000},"v":${levelMm}}]`;
}

/**
 * A node that publishes as fast as it is acknowledged, with a window of messages on the way, over a socket of its own.
 * What was not acknowledged when a connection ended is sent again on the next one, as MQTT asks of it.
 */
export class StormClient {
  readonly nodeId: string;
  /** In the order of their acknowledgement. */
  readonly acknowledged: StormReading[] = [];
  /** By when each of these was acknowledged, on the machine's clock. */
  readonly acknowledgedMs: number[] = [];
  readonly #window: number;
  readonly #limit: number;
  readonly #readingOf: (nodeId: string, number: number) => StormReading;
  #next = 0;
  #inFlight = new Map<number, StormReading>();
  #again: StormReading[] = [];
  #socket: Socket | null = null;
  #lastPacketId = 0;
  #onDone: (() => void) | null = null;

  /**
   * @param limit stops after so many messages
   * @param readingOf what it publishes as its number 0, 1, 2, ...; the same each time it is asked
   */
  constructor(
    nodeId: string,
    window: number,
    limit = Number.POSITIVE_INFINITY,
    readingOf: (nodeId: string, number: number) => StormReading = stormReading,
  ) {
    this.nodeId = nodeId;
    this.#window = window;
    this.#limit = limit;
    this.#readingOf = readingOf;
  }

  get inFlight(): number {
    return this.#inFlight.size;
  }

  /** Resolves when all of `limit` are acknowledged. */
  done(): Promise<void> {
    return new Promise((resolve) => {
      this.#onDone = resolve;
    });
  }

  /** Connects and publishes until the connection ends; resolves then. */
  run(port: number): Promise<void> {
    this.#again = [...this.#inFlight.values(), ...this.#again];
    this.#inFlight = new Map();
    return new Promise((resolve) => {
      const socket = connect({ port, host: '127.0.0.1', noDelay: true });
      this.#socket = socket;
      const parser = mqttPacket.parser();
      parser.on('packet', (packet) => {
        if (packet.cmd === 'connack') this.#fill(socket);
        if (packet.cmd === 'puback') this.#acknowledge(packet.messageId ?? 0, socket);
      });
      socket.on('data', (chunk) => parser.parse(chunk));
      // A kill resets connections; what counts is what was acknowledged before.
      socket.on('error', () => {});
      socket.on('close', () => resolve());
      socket.write(
        mqttPacket.generate({
          cmd: 'connect',
          protocolId: 'MQTT',
          protocolVersion: 4,
          clientId: this.nodeId,
          clean: true,
          keepalive: 0,
        }),
      );
    });
  }

  stop(): void {
    this.#socket?.destroy();
  }

  #acknowledge(messageId: number, socket: Socket): void {
    const reading = this.#inFlight.get(messageId);
    if (reading === undefined) throw new Error(`${this.nodeId}: a PUBACK for ${messageId}, which is not on the way`);
    this.#inFlight.delete(messageId);
    this.acknowledged.push(reading);
    this.acknowledgedMs.push(Date.now() + 1);
    if (this.acknowledged.length >= this.#limit) this.#onDone?.();
    this.#fill(socket);
  }

  #fill(socket: Socket): void {
    const frames: Buffer[] = [];
    while (this.#inFlight.size < this.#window && (this.#again.length > 0 || this.#next < this.#limit)) {
      const repeated = this.#again.shift();
      const reading = repeated ?? this.#readingOf(this.nodeId, this.#next++);
      this.#lastPacketId = (this.#lastPacketId % 0xffff) + 1;
      this.#inFlight.set(this.#lastPacketId, reading);
      frames.push(
        mqttPacket.generate({
          cmd: 'publish',
          topic: `nodes/${this.nodeId}/readings`,
          payload: stormPayload(reading),
          qos: 1,
          retain: false,
          dup: repeated !== undefined,
          messageId: this.#lastPacketId,
        }),
      );
    }
    if (frames.length > 0) socket.write(Buffer.concat(frames));
  }
}
