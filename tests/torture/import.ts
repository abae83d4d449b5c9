import { importFleet } from '../../src/app/readings/import-fleet.js';
import { openStore } from '../../src/store/open.js';
import { silentLog } from '../support/silent-log.js';

/** Makes a store in the folder with what a fleet file says. */
export async function importFleetFile(dir: string, fleet: string): Promise<void> {
  const store = await openStore({ dir, log: silentLog });
  try {
    await importFleet({ store, log: silentLog, clock: { nowMs: () => Date.now() } }, 'fleet.json', Buffer.from(fleet));
  } finally {
    await store.close();
  }
}
