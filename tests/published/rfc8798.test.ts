import { describe, expect, it } from 'vitest';
import { resolvePack } from '../../src/domain/senml/resolve.js';
import { takeQuantity } from '../../src/domain/senml/take.js';
import { NODE_QUANTITIES, type QuantityRule, WEATHER_QUANTITIES } from '../../src/domain/senml/units.js';

/**
 * C. Bormann: Additional Units for Sensor Measurement Lists (SenML), RFC 8798, June 2020, table 2 (secondary units:
 * value in the primary unit = value * scale + offset). C. Bormann: SenML Features and Versions, RFC 9100, August 2021.
 */
const TIME_S = 1_780_000_000;

function taken<Field extends string>(
  name: string,
  unit: string,
  value: number,
  quantities: ReadonlyMap<string, readonly QuantityRule<Field>[]>,
  bver?: number,
): unknown {
  const pack = resolvePack([{ n: name, u: unit, v: value, t: TIME_S, ...(bver === undefined ? {} : { bver }) }], 0);
  if (pack.kind !== 'records' || pack.outcomes[0]?.kind !== 'resolved') return pack;
  const result = takeQuantity(pack.outcomes[0].record, quantities);
  return result.kind === 'taken' ? { [result.field]: result.value } : result.refusal;
}

const node = (name: string, unit: string, value: number, bver?: number) =>
  taken(name, unit, value, NODE_QUANTITIES, bver);
const station = (name: string, unit: string, value: number) => taken(name, unit, value, WEATHER_QUANTITIES);

describe('RFC 8798, secondary units', () => {
  it('mm is 1/1000 m and cm is 1/100 m', () => {
    expect(node('level', 'mm', 57)).toEqual(node('level', 'm', 0.057));
    expect(node('level', 'cm', 5.7)).toEqual(node('level', 'm', 0.057));
  });

  it('mV is 1/1000 V', () => expect(node('battery', 'mV', 3012)).toEqual({ batteryV: 3.012 }));

  it('/100 is 1/100 of the ratio', () => expect(node('moisture', '/100', 31)).toEqual({ moistureFraction: 0.31 }));

  it('dBm is dBW with an offset of -30: the example, 10 dBm, is -20 dBW', () => {
    expect(node('signal', 'dBm', 10)).toEqual(node('signal', 'dBW', -20));
  });

  it('hPa is 100 Pa and km/h is 1/3.6 m/s', () => {
    expect(station('pressure', 'hPa', 1013.25)).toEqual({ pressurePa: 101_325 });
    expect(station('wind', 'km/h', 36)).toEqual({ windMPerS: 10 });
  });
});

describe('RFC 9100, versions', () => {
  it('26 (10 and the bit of secondary units) is understood, and secondary units are taken without it as well', () => {
    expect(node('level', 'mm', 57, 26)).toEqual({ levelMm: 57 });
    expect(node('level', 'mm', 57, 10)).toEqual({ levelMm: 57 });
  });

  it('42 (bit 5, a feature that is not known here) is refused, although 26 is understood', () => {
    expect(node('level', 'mm', 57, 42)).toMatchObject({ kind: 'refused' });
    expect(node('level', 'mm', 57, 11)).toMatchObject({ kind: 'refused' });
  });
});

describe('RFC 8428, section 12.1', () => {
  it('% is the same ratio 0-1 as /', () => {
    expect(node('moisture', '%', 0.31)).toEqual({ moistureFraction: 0.31 });
    expect(node('moisture', '/', 0.31)).toEqual({ moistureFraction: 0.31 });
    expect(node('moisture', '%', 31)).toBe('ratio_out_of_range');
  });

  it('K is kelvin; 273.15 K is 0 °C', () => expect(node('temperature', 'K', 295.15)).toEqual({ temperatureC: 22 }));
});
