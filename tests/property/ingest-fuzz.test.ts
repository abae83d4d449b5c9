import { Encoder } from 'cbor-x';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { csvLines } from '../../src/app/readings/import-csv-lines.js';
import { readCsv } from '../../src/app/readings/import-csv-table.js';
import { joinFleet } from '../../src/app/readings/import-fleet.js';
import { parseFleet } from '../../src/app/readings/import-fleet-parse.js';
import { readingsFormat } from '../../src/app/readings/import-readings.js';
import { weatherFormat } from '../../src/app/readings/import-weather.js';
import { DomainError } from '../../src/domain/errors.js';
import { READING_QUANTITIES, type Reading } from '../../src/domain/reading.js';
import type { Fleet } from '../../src/domain/registry.js';
import { decodePack } from '../../src/domain/senml/decode.js';
import { type NodePack, readNodePack, readWeatherPack } from '../../src/domain/senml/read-pack.js';
import { resolvePack } from '../../src/domain/senml/resolve.js';
import { fileOf, NOW_MS, smallFleet } from '../support/ingest-fixtures.js';

const read = (payload: Uint8Array, contentType: string | null = null): NodePack =>
  readNodePack({ payload, contentType, receivedMs: NOW_MS, retained: false }, 'N1', null);

/** Whatever comes in, the result is stored values in their limits, or refusals with words. */
function expectSound(pack: NodePack): void {
  for (const reading of pack.readings) expectPlausible(reading);
  for (const { detail } of pack.refused) {
    expect(detail.length).toBeGreaterThan(15);
    expect(detail.length).toBeLessThan(1_000);
  }
  if (pack.promisedIntervalS !== null) expect(pack.promisedIntervalS).toBeGreaterThan(0);
}

function expectPlausible(reading: Reading): void {
  expect(Number.isSafeInteger(reading.timeMs)).toBe(true);
  expect(reading.timeMs).toBeLessThanOrEqual(reading.receivedMs + 600_000);
  for (const quantity of READING_QUANTITIES) {
    const value = reading[quantity];
    if (value === null) continue;
    expect(Math.abs(value)).toBeLessThanOrEqual(5_000);
    if (quantity.endsWith('Fraction')) expect(value >= 0 && value <= 1).toBe(true);
  }
}

const scalar = fc.oneof(
  fc.double(),
  fc.integer(),
  fc.constantFrom(0, -0, 1e300, -1e300, 2 ** 28, 1_780_000_000, 80, 0.3),
  fc.string(),
  fc.boolean(),
  fc.constant(null),
);
const label = fc.oneof(
  {
    weight: 8,
    arbitrary: fc.constantFrom('bn', 'bt', 'bu', 'bv', 'bs', 'bver', 'n', 'u', 'v', 'vs', 'vb', 'vd', 's', 't', 'ut'),
  },
  { weight: 1, arbitrary: fc.constantFrom('x', 'x_', 'bx_', '__proto__', 'constructor', '') },
);
const likelyValue = fc.oneof(
  fc.constantFrom('N1/', 'level', 'moisture', 'battery', 'temperature', 'm', 'mm', '%', '/', '/100', 'V', '%EL', 'Cel'),
  scalar,
);
const record = fc.oneof(
  { weight: 6, arbitrary: fc.dictionary(label, likelyValue, { maxKeys: 6 }) },
  {
    weight: 4,
    arbitrary: fc.record({
      n: fc.constantFrom('level', 'moisture', 'temperature', 'battery', 'signal', 'other'),
      u: fc.constantFrom('m', 'mm', 'cm', '/', '%', '/100', 'Cel', 'K', 'V', 'mV', '%EL', 'dBm', 'dBW', 'x'),
      v: scalar,
      t: fc.constantFrom(-900, 0, NOW_MS / 1000, NOW_MS / 1000 - 60, 1e12),
    }),
  },
  { weight: 1, arbitrary: scalar },
);

/** Records of base fields only measure nothing; all others must come out as taken or refused. */
function measuring(records: readonly unknown[]): number {
  return records.filter((one) => {
    if (typeof one !== 'object' || one === null) return true;
    const keys = Object.keys(one);
    return keys.length === 0 || keys.some((key) => !key.startsWith('b'));
  }).length;
}

