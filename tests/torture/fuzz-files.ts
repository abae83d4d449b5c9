import { encode } from 'cbor-x';
import { type CsvFormat, readCsv } from '../../src/app/readings/import-csv-table.js';
import { readFleetFile } from '../../src/app/readings/import-fleet.js';
import { readingsFormat } from '../../src/app/readings/import-readings.js';
import { weatherFormat } from '../../src/app/readings/import-weather.js';
import { DomainError } from '../../src/domain/errors.js';
import { windAt2mMPerS } from '../../src/domain/formulas/fao56.js';
import type { Fleet } from '../../src/domain/registry.js';
import { readNodePack, readWeatherPack } from '../../src/domain/senml/read-pack.js';
import { seededRng } from '../support/pot-series.js';
import { tortureFleet } from './fleet.js';
import type { Target } from './fuzz.js';
import { mutated } from './mutate.js';

const NOW_MS = Date.UTC(2026, 5, 1);

const PACKS = [
  [
    { n: 'level', u: 'mm', v: 83 },
    { n: 'moisture', u: '/', v: 0.31 },
    { n: 'battery', u: 'V', v: 3.57 },
  ],
  [
    { bn: 'N1/', bt: 1_767_225_600, bu: 'mm', n: 'level', v: 80, t: -3_600 },
    { n: 'level', v: 81 },
  ],
  [
    { n: 'temperature', u: 'K', v: 293.15, ut: 900 },
    { n: 'signal', u: 'dBW', v: -100 },
  ],
  [
    { n: 'rain', u: 'mm', v: 0.2 },
    { n: 'wind10', u: 'm/s', v: 3 },
    { n: 'pressure', u: 'Pa', v: 101_300 },
  ],
];

const READINGS = `node,time,level_mm,moisture_pct,temperature_c,battery_v
N1,2026-03-01T10:00:00Z,83.5,31,20.1,3.57
"N1",2026-03-01T10:15:00Z,,30.9,,
`;

const WEATHER = `site,date,tmin_c,tmax_c,humidity_pct,wind_ms,solar_mj,rain_mm,et0_mm,issued
S1,2026-03-01,8,17,70,2.1,14.2,0.4,,
S1,2026-03-02,8,18,,,,0,3.1,2026-03-01T04:00:00Z
`;

const EMPTY_FLEET: Fleet = {
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

/** The decoders that run without a server. */
export const fuzzFiles: readonly Target[] = [
  target(
    'senml-json',
    PACKS.map((pack) => Buffer.from(JSON.stringify(pack))),
    (bytes) => decode(bytes),
  ),
  target(
    'senml-cbor',
    PACKS.map((pack) => Buffer.from(encode(pack))),
    (bytes) => decode(bytes),
  ),
  target('fleet-file', [Buffer.from(tortureFleet())], async (bytes) => {
    readFleetFile('fleet.json', bytes, EMPTY_FLEET);
  }),
  target('readings', [Buffer.from(READINGS)], (bytes) =>
    readAll(bytes, readingsFormat({ nowMs: NOW_MS, knowsNode: (id) => id === 'N1', firstAssignmentMs: () => null })),
  ),
  target('weather', [Buffer.from(WEATHER)], (bytes) =>
    readAll(bytes, weatherFormat({ nowMs: NOW_MS, timeZone: (id) => (id === 'S1' ? 'Europe/Madrid' : null) })),
  ),
];

async function decode(payload: Buffer): Promise<void> {
  const input = { payload, contentType: null, receivedMs: NOW_MS, retained: false };
  readNodePack(input, 'N1', 0);
  readWeatherPack(input, 'S1', (windMPerS) => windAt2mMPerS(windMPerS, 10));
}

async function readAll<Row>(bytes: Buffer, format: CsvFormat<Row>): Promise<void> {
  const chunks = (async function* () {
    yield bytes.subarray(0, bytes.length >> 1);
    yield bytes.subarray(bytes.length >> 1);
  })();
  for await (const _batch of readCsv(chunks, 'fuzz.csv', format));
}

function target(name: string, samples: readonly Buffer[], take: (bytes: Buffer) => Promise<void>): Target {
  return {
    name,
    run: async ({ seed, untilMs }) => {
      const random = seededRng(seed);
      const faults: string[] = [];
      let inputs = 0;
      while (Date.now() < untilMs) {
        const bytes = mutated(samples, random);
        inputs += 1;
        try {
          await take(bytes);
        } catch (error) {
          // A refusal in words is an answer.
          if (error instanceof DomainError) continue;
          faults.push(
            `${error instanceof Error ? error.stack : String(error)}\n    input (base64): ${bytes.toString('base64')}`,
          );
        }
      }
      return { inputs, faults };
    },
  };
}
