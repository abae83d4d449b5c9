import { describe, expect, it } from 'vitest';
import { decodePack } from '../../src/domain/senml/decode.js';
import { EARLIEST_BELIEVED_MS, readNodePack, readWeatherPack } from '../../src/domain/senml/read-pack.js';

const RECEIVED_MS = Date.UTC(2026, 6, 1, 6, 0, 0);
const TIME_S = RECEIVED_MS / 1000 - 900;

function read(records: unknown, options: { firstAssignmentMs?: number; retained?: boolean } = {}) {
  const payload = typeof records === 'string' ? Buffer.from(records) : Buffer.from(JSON.stringify(records));
  return readNodePack(
    { payload, contentType: null, receivedMs: RECEIVED_MS, retained: options.retained ?? false },
    'N1',
    options.firstAssignmentMs ?? null,
  );
}

const refusals = (pack: ReturnType<typeof read>) => pack.refused.map((one) => one.refusal);

describe('a pack of a node', () => {
  it('becomes one reading for all quantities of a time', () => {
    const pack = read([
      { bn: 'N1/', bt: TIME_S, n: 'level', u: 'm', v: 0.0874, ut: 900 },
      { n: 'moisture', u: '/', v: 0.31 },
      { n: 'temperature', u: 'Cel', v: 21.5 },
      { n: 'battery', u: 'V', v: 3.012 },
      { n: 'signal', u: 'dBm', v: -71 },
    ]);
    expect(pack.refused).toEqual([]);
    expect(pack.promisedIntervalS).toBe(900);
    expect(pack.readings).toEqual([
      {
        nodeId: 'N1',
        timeMs: TIME_S * 1000,
        receivedMs: RECEIVED_MS,
        levelMm: 87.4,
        moistureFraction: 0.31,
        temperatureC: 21.5,
        batteryV: 3.012,
        batteryFraction: null,
        signalDbm: -71,
      },
    ]);
  });

  it('may carry hours of backlog in any order, with repeats', () => {
    const at = (minutes: number, v: number) => ({ n: 'level', u: 'mm', t: -60 * minutes, v });
    const pack = read([at(15, 80), at(45, 82), at(30, 81), at(45, 82)]);
    expect(pack.taken).toBe(4);
    expect(pack.readings.map((row) => [(RECEIVED_MS - row.timeMs) / 60_000, row.levelMm])).toEqual([
      [15, 80],
      [45, 82],
      [30, 81],
    ]);
  });

  it('that contradicts itself yields a second reading of the same time, to be stored as a correction', () => {
    const pack = read([
      { n: 'level', u: 'mm', t: TIME_S, v: 80 },
      { n: 'level', u: 'mm', t: TIME_S, v: 81 },
    ]);
    expect(pack.readings.map((row) => row.levelMm)).toEqual([80, 81]);
  });

  it('keeps its good records where others are bad', () => {
    const pack = read([
      { bn: 'N1:', n: 'level', u: 'mm', v: 80 },
      { n: 'level', u: 'mm', v: 'high' },
      { n: 'level', u: 'inch', v: 3 },
      { n: 'level', v: 3 },
      { n: 'salinity', u: 'S/m', v: 3 },
      { n: 'level', u: 'm', v: 80 },
      { n: 'moisture', u: '%', v: 31 },
      7,
      { n: 'temperature', u: 'Cel', vs: 'warm' },
      { n: 'battery', u: '%EL', v: 98 },
    ]);
    expect(pack.readings).toHaveLength(1);
    expect(pack.readings[0]).toMatchObject({ levelMm: 80, batteryFraction: 0.98 });
    expect(pack.refused.map((one) => [one.recordIndex, one.refusal])).toEqual([
      [1, 'not_senml'],
      [2, 'unknown_unit'],
      [3, 'unknown_unit'],
      [4, 'no_quantity'],
      [5, 'impossible_value'],
      [6, 'ratio_out_of_range'],
      [7, 'not_senml'],
      [8, 'impossible_value'],
    ]);
  });

  it('with a ratio out of range is told about the unit /100', () => {
    expect(read([{ n: 'moisture', u: '%', v: 31 }]).refused[0]?.detail).toContain('"/100"');
  });

  it('whose base field is unusable refuses the records that lean on it, until the field is set anew', () => {
    const pack = read([
      { n: 'level', u: 'mm', t: -60, v: 80 },
      { bt: 'yesterday', n: 'level', u: 'mm', v: 81 },
      { n: 'level', u: 'mm', v: 82 },
      { bt: TIME_S, n: 'level', u: 'mm', v: 83 },
    ]);
    expect(pack.readings.map((row) => row.levelMm)).toEqual([80, 83]);
    expect(pack.refused.map((one) => one.recordIndex)).toEqual([1, 2]);
    expect(pack.refused[1]?.detail).toContain('record 1');
  });

  it('refuses a record with a label that must be understood, and ignores other unknown labels', () => {
    const pack = read([
      { n: 'level', u: 'mm', t: -60, v: 80, colour: 'blue' },
      { n: 'level', u: 'mm', t: -30, v: 81, gain_: 2 },
      { n: 'level', u: 'mm', t: -10, v: 82 },
    ]);
    expect(pack.readings.map((row) => row.levelMm)).toEqual([80, 82]);
    expect(refusals(pack)).toEqual(['not_senml']);
  });

  it('refuses all records from a base label on that must be understood', () => {
    const pack = read([
      { n: 'level', u: 'mm', t: -60, v: 80 },
      { n: 'level', u: 'mm', t: -30, v: 81, bgain_: 2 },
      { n: 'level', u: 'mm', t: -10, v: 82 },
    ]);
    expect(pack.readings.map((row) => row.levelMm)).toEqual([80]);
    expect(pack.refused).toHaveLength(2);
  });

  it('may begin with a record of base fields only', () => {
    const pack = read([
      { bn: 'N1/', bt: TIME_S, bu: 'mm' },
      { n: 'level', v: 80 },
    ]);
    expect(pack.refused).toEqual([]);
    expect(pack.readings[0]).toMatchObject({ timeMs: TIME_S * 1000, levelMm: 80 });
  });

  it.each([
    ['nothing', ''],
    ['no JSON', '[{"n":'],
    ['an object', '{"n":"level"}'],
    ['an empty array', '[]'],
    ['a text', '"level"'],
    ['base fields only', '[{"bn":"N1/"}]'],
    ['a newer version', '[{"bver":11,"n":"level","u":"mm","v":1}]'],
    ['two versions', '[{"bver":10,"n":"level","u":"mm","v":1},{"bver":26,"n":"level","u":"mm","v":1}]'],
    ['a version that is no number', '[{"bver":"10","n":"level","u":"mm","v":1}]'],
  ])('is refused as a whole where it holds %s', (_what, text) => {
    const pack = read(text);
    expect(pack.readings).toEqual([]);
    expect(pack.refused).toMatchObject([{ recordIndex: null, refusal: 'not_senml' }]);
    expect(pack.refused[0]?.detail.length).toBeGreaterThan(20);
  });

  it.each([
    ['NaN is no JSON', '[{"n":"level","u":"mm","v":NaN}]', 'not_senml'],
    ['a number beyond the doubles', '[{"n":"level","u":"mm","v":1e999}]', 'not_senml'],
    ['a huge number', '[{"n":"level","u":"mm","v":1e300}]', 'impossible_value'],
    ['null', '[{"n":"level","u":"mm","v":null}]', 'not_senml'],
    ['two values', '[{"n":"level","u":"mm","v":1,"vs":"1"}]', 'not_senml'],
    ['no value', '[{"n":"level","u":"mm"}]', 'not_senml'],
    ['no name', '[{"u":"mm","v":1}]', 'not_senml'],
    ['no field at all', '[{}]', 'not_senml'],
    ['a name with a blank', '[{"n":"water level","u":"mm","v":1}]', 'not_senml'],
    ['the key __proto__ as a name', '[{"n":"__proto__","u":"mm","v":1}]', 'not_senml'],
    ['a quantity called constructor', '[{"n":"constructor","u":"mm","v":1}]', 'no_quantity'],
    ['a unit called constructor', '[{"n":"level","u":"constructor","v":1}]', 'unknown_unit'],
  ])('refuses a value in words: %s', (_what, text, refusal) => {
    const pack = read(text);
    expect(pack.readings).toEqual([]);
    expect(refusals(pack)).toEqual([refusal]);
  });

  it('refuses the label __proto__ for its last character, and is not changed by it', () => {
    const pack = read('[{"__proto__":{"v":5},"n":"level","u":"mm"},{"n":"level","u":"mm","v":1}]');
    expect(refusals(pack)).toEqual(['not_senml']);
    expect(pack.readings.map((row) => row.levelMm)).toEqual([1]);
  });

  it('takes a time up to 10 minutes ahead and none further', () => {
    const at = (ms: number) => read([{ n: 'level', u: 'mm', v: 80, t: (RECEIVED_MS + ms) / 1000 }]);
    expect(at(600_000).readings).toHaveLength(1);
    expect(refusals(at(600_001))).toEqual(['too_far_ahead']);
    expect(refusals(at(1e15))).toEqual(['too_far_ahead']);
  });

  it('refuses a time before the first assignment, and takes the very instant of it', () => {
    const firstAssignmentMs = RECEIVED_MS - 3_600_000;
    const at = (ms: number) => read([{ n: 'level', u: 'mm', v: 80, t: ms / 1000 }], { firstAssignmentMs });
    expect(at(firstAssignmentMs).readings).toHaveLength(1);
    expect(refusals(at(firstAssignmentMs - 1))).toEqual(['before_first_assignment']);
  });

  it('does not believe a clock that began again in 2000', () => {
    expect(refusals(read([{ n: 'level', u: 'mm', v: 80, t: (EARLIEST_BELIEVED_MS - 1) / 1000 }]))).toEqual([
      'impossible_value',
    ]);
  });

  it('refuses "now" in a message that the broker had retained, and takes its absolute times', () => {
    const pack = read(
      [
        { n: 'level', u: 'mm', v: 80 },
        { n: 'level', u: 'mm', v: 81, t: TIME_S },
      ],
      { retained: true },
    );
    expect(pack.readings.map((row) => row.levelMm)).toEqual([81]);
    expect(pack.refused[0]?.detail).toContain('retain');
  });

  it('takes no promise from an interval that is none, and the value all the same', () => {
    const pack = read([{ n: 'level', u: 'mm', v: 80, ut: 0 }]);
    expect(pack.readings).toHaveLength(1);
    expect(pack.promisedIntervalS).toBeNull();
  });

  it('promises what its latest record says', () => {
    const pack = read([
      { n: 'level', u: 'mm', v: 80, t: -10, ut: 300 },
      { n: 'level', u: 'mm', v: 81, t: -900, ut: 900 },
    ]);
    expect(pack.promisedIntervalS).toBe(300);
  });
});

