import { join } from 'node:path';
import Database from 'better-sqlite3';
import fc from 'fast-check';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { READING_QUANTITIES, type Reading } from '../../src/domain/reading.js';
import { FILE_NAME } from '../../src/store/database.js';
import { makeTempStore, type TempStore } from '../support/temp-store.js';

let temp: TempStore;
beforeAll(async () => {
  temp = await makeTempStore();
});
afterAll(() => temp.remove());

// Few values of each, so that instants, receipts and values meet often.
const value = fc.option(fc.constantFrom(1, 2, 2.5), { nil: null });
const offer = fc.record({
  node: fc.constantFrom('a', 'b'),
  timeMs: fc.constantFrom(10, 20),
  receivedMs: fc.constantFrom(100, 101, 102, 103),
  levelMm: value,
  moistureFraction: value,
  temperatureC: value,
});
type Offer = typeof offer extends fc.Arbitrary<infer Row> ? Row : never;

/** The same offers twice over: in two orders, cut into batches in two ways, some of them repeated. */
const twoWays = fc.array(offer, { minLength: 1, maxLength: 12 }).chain((offers) =>
  fc.record({
    one: fc.shuffledSubarray(offers, { minLength: offers.length }),
    other: fc
      .array(fc.constantFrom(...offers), { maxLength: 4 })
      .chain((repeated) =>
        fc.shuffledSubarray([...offers, ...repeated], { minLength: offers.length + repeated.length }),
      ),
    oneBatch: fc.integer({ min: 1, max: 5 }),
    otherBatch: fc.integer({ min: 1, max: 5 }),
  }),
);

let runs = 0;

/** Stores the offers under nodes of their own, and gives back all that the store keeps of them. */
async function storedBy(offers: readonly Offer[], batch: number): Promise<unknown> {
  runs += 1;
  const prefix = `run${runs}-`;
  for (let start = 0; start < offers.length; start += batch) {
    const rows = offers.slice(start, start + batch).map((row) => toReading(`${prefix}${row.node}`, row));
    await temp.store.commit({
      atMs: 0,
      actor: { kind: 'principal', id: 'property' },
      writes: [{ kind: 'readings', rows }],
      cursor: null,
    });
  }
  const db = new Database(join(temp.dir, FILE_NAME), { readonly: true });
  try {
    const rowsOf = (table: string) =>
      db
        .prepare(`SELECT * FROM ${table} WHERE substr(node_id, 1, ?) = ?`)
        .raw()
        .all(prefix.length, prefix)
        .map((row) => (row as unknown[]).map((cell) => String(cell).replace(prefix, '')));
    return { readings: rowsOf('reading'), superseded: rowsOf('reading_superseded'), latest: rowsOf('node_latest') };
  } finally {
    db.close();
  }
}

const toReading = (nodeId: string, { node: _node, ...row }: Offer): Reading => ({
  nodeId,
  ...row,
  batteryV: null,
  batteryFraction: null,
  signalDbm: null,
});

test('the same packs in any order, batch size and repetition leave the same store', async () => {
  await fc.assert(
    fc.asyncProperty(twoWays, async ({ one, other, oneBatch, otherBatch }) => {
      expect(await storedBy(other, otherBatch)).toEqual(await storedBy(one, oneBatch));
    }),
    { numRuns: 60 },
  );
});

test('the value that stands is the one received last, and at one receipt the greatest', async () => {
  await fc.assert(
    fc.asyncProperty(fc.array(offer, { minLength: 1, maxLength: 12 }), async (offers) => {
      await storedBy(offers, 3);
      for (const node of ['a', 'b']) {
        for (const reading of await temp.store.readings.ofNode(`run${runs}-${node}`, 0, 1_000)) {
          const offered = offers
            .filter((row) => row.node === node && row.timeMs === reading.timeMs)
            .map((row) => toReading(node, row));
          for (const quantity of READING_QUANTITIES) {
            const sent = offered.filter((row) => row[quantity] !== null);
            const last = Math.max(...sent.map((row) => row.receivedMs));
            const best = Math.max(...sent.filter((row) => row.receivedMs === last).map((row) => row[quantity] ?? 0));
            expect(reading[quantity]).toBe(sent.length === 0 ? null : best);
          }
          expect(reading.receivedMs).toBe(Math.min(...offered.map((row) => row.receivedMs)));
        }
      }
    }),
    { numRuns: 60 },
  );
});
