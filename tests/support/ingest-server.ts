import { createInterface } from 'node:readline';
import {
  DEFAULT_MAX_PAYLOAD_BYTES,
  type IncomingPack,
  Recorder,
  type RecordOutcome,
} from '../../src/app/record-readings.js';
import type { Log } from '../../src/domain/ports/log.js';
import { startEmbeddedBroker } from '../../src/ingest/embedded-broker.js';
import { openStore } from '../../src/store/open.js';

/*
 * A server of its own process for the tests that kill it: store, recorder and embedded broker, nothing else.
 * Usage: ingest-server DIR honest|early. It waits for a line on its input, so that loading the program can be over
 * before its turn comes, and then prints the port on which it listens.
 *
 * `early` is the control of the kill test: it answers before it stores, as a server would that stores in the broker's
 * event of a publish. The product has no such switch.
 */

const [dir, mode] = process.argv.slice(2);
if (dir === undefined || (mode !== 'honest' && mode !== 'early'))
  throw new Error('usage: ingest-server DIR honest|early');

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

const input = createInterface({ input: process.stdin });
input.once('line', () => void serve(dir, mode === 'early'));

async function serve(dataDir: string, early: boolean): Promise<void> {
  const store = await openStore({ dir: dataDir, log });
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
    maxConnections: 1_000,
  });
  console.log(broker.port);
}
