import { describe, expect, it } from 'vitest';
import { decodePack } from '../../src/domain/senml/decode.js';
import { type ResolvedRecord, resolvePack, toResolvedJson } from '../../src/domain/senml/resolve.js';

/**
 * C. Jennings, Z. Shelby, J. Arkko, A. Keranen, C. Bormann: Sensor Measurement Lists (SenML), RFC 8428, August 2018.
 * Examples of section 5.1, resolved as section 4.6 says; section 5.1.4 prints the resolved form of 5.1.3. The CBOR dump
 * is that of section 6. https://www.rfc-editor.org/rfc/rfc8428
 */
const RECEIVED_MS = Date.UTC(2026, 5, 1, 12, 0, 0);
const NOW_S = RECEIVED_MS / 1000;

function resolved(payload: Uint8Array, contentType: string | null = null): readonly ResolvedRecord[] {
  const decoded = decodePack(payload, contentType);
  if (decoded.kind !== 'decoded') throw new Error(decoded.detail);
  const pack = resolvePack(decoded.records, RECEIVED_MS);
  if (pack.kind !== 'records') throw new Error(pack.detail);
  return pack.outcomes.map((outcome) => {
    if (outcome.kind !== 'resolved') throw new Error(outcome.detail);
    return outcome.record;
  });
}

const json = (text: string) => toResolvedJson(resolved(Buffer.from(text)));

const ONE_WIRE = 'urn:dev:ow:10e2073a01080063';

const EXAMPLE_3 = `[
  {"bn":"urn:dev:ow:10e2073a0108006:","bt":1.276020076001e+09,"bu":"A","bver":5,"n":"voltage","u":"V","v":120.1},
  {"n":"current","t":-5,"v":1.2},{"n":"current","t":-4,"v":1.3},{"n":"current","t":-3,"v":1.4},
  {"n":"current","t":-2,"v":1.5},{"n":"current","t":-1,"v":1.6},{"n":"current","v":1.7}]`;

/** Section 6, the 195 bytes of example 3 in CBOR, line for line. */
const EXAMPLE_3_CBOR = Buffer.from(
  `87a72178 1b75726e 3a646576 3a6f773a 31306532 30373361 30313038 3030363a
   22fb41d3 03a15b00 10622361 41200500 67766f6c 74616765 01615602 fb405e06
   66666666 66a30067 63757272 656e7406 2402fb3f f3333333 333333a3 00676375
   7272656e 74062302 fb3ff4cc cccccccc cda30067 63757272 656e7406 2202fb3f
   f6666666 666666a3 00676375 7272656e 74062102 f93e00a3 00676375 7272656e
   74062002 fb3ff999 99999999 9aa30067 63757272 656e7406 0002fb3f fb333333
   333333`.replace(/\s/g, ''),
  'hex',
);