describe('SenML from anybody', () => {
  it('never throws at arbitrary bytes', () => {
    fc.assert(
      fc.property(fc.uint8Array({ maxLength: 400 }), (bytes) => expectSound(read(bytes))),
      { numRuns: 500 },
    );
  });

  it('never throws at arbitrary bytes that call themselves JSON or CBOR', () => {
    fc.assert(
      fc.property(
        fc.uint8Array({ minLength: 1, maxLength: 400 }),
        fc.constantFrom('application/senml+json', 'application/senml+cbor', 'x', ''),
        (bytes, type) => expectSound(read(bytes, type)),
      ),
      { numRuns: 500 },
    );
  });

  it('loses no record: each is stored or refused, in JSON', () => {
    fc.assert(
      fc.property(fc.array(record, { maxLength: 8 }), (records) => {
        const text = JSON.stringify(records);
        const pack = read(Buffer.from(text));
        expectSound(pack);
        const whole = pack.refused.some((one) => one.recordIndex === null);
        // JSON writes NaN and infinities as null, so what was written is what counts.
        if (whole) {
          expect([pack.taken, pack.refused.length]).toEqual([0, 1]);
        } else {
          // A record of base fields only is refused where one of them cannot be used.
          expect(pack.taken + pack.refused.length).toBeGreaterThanOrEqual(measuring(JSON.parse(text)));
          expect(pack.taken + pack.refused.length).toBeLessThanOrEqual(records.length);
        }
      }),
      { numRuns: 500 },
    );
  });

  it('says the same of a pack in CBOR as of the same pack in JSON', () => {
    const labels = ['n', 'u', 'v', 'vs', 'vb', 's', 't', 'ut'];
    const plain = fc.dictionary(fc.constantFrom(...labels, 'bn', 'bt', 'bu', 'bv'), likelyValue, { maxKeys: 6 });
    const codes: Record<string, number> = {
      bn: -2,
      bt: -3,
      bu: -4,
      bv: -5,
      n: 0,
      u: 1,
      v: 2,
      vs: 3,
      vb: 4,
      s: 5,
      t: 6,
      ut: 7,
    };
    const encoder = new Encoder({ mapsAsObjects: false, useRecords: false, variableMapSize: true });
    fc.assert(
      fc.property(fc.array(plain, { minLength: 1, maxLength: 6 }), (records) => {
        const json = JSON.stringify(records);
        const maps = (JSON.parse(json) as Record<string, unknown>[]).map(
          (one) => new Map(Object.entries(one).map(([key, value]) => [codes[key], value])),
        );
        expect(read(encoder.encode(maps))).toEqual(read(Buffer.from(json)));
      }),
      { numRuns: 300 },
    );
  });

  it('resolves to the same again: a resolved pack has nothing left to resolve', () => {
    fc.assert(
      fc.property(fc.array(record, { minLength: 1, maxLength: 8 }), (records) => {
        const decoded = decodePack(Buffer.from(JSON.stringify(records)), null);
        if (decoded.kind !== 'decoded') return;
        const pack = resolvePack(decoded.records, NOW_MS);
        if (pack.kind !== 'records') return;
        for (const outcome of pack.outcomes) {
          if (outcome.kind !== 'resolved' || outcome.record.timeS < 2 ** 28) continue;
          const { name: n, unit, value, text, truth, data, sum, timeS: t, version } = outcome.record;
          const fields = { bver: version, n, u: unit, v: value, vs: text, vb: truth, vd: data, s: sum, t };
          const given = Object.fromEntries(Object.entries(fields).filter(([, field]) => field !== null));
          const again = resolvePack([given], 0);
          if (again.kind !== 'records' || again.outcomes[0]?.kind !== 'resolved') throw new Error('resolves again');
          expect(again.outcomes[0].record).toEqual({
            ...outcome.record,
            index: 0,
            relative: false,
            updateTimeS: null,
          });
        }
      }),
      { numRuns: 300 },
    );
  });

  it('never throws at a weather station either', () => {
    fc.assert(
      fc.property(fc.array(record, { maxLength: 5 }), (records) => {
        const payload = Buffer.from(JSON.stringify(records).replaceAll('level', 'wind10').replaceAll('"m"', '"m/s"'));
        const pack = readWeatherPack(
          { payload, contentType: null, receivedMs: NOW_MS, retained: false },
          'S1',
          (wind) => wind * 0.748,
        );
        for (const sample of pack.samples) expect(sample.windMPerS === null || sample.windMPerS >= 0).toBe(true);
      }),
    );
  });
});

const cell = fc.oneof(
  fc.constantFrom('N1', 'N9', '2026-08-01T00:00:00Z', '2026-08-01', '80', '31.5', '-1', '1e5', 'NaN', '', '"80"', '"'),
  fc.string({ maxLength: 12 }),
);
const line = fc.oneof(
  fc.array(cell, { minLength: 1, maxLength: 7 }).map((cells) => cells.join(',')),
  fc
    .tuple(fc.constantFrom('N1', 'N9'), fc.nat({ max: 5_000_000 }), fc.double({ noNaN: true }))
    .map(([node, seconds, level]) => `${node},${new Date(NOW_MS - seconds * 1000).toISOString()},${level},31,21,3`),
);

