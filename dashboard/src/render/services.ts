import { makeClient } from '../api/client.js';
import { withEarly } from '../api/early.js';
import { makeResources } from '../api/resources.js';
import { DeviceStorage, sendVisit } from '../api/visits.js';
import { LiveCache } from '../state/live-cache.js';
import { Outbox } from '../state/outbox.js';
import { parseRoute } from '../state/route.js';

/** The one wiring of the page: what lives as long as the tab does. */
export const API_BASE = '/api/v1';

export const cache = new LiveCache({
  nowMs: () => performance.now(),
  later: (run, delayMs) => {
    const timer = setTimeout(run, delayMs);
    return () => clearTimeout(timer);
  },
});

let whenSignedOut = (): void => {};

/** Says what to do when the server no longer knows the session. */
export function onSignedOut(run: () => void): void {
  whenSignedOut = run;
}

/** Whose device this is, so that the first screen's question can be asked before the server has said who it is. */
export const KEPT_ROLE = 'brimline.role';
export const client = withEarly(
  makeClient(API_BASE, () => whenSignedOut()),
  ['/session', ...firstQuestions(localStorage.getItem(KEPT_ROLE), location.hash)],
);
export const resources = makeResources(client);
export const storage = new DeviceStorage();
export const outbox = new Outbox(storage, (id, record) => sendVisit(client, id, record));

/** What the screen that opens first will ask, as far as the device's role and the address tell. */
function firstQuestions(role: string | null, hash: string): readonly string[] {
  const starts = role === 'technician' ? 'round' : role === 'dispatcher' ? 'today' : null;
  const screen = parseRoute(hash)?.screen ?? starts;
  if (screen === 'today') return ['/today'];
  if (screen !== 'round') return [];
  return [role === 'dispatcher' || role === 'owner' ? '/plan' : '/rounds'];
}