describe('the content type', () => {
  it('decides where it is given', () => {
    expect(decodePack(Buffer.from('[]'), 'application/senml+cbor')).toMatchObject({ kind: 'undecodable' });
    expect(decodePack(Buffer.from('[]'), 'application/senml+json; charset=utf-8')).toMatchObject({ format: 'json' });
    expect(decodePack(Buffer.from('[]'), 'text/plain')).toMatchObject({ kind: 'undecodable' });
  });

  it('is found by the first byte where it is not', () => {
    expect(decodePack(Buffer.from('\ufeff [1]'), null)).toMatchObject({ format: 'json', records: [1] });
    expect(decodePack(Buffer.from('9f01ff', 'hex'), null)).toMatchObject({ format: 'cbor', records: [1] });
    expect(decodePack(Buffer.from([0xff, 0x00]), null)).toMatchObject({ kind: 'undecodable' });
  });
});

describe('hostile bytes', () => {
  it.each([
    ['invalid UTF-8', Buffer.from([0x5b, 0x22, 0xc3, 0x28, 0x22, 0x5d])],
    ['a CBOR array that claims four thousand million records', Buffer.from('9affffffff', 'hex')],
    ['a CBOR array cut short', Buffer.from('82a1', 'hex')],
    ['bytes after the CBOR array', Buffer.from('800000', 'hex')],
    ['CBOR nested a hundred thousand deep', Buffer.alloc(100_000, 0x81)],
    ['JSON nested a hundred thousand deep', Buffer.from('['.repeat(100_000))],
  ])('%s: refused in words', (_what, payload) => {
    const pack = readNodePack({ payload, contentType: null, receivedMs: RECEIVED_MS, retained: false }, 'N1', null);
    expect(pack.readings).toEqual([]);
    expect(refusals(pack)).toEqual(['not_senml']);
  });

  it('a 64-bit integer in CBOR is a number like any other', () => {
    // [{0: "level", 1: "mm", 2: 80, 6: 1780000000 as 64 bits}]
    const payload = Buffer.from(
      '81a4 00 656c6576656c 01 626d6d 02 1850 06 1b000000006a18a300'.replace(/ /g, ''),
      'hex',
    );
    const pack = readNodePack({ payload, contentType: null, receivedMs: RECEIVED_MS, retained: false }, 'N1', null);
    expect(pack.readings).toMatchObject([{ levelMm: 80, timeMs: 0x6a18a300 * 1000 }]);
  });
});

