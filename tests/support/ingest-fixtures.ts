import type { App } from '../../src/app/context.js';
import { importFleet } from '../../src/app/readings/import-fleet.js';
import type { Principal } from '../../src/domain/access.js';
import { openTempStore, silentLog } from './temp-store.js';

/** The instant at which the tests of ingest take place. */
export const NOW_MS = Date.UTC(2026, 7, 31, 6, 0, 0);

export const OWNER: Principal = { personId: 'owner', role: 'owner', accountId: null };

/** A fleet of one account and one site in Madrid's zone with two containers; N1 stands in C1 from 1 March on. */
export function smallFleet(): Record<string, Record<string, unknown>[]> {
  const reservoir = {
    strapping: [
      [0, 0],
      [60, 9.4],
      [120, 20.1],
    ],
    overflowMm: 120,
    wickFootMm: 8,
  };
  const soil = { litres: 55, surfaceM2: 0.28 };
  const container = { siteId: 'S1', covered: false, installedOn: '2026-03-01', reservoir, soil };
  return {
    accounts: [{ id: 'A1', name: 'Harbour Hotel' }],
    sites: [
      {
        id: 'S1',
        accountId: 'A1',
        name: 'Roof terrace',
        latitude: 41.2,
        longitude: 2.1,
        elevationM: 5,
        timeZone: 'Europe/Madrid',
        tap: true,
      },
    ],
    containers: [
      { ...container, id: 'C1', name: 'Olive by the door', nodeId: 'N1' },
      { ...container, id: 'C2', name: 'Agave', reservoir: { ...reservoir, wickFootMm: 10 } },
    ],
    assignments: [],
  };
}

export interface TestApp extends App {
  readonly dir: string;
  /** Sets the business clock. */
  setNowMs(ms: number): void;
}

/** A store of its own with a fleet in it; removed when the test ends. */
export async function openFleetStore(fleet: object = smallFleet()): Promise<TestApp> {
  const { store, dir } = await openTempStore();
  let nowMs = NOW_MS;
  const app = {
    store,
    dir,
    log: silentLog,
    clock: { nowMs: () => nowMs },
    setNowMs: (ms: number) => {
      nowMs = ms;
    },
  };
  await importFleet(app, 'fleet.json', Buffer.from(JSON.stringify(fleet)));
  return app;
}

/** Text as a file's stream, cut into chunks of a given size. */
export async function* fileOf(text: string | Uint8Array, chunkBytes = 1 << 16): AsyncGenerator<Uint8Array> {
  const bytes = Buffer.from(text);
  for (let at = 0; at < bytes.length; at += chunkBytes) yield bytes.subarray(at, at + chunkBytes);
}