describe('RFC 8428, examples of section 5.1', () => {
  it('5.1.1: a single datapoint without a time is of now', () => {
    expect(json(`[{"n":"${ONE_WIRE}","u":"Cel","v":23.1}]`)).toEqual([{ n: ONE_WIRE, t: NOW_S, u: 'Cel', v: 23.1 }]);
  });

  it('5.1.2: the base name stands before each name', () => {
    expect(json(`[{"bn":"${ONE_WIRE}:","n":"voltage","u":"V","v":120.1},{"n":"current","u":"A","v":1.2}]`)).toEqual([
      { n: `${ONE_WIRE}:voltage`, t: NOW_S, u: 'V', v: 120.1 },
      { n: `${ONE_WIRE}:current`, t: NOW_S, u: 'A', v: 1.2 },
    ]);
  });

  it('5.1.2, second: base time, base unit and version 5 apply to all records, and the resolved ones are in order of time', () => {
    const base = 1.276020076001e9;
    const current = { bver: 5, n: 'urn:dev:ow:10e2073a0108006:current', u: 'A' };
    expect(json(EXAMPLE_3)).toEqual([
      { ...current, t: base - 5, v: 1.2 },
      { ...current, t: base - 4, v: 1.3 },
      { ...current, t: base - 3, v: 1.4 },
      { ...current, t: base - 2, v: 1.5 },
      { ...current, t: base - 1, v: 1.6 },
      { bver: 5, n: 'urn:dev:ow:10e2073a0108006:voltage', t: base, u: 'V', v: 120.1 },
      { ...current, t: base, v: 1.7 },
    ]);
    // The RFC names the base time: 2010-06-08 18:01:16.001 UTC.
    expect(new Date(Math.round(base * 1000)).toISOString()).toBe('2010-06-08T18:01:16.001Z');
  });

  it('5.1.3 resolves to what 5.1.4 prints', () => {
    const example = `[{"bn":"${ONE_WIRE}","bt":1.320067464e+09,"bu":"%RH","v":20},{"u":"lon","v":24.30621},
      {"u":"lat","v":60.07965},{"t":60,"v":20.3},{"u":"lon","t":60,"v":24.30622},{"u":"lat","t":60,"v":60.07965},
      {"t":120,"v":20.7},{"u":"lon","t":120,"v":24.30623},{"u":"lat","t":120,"v":60.07966},{"u":"%EL","t":150,"v":98},
      {"t":180,"v":21.2},{"u":"lon","t":180,"v":24.30628},{"u":"lat","t":180,"v":60.07967}]`;
    const n = ONE_WIRE;
    expect(json(example)).toEqual([
      { n, u: '%RH', t: 1320067464, v: 20 },
      { n, u: 'lon', t: 1320067464, v: 24.30621 },
      { n, u: 'lat', t: 1320067464, v: 60.07965 },
      { n, u: '%RH', t: 1320067524, v: 20.3 },
      { n, u: 'lon', t: 1320067524, v: 24.30622 },
      { n, u: 'lat', t: 1320067524, v: 60.07965 },
      { n, u: '%RH', t: 1320067584, v: 20.7 },
      { n, u: 'lon', t: 1320067584, v: 24.30623 },
      { n, u: 'lat', t: 1320067584, v: 60.07966 },
      { n, u: '%EL', t: 1320067614, v: 98 },
      { n, u: '%RH', t: 1320067644, v: 21.2 },
      { n, u: 'lon', t: 1320067644, v: 24.30628 },
      { n, u: 'lat', t: 1320067644, v: 60.07967 },
    ]);
  });

  it('5.1.5: numbers, texts, booleans and data each come as what they are', () => {
    const example = `[{"bn":"${ONE_WIRE}:","n":"temp","u":"Cel","v":23.1},{"n":"label","vs":"Machine Room"},
      {"n":"open","vb":false},{"n":"nfv-reader","vd":"aGkgCg"}]`;
    expect(json(example)).toEqual([
      { n: `${ONE_WIRE}:temp`, t: NOW_S, u: 'Cel', v: 23.1 },
      { n: `${ONE_WIRE}:label`, t: NOW_S, vs: 'Machine Room' },
      { n: `${ONE_WIRE}:open`, t: NOW_S, vb: false },
      { n: `${ONE_WIRE}:nfv-reader`, t: NOW_S, vd: 'aGkgCg' },
    ]);
    expect(Buffer.from('aGkgCg', 'base64url').toString()).toBe('hi \n');
  });

  it('5.1.6: a second base name takes the place of the first, while the base time carries on', () => {
    const example = `[{"bn":"2001:db8::2/","bt":1.320078429e+09,"n":"temperature","u":"Cel","v":25.2},
      {"n":"humidity","u":"%RH","v":30},{"bn":"2001:db8::1/","n":"temperature","u":"Cel","v":12.3},
      {"n":"humidity","u":"%RH","v":67}]`;
    expect(json(example)).toEqual([
      { n: '2001:db8::2/temperature', t: 1320078429, u: 'Cel', v: 25.2 },
      { n: '2001:db8::2/humidity', t: 1320078429, u: '%RH', v: 30 },
      { n: '2001:db8::1/temperature', t: 1320078429, u: 'Cel', v: 12.3 },
      { n: '2001:db8::1/humidity', t: 1320078429, u: '%RH', v: 67 },
    ]);
  });
});

describe('RFC 8428, section 6', () => {
  it('the printed CBOR dump is 195 bytes and resolves to the same records as the JSON', () => {
    expect(EXAMPLE_3_CBOR.length).toBe(0xc3);
    expect(resolved(EXAMPLE_3_CBOR)).toEqual(resolved(Buffer.from(EXAMPLE_3)));
    expect(resolved(EXAMPLE_3_CBOR, 'application/senml+cbor')).toHaveLength(7);
  });
});

describe('RFC 8428, section 4.5.3', () => {
  it('times below 2^28 are relative to now, the others absolute, from 1978-07-04 21:24:16 UTC on', () => {
    const at = (t: number) => resolved(Buffer.from(JSON.stringify([{ n: 'x', v: 1, t }])))[0];
    expect(at(2 ** 28)).toMatchObject({ timeS: Date.UTC(1978, 6, 4, 21, 24, 16) / 1000, relative: false });
    expect(at(2 ** 28 - 1)).toMatchObject({ timeS: NOW_S + 2 ** 28 - 1, relative: true });
    expect(at(-60)).toMatchObject({ timeS: NOW_S - 60, relative: true });
  });

  it('base time and time are added before that is decided', () => {
    const [record] = resolved(Buffer.from('[{"bn":"x","bt":-3600,"t":60,"v":1}]'));
    expect(record).toMatchObject({ timeS: NOW_S - 3540, relative: true });
  });
});

describe('RFC 8428, section 4.5.4', () => {
  it('base value and value are added, a missing one counting as zero; the same for sums', () => {
    expect(json('[{"bn":"a","bv":20,"bs":100,"v":1.5,"s":5},{"n":"b"}]')).toEqual([
      { n: 'a', t: NOW_S, v: 21.5, s: 105 },
      { n: 'ab', t: NOW_S, v: 20, s: 100 },
    ]);
  });
});