describe('a pack of a weather station', () => {
  const readWeather = (records: unknown) =>
    readWeatherPack(
      { payload: Buffer.from(JSON.stringify(records)), contentType: null, receivedMs: RECEIVED_MS, retained: false },
      'S1',
      (wind) => wind * 0.748,
    );

  it('becomes one sample, with the wind of 10 m brought down to 2 m', () => {
    const pack = readWeather([
      { bn: 'station:', bt: TIME_S, n: 'temperature', u: 'Cel', v: 24 },
      { n: 'humidity', u: '%RH', v: 55 },
      { n: 'wind10', u: 'm/s', v: 3.2 },
      { n: 'solar', u: 'W/m2', v: -3 },
      { n: 'rain', u: 'mm', v: 0.2 },
      { n: 'pressure', u: 'Pa', v: 101325 },
    ]);
    expect(pack.refused).toEqual([]);
    expect(pack.samples).toEqual([
      {
        siteId: 'S1',
        timeMs: TIME_S * 1000,
        receivedMs: RECEIVED_MS,
        temperatureC: 24,
        humidityFraction: 0.55,
        windMPerS: 3.2 * 0.748,
        solarWPerM2: 0,
        rainMm: 0.2,
        pressurePa: 101325,
      },
    ]);
  });

  it('goes by the wind at 2 m where both are sent', () => {
    const pack = readWeather([
      { n: 'wind10', u: 'm/s', v: 3.2 },
      { n: 'wind', u: 'm/s', v: 2 },
    ]);
    expect(pack.samples[0]?.windMPerS).toBe(2);
  });

  it('refuses what cannot be weather, value by value', () => {
    const pack = readWeather([
      { n: 'temperature', u: 'Cel', v: 240 },
      { n: 'rain', u: 'mm', v: -1 },
      { n: 'level', u: 'mm', v: 1 },
      { n: 'wind', u: 'm/s', v: 2 },
    ]);
    expect(pack.samples).toMatchObject([{ windMPerS: 2 }]);
    expect(pack.refused.map((one) => one.refusal)).toEqual(['impossible_value', 'impossible_value', 'no_quantity']);
  });
});