describe('CSV from anybody', () => {
  it('every line that is not blank is a row or a refusal by its line number, whatever the chunks', async () => {
    await fc.assert(
      fc.asyncProperty(
        fc.array(line, { maxLength: 20 }),
        fc.integer({ min: 1, max: 64 }),
        async (lines, chunkBytes) => {
          const text = ['node,time,level_mm,moisture_pct,temperature_c,battery_v', ...lines].join('\n');
          const format = readingsFormat({
            nowMs: NOW_MS,
            knowsNode: (id) => id === 'N1',
            firstAssignmentMs: () => null,
          });
          const seen: number[] = [];
          for await (const batch of readCsv(fileOf(text, chunkBytes), 'readings.csv', format)) {
            for (const one of batch.rows) {
              seen.push(one.line);
              expectPlausible(one.row);
            }
            for (const one of batch.refused) {
              seen.push(one.line);
              expect(one.detail.length).toBeGreaterThan(15);
            }
          }
          const expected = text
            .split('\n')
            .flatMap((one, index) => (index > 0 && one.trim() !== '' ? [index + 1] : []));
          expect(seen.sort((a, b) => a - b)).toEqual(expected);
        },
      ),
      { numRuns: 150 },
    );
  });

  it('arbitrary bytes are refused in words or read, never a crash', async () => {
    await fc.assert(
      fc.asyncProperty(fc.uint8Array({ maxLength: 300 }), fc.boolean(), async (bytes, withHeader) => {
        const header = withHeader ? Buffer.from('site,date,tmin_c,tmax_c,issued\n') : Buffer.alloc(0);
        const format = weatherFormat({ nowMs: NOW_MS, timeZone: () => 'Europe/Madrid' });
        try {
          for await (const batch of readCsv(fileOf(Buffer.concat([header, bytes])), 'weather.csv', format)) {
            expect(batch.rows.length + batch.refused.length).toBeGreaterThan(0);
          }
        } catch (error) {
          if (!(error instanceof DomainError)) throw error;
          expect(error.code).toBe('file_unreadable');
        }
      }),
      { numRuns: 200 },
    );
  });

  it('lines put together again are the file', async () => {
    await fc.assert(
      fc.asyncProperty(
        fc.uint8Array({ maxLength: 500 }),
        fc.integer({ min: 1, max: 40 }),
        async (bytes, chunkBytes) => {
          const lines: string[] = [];
          for await (const part of csvLines(fileOf(bytes, chunkBytes))) lines.push(...part.map((one) => one.text));
          const text = Buffer.from(bytes).toString('latin1').replaceAll('\r\n', '\n').replace(/\n$/, '');
          expect(lines.join('\n').replace(/\r$/, '')).toBe(text.replace(/\r$/, ''));
        },
      ),
      { numRuns: 200 },
    );
  });
});

const NOTHING: Fleet = {
  accounts: [],
  sites: [],
  containers: [],
  gateways: [],
  nodes: [],
  assignments: [],
  depots: [],
  trucks: [],
  people: [],
};

/** A path to every leaf and branch of a document. */
function paths(value: unknown, at: readonly string[] = []): (readonly string[])[] {
  if (typeof value !== 'object' || value === null) return [at];
  return [at, ...Object.entries(value).flatMap(([key, child]) => paths(child, [...at, key]))];
}

function withChange(document: unknown, path: readonly string[], value: unknown): unknown {
  const [first, ...rest] = path;
  if (first === undefined) return value;
  const copy: Record<string, unknown> = Array.isArray(document)
    ? (Object.assign([], document) as unknown as Record<string, unknown>)
    : { ...(document as Record<string, unknown>) };
  copy[first] = withChange(copy[first], rest, value);
  return copy;
}

describe('a fleet file from anybody', () => {
  const places = paths(smallFleet()).filter((path) => path.length > 0);

  it('with any value in any place is joined or refused by pointer, never a crash', () => {
    fc.assert(
      fc.property(fc.constantFrom(...places), fc.oneof(scalar, fc.jsonValue()), (path, value) => {
        const file = JSON.parse(JSON.stringify(withChange(smallFleet(), path, value))) as unknown;
        const { faults, fleet } = joinFleet(parseFleet(file), NOTHING);
        for (const { pointer, detail } of faults) {
          expect(pointer).toMatch(/^\/(accounts|sites|containers|assignments)/);
          expect(detail.length).toBeGreaterThan(5);
        }
        if (faults.length > 0) return;
        for (const container of fleet.containers) {
          const { strapping, overflowMm, wickFootMm } = container.reservoir;
          expect(wickFootMm).toBeLessThan(overflowMm);
          for (const [i, [levelMm, litres]] of strapping.entries()) {
            const before = strapping[i - 1];
            if (before !== undefined) expect(levelMm > before[0] && litres > before[1]).toBe(true);
          }
        }
      }),
      { numRuns: 400 },
    );
  });

  it('that is any JSON at all is refused in words or empty', () => {
    fc.assert(
      fc.property(fc.jsonValue(), (file) => {
        const { fleet, faults } = joinFleet(parseFleet(file), NOTHING);
        const rows = Object.values(fleet).reduce((sum, list) => sum + list.length, 0);
        expect(rows === 0 || faults.length === 0).toBe(true);
      }),
    );
  });
});
