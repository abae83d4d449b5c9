import { connect, type MqttClient } from 'mqtt';

export type LogLine = (line: string) => void;

const RECONNECT_MS = 4000;
const SAID_AGAIN_AFTER = 20;

/** One MQTT connection for each principal that speaks, made when it first has something to say. */
export class Publishers {
  readonly #url: string;
  readonly #passwordOf: ReadonlyMap<string, string>;
  readonly #log: LogLine;
  readonly #clients = new Map<string, MqttClient>();
  readonly #silent = new Set<string>();
  readonly #complaints = new Map<string, number>();
  acknowledged = 0;
  failed = 0;

  constructor(url: string, passwordOf: ReadonlyMap<string, string>, log: LogLine) {
    this.#url = url;
    this.#passwordOf = passwordOf;
    this.#log = log;
  }

  #complain(about: string, what: string): void {
    const count = (this.#complaints.get(about) ?? 0) + 1;
    this.#complaints.set(about, count);
    if (count === 1 || count % SAID_AGAIN_AFTER === 0)
      this.#log(`${about}: ${what}${count > 1 ? ` (${count} times)` : ''}`);
  }

  #client(principalId: string, willTopic: string | null): MqttClient | null {
    const made = this.#clients.get(principalId);
    if (made !== undefined) return made;
    const password = this.#passwordOf.get(principalId);
    if (password === undefined) {
      if (!this.#silent.has(principalId))
        this.#log(`${principalId}: no password in the credentials file, it stays silent`);
      this.#silent.add(principalId);
      return null;
    }
    const client = connect(this.#url, {
      protocolVersion: 4,
      clientId: principalId,
      username: principalId,
      password,
      clean: true,
      reconnectPeriod: RECONNECT_MS,
      ...(willTopic === null
        ? {}
        : { will: { topic: willTopic, payload: Buffer.from('offline'), qos: 1 as const, retain: true } }),
    });
    client.on('error', (error) => this.#complain(principalId, `connection refused or lost: ${error.message}`));
    if (willTopic !== null) {
      client.on('connect', () => {
        client.publish(willTopic, 'online', { qos: 1, retain: true }, (error) => {
          if (error) this.#complain(principalId, `its state was refused: ${error.message}`);
        });
      });
    }
    this.#clients.set(principalId, client);
    return client;
  }

  /**
   * Publishes at QoS 1; what cannot be sent now waits in the client's queue.
   * @param willTopic retained state topic of the principal, null where it has none
   */
  publish(principalId: string, topic: string, payload: Buffer, willTopic: string | null): void {
    const client = this.#client(principalId, willTopic);
    client?.publish(topic, payload, { qos: 1 }, (error) => {
      if (error) {
        this.failed++;
        this.#complain(principalId, `a message was not acknowledged: ${error.message}`);
      } else this.acknowledged++;
    });
  }

  /** Hears what is said to a principal, also what was said before it came. */
  listen(principalId: string, topic: string, willTopic: string | null, onMessage: (payload: string) => void): void {
    const client = this.#client(principalId, willTopic);
    client?.on('message', (from, payload) => {
      if (from === topic) onMessage(payload.toString('utf8'));
    });
    client?.subscribe(topic, { qos: 1 }, (error) => {
      if (error) this.#complain(principalId, `it may not hear ${topic}: ${error.message}`);
    });
  }

  get connections(): number {
    return this.#clients.size;
  }

  async close(): Promise<void> {
    await Promise.all([...this.#clients.values()].map((client) => client.endAsync(true)));
  }
}
