import { describe, expect, it } from 'vitest';
import type { App } from '../../src/app/context.js';
import { importFleet } from '../../src/app/readings/import-fleet.js';
import { importVisits } from '../../src/app/readings/import-visits.js';
import { openTempStore, silentLog } from '../support/temp-store.js';

const NOW_MS = Date.parse('2026-08-31T04:30:00Z');

const FLEET = {
  accounts: [{ id: 'A1', name: 'Harbour' }],
  sites: [
    {
      id: 'S1',
      accountId: 'A1',
      name: 'Terrace',
      latitude: 41.2,
      longitude: 2.1,
      elevationM: 5,
      timeZone: 'Europe/Madrid',
      tap: true,
    },
  ],
  containers: ['C1', 'C2'].map((id) => ({
    id,
    siteId: 'S1',
    name: id,
    covered: false,
    installedOn: '2026-03-01',
    reservoir: {
      strapping: [
        [0, 0],
        [120, 20],
      ],
      overflowMm: 120,
      wickFootMm: 8,
    },
    soil: { litres: 55, surfaceM2: 0.28 },
    potKg: 31,
  })),
  assignments: [],
  people: [
    {
      id: 'P3',
      name: 'Ines',
      login: 'ines',
      role: 'technician',
      accountId: null,
      language: 'en',
      units: { volume: 'L', length: 'mm', temperature: 'Cel' },
    },
  ],
};

const HEADER = 'visit,site,technician,time,container,work,litres\n';
const GOOD =
  'V1,S1,P3,2026-08-01T07:00:00Z,C1,refill,12.5\nV1,S1,P3,2026-08-01T07:10:00Z,C2,refill,\nV2,S1,P3,2026-08-08T07:00:00Z,C1,drain,3\n';

async function* bytes(text: string) {
  yield Buffer.from(text);
}

async function garden(): Promise<App> {
  const { store } = await openTempStore();
  const app: App = { store, clock: { nowMs: () => NOW_MS }, log: silentLog };
  await importFleet(app, 'fleet.json', Buffer.from(JSON.stringify(FLEET)));
  return app;
}

describe('visits of the past', () => {
  it('are recorded at the time they happened, one a visit id, and once however often the file is read', async () => {
    const app = await garden();
    const first = await importVisits(app, { name: 'visits.csv', input: bytes(HEADER + GOOD) });
    expect(first).toEqual({ rows: 3, visitsTaken: 2, visitsRepeated: 0, refused: [] });
    const visit = await app.store.work.visit('V1');
    expect(visit?.happenedMs).toBe(Date.parse('2026-08-01T07:10:00Z'));
    expect(visit?.actions.map(({ containerId, litres }) => [containerId, litres])).toEqual([
      ['C1', 12.5],
      ['C2', null],
    ]);
    const again = await importVisits(app, { name: 'visits.csv', input: bytes(HEADER + GOOD) });
    expect(again).toMatchObject({ visitsTaken: 0, visitsRepeated: 2 });
  });

  it('name each bad row by its line and take the others', async () => {
    const app = await garden();
    const bad = [
      'V3,S1,P3,2026-08-01T07:00:00Z,C1,prune,1',
      'V4,S1,P3,yesterday,C1,refill,1',
      'V5,S1,P3,2026-08-01T07:00:00Z,C1,refill,much',
      'V6,S1,P3,2027-08-01T07:00:00Z,C1,refill,1',
      'V7,S1,nobody,2026-08-01T07:00:00Z,C1,refill,1',
      'V8,S1,P3,2026-08-01T07:00:00Z,C9,refill,1',
      'V9,S1',
    ];
    const summary = await importVisits(app, {
      name: 'visits.csv',
      input: bytes(`${HEADER}${GOOD}${bad.join('\n')}\n`),
    });
    expect(summary.visitsTaken).toBe(2);
    expect(summary.refused.map(({ line }) => line).sort((a, b) => a - b)).toEqual([5, 6, 7, 8, 9, 10, 11]);
    expect(summary.refused.every(({ detail }) => detail.length > 10)).toBe(true);
  });
});
