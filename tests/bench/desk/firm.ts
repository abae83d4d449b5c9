import { type Browser, chromium } from 'playwright-core';
import type { Write } from '../../../src/domain/change-set.js';
import type { PotStatus } from '../../../src/domain/pot.js';
import { unpackChromium } from '../../support/chromium-setup.js';
import { siteDryIn } from '../../support/dispatch-crew.js';
import { startTestServer, TestClock, type TestServer } from '../../support/server.js';

/** Monday, 06:30 in Madrid. */
const NOW_MS = Date.UTC(2026, 7, 31, 4, 30);
const TECHNICIANS = 5;

/** A whole server with a firm of that size and its rounds planned, and a browser to look at it. */
export interface RunningFirm {
  readonly server: TestServer;
  readonly browser: Browser;
  /** Of the technicians, who sign in as the tests do. */
  readonly technicians: readonly string[];
  close(): Promise<void>;
}

export async function startFirm(containers: number, sites: number): Promise<RunningFirm> {
  const clock = new TestClock(NOW_MS);
  const { registry, statuses } = firm(containers, sites);
  const server = await startTestServer({ clock, seed: registry });
  const dispatcher = await server.login('dispatcher', { id: 'dispatcher' });
  const technicians = Array.from({ length: TECHNICIANS }, (_, k) => `tech${k + 1}`);
  for (const [k, id] of technicians.entries()) await server.addPerson('technician', { id, name: `Tech ${k + 1}` });
  await server.settle();
  // The analysis has said of each pot that it has no node; what it would say with readings comes after.
  await server.store.commit({
    atMs: NOW_MS,
    actor: { kind: 'command', id: 'bench' },
    writes: statuses,
    cursor: null,
  });
  await server.settle();
  await dispatcher.post('/api/v1/plan/run');
  await server.running.planner.idle();
  const executablePath = await unpackChromium();
  const browser = await chromium.launch({ executablePath, args: ['--no-sandbox', '--headless=shell'] });
  return {
    server,
    browser,
    technicians,
    close: async () => {
      await browser.close();
      await server.close();
    },
  };
}

interface Firm {
  readonly registry: readonly Write[];
  /** Where readings would have brought the pots. */
  readonly statuses: readonly Write[];
}

function firm(containers: number, sites: number): Firm {
  const each = Math.ceil(containers / sites);
  const made = Array.from({ length: sites }, (_, k) => siteDryIn(`S${k + 1}`, 0.6 + (k % 25) * 0.7, {}, NOW_MS));
  const rows: Write[] = [
    { kind: 'account', row: { id: 'A1', name: 'Larkspur House', dryRisk: 0.05 } },
    { kind: 'depot', row: { id: 'D1', name: 'Yard', latitude: 41.2, longitude: 1.7 } },
    ...Array.from(
      { length: TECHNICIANS },
      (_, k): Write => ({
        kind: 'truck',
        row: { id: `T${k + 1}`, name: `Truck ${k + 1}`, tankLitres: 800, depotId: 'D1' },
      }),
    ),
    ...made.map(({ site }): Write => ({ kind: 'site', row: { ...site, name: `Site ${site.id.slice(1)}` } })),
  ];
  const statuses: Write[] = [];
  let left = containers;
  for (const { site, pots } of made) {
    const [pattern] = pots;
    if (pattern === undefined) throw new Error(`site ${site.id} has no pot to copy`);
    for (let p = 0; p < each && left > 0; p++, left--) {
      const id = `${site.id}-P${p + 1}`;
      const status = pattern.status as PotStatus;
      rows.push({ kind: 'container', row: { ...pattern.container, id, name: `Pot ${p + 1}`, place: 'by the rail' } });
      statuses.push({
        kind: 'status',
        row: { ...status, containerId: id, nodeId: null, forecast: { ...status.forecast, containerId: id } },
      });
    }
  }
  return { registry: rows, statuses };
}
