import { createServer } from 'node:net';
import { createInterface } from 'node:readline';
import { Aedes } from 'aedes';
import {
  DEFAULT_MAX_PAYLOAD_BYTES,
  type IncomingPack,
  Recorder,
  type RecordOutcome,
} from '../../src/app/readings/record-readings.js';
import type { Log } from '../../src/domain/ports/log.js';
import { startEmbeddedBroker } from '../../src/ingest/embedded-broker.js';
import { openStore } from '../../src/store/open.js';

/*
 * A server of its own process, for the tests that kill it and the benchmark that measures it.
 * Usage: ingest-server DIR honest|early|bare
 *
 *   honest  store, recorder and embedded broker as the product wires them, and nothing else
 *   early   the control of the kill test: answers before it stores, as a server would that stores in the broker's event
 *           of a publish. The product has no such switch.
 *   bare    the broker alone, acknowledging what it does not even look at
 *
 * It waits for a line on its input, so that loading the program can be over before its turn comes, and then prints the
 * port on which it listens. Each further line is answered with a line of figures.
 */

export type ServerMode = 'honest' | 'early' | 'bare';

/** What the server says of itself. */
export interface ServerFigures {
  /** CPU time of the process since it began, all threads. */
  readonly cpuMicros: number;
  readonly commits: number;
  readonly commitMs: number;
}

interface Running {
  readonly port: number | null;
  figures(): Omit<ServerFigures, 'cpuMicros'>;
}

const log: Log = {
  debug: () => {},
  info: () => {},
  warn: () => {},
  error: (fields, text) => console.error(text, fields),
};
const clock = { nowMs: () => Date.now() };

class EarlyRecorder extends Recorder {
  #last: Promise<unknown> = Promise.resolve();

  override async record(packs: readonly IncomingPack[]): Promise<RecordOutcome> {
    this.#last = this.#last
      .then(() => new Promise<void>((resolve) => setImmediate(resolve)))
      .then(() => super.record(packs));
    return { readings: { added: 0, completed: 0, corrected: 0, repeated: 0 }, recordsTaken: 0, recordsRefused: 0 };
  }
}

async function startProduct(dir: string, early: boolean): Promise<Running> {
  const store = await openStore({ dir, log });
  const options = { store, clock, maxPayloadBytes: DEFAULT_MAX_PAYLOAD_BYTES };
  const broker = await startEmbeddedBroker({
    host: '127.0.0.1',
    port: 0,
    wsPort: null,
    open: true,
    authenticate: async () => null,
    recorder: early ? new EarlyRecorder(options) : new Recorder(options),
    clock,
    log,
    maxPayloadBytes: DEFAULT_MAX_PAYLOAD_BYTES,
    maxConnections: 10_000,
  });
  return {
    port: broker.port,
    figures: () => {
      const { commits, commitMs } = broker.stats().commit;
      return { commits, commitMs };
    },
  };
}

async function startBare(): Promise<Running> {
  const aedes = await Aedes.createBroker();
  const server = createServer({ noDelay: true }, aedes.handle);
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', () => resolve()));
  const address = server.address();
  if (address === null || typeof address === 'string') throw new Error('a TCP port was expected');
  return { port: address.port, figures: () => ({ commits: 0, commitMs: 0 }) };
}

async function serve(): Promise<void> {
  const [dir, mode] = process.argv.slice(2);
  if (dir === undefined || (mode !== 'honest' && mode !== 'early' && mode !== 'bare')) {
    throw new Error('usage: ingest-server DIR honest|early|bare');
  }
  let running: Running | null = null;
  for await (const _line of createInterface({ input: process.stdin })) {
    if (running === null) {
      running = mode === 'bare' ? await startBare() : await startProduct(dir, mode === 'early');
      console.log(running.port);
      continue;
    }
    const { user, system } = process.cpuUsage();
    console.log(JSON.stringify({ cpuMicros: user + system, ...running.figures() } satisfies ServerFigures));
  }
}

void serve();
