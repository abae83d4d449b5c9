import { Encoder } from 'cbor-x';
import type { NodeReading } from '../sensor/node.js';

/** One record of a pack, with names as RFC 8428 section 5 has them in JSON. */
export type PackRecord = Readonly<Record<string, string | number>>;

/** CBOR labels of RFC 8428 table 4. */
const LABELS: Readonly<Record<string, number>> = {
  bn: -2,
  bt: -3,
  bu: -4,
  bv: -5,
  bver: -1,
  n: 0,
  u: 1,
  v: 2,
  t: 6,
  ut: 7,
};
const encoder = new Encoder({ mapsAsObjects: false, useRecords: false, variableMapSize: true });

/** Readings of one node as one pack: base name and base time first, times of later records relative to it. */
export function readingPack(nodeId: string, readings: readonly NodeReading[], updateS: number): PackRecord[] {
  const baseS = Math.round((readings[0]?.timeMs ?? 0) / 1000);
  const records: PackRecord[] = [];
  for (const reading of readings) {
    const t = Math.round(reading.timeMs / 1000) - baseS;
    const at = t === 0 ? {} : { t };
    if (reading.levelMm !== null) records.push({ n: 'level', u: 'm', v: thousandth(reading.levelMm), ...at });
    if (reading.moistureFraction !== null) records.push({ n: 'moisture', u: '/', v: reading.moistureFraction, ...at });
    if (reading.temperatureC !== null) records.push({ n: 'temperature', u: 'Cel', v: reading.temperatureC, ...at });
    if (reading.batteryV !== null) records.push({ n: 'battery', u: 'V', v: reading.batteryV, ...at });
  }
  const [first, ...rest] = records;
  if (first === undefined) return [];
  return [{ bn: `${nodeId}/`, bt: baseS, ut: updateS, ...first }, ...rest];
}

/** mm to m without the tail that a binary division leaves. */
const thousandth = (mm: number): number => Math.round(mm * 10) / 10_000;

export interface StationSample {
  readonly timeMs: number;
  readonly temperatureC: number;
  readonly humidityFraction: number;
  readonly windMPerS: number;
  readonly solarWPerM2: number;
  readonly rainMm: number;
}

export function stationPack(stationId: string, sample: StationSample): PackRecord[] {
  return [
    {
      bn: `${stationId}/`,
      bt: Math.round(sample.timeMs / 1000),
      n: 'temperature',
      u: 'Cel',
      v: Math.round(sample.temperatureC * 10) / 10,
    },
    { n: 'humidity', u: '%RH', v: Math.round(sample.humidityFraction * 100) },
    { n: 'wind', u: 'm/s', v: Math.round(sample.windMPerS * 10) / 10 },
    { n: 'solar', u: 'W/m2', v: Math.round(sample.solarWPerM2) },
    { n: 'rain', u: 'mm', v: Math.round(sample.rainMm * 100) / 100 },
  ];
}

export function encodePack(records: readonly PackRecord[], format: 'json' | 'cbor'): Buffer {
  if (format === 'json') return Buffer.from(JSON.stringify(records), 'utf8');
  const maps = records.map(
    (record) => new Map(Object.entries(record).map(([name, value]) => [LABELS[name] ?? name, value] as const)),
  );
  return Buffer.from(encoder.encode(maps));
}
