import { makeClient } from '../api/client.js';
import { withEarly } from '../api/early.js';
import { makeResources } from '../api/resources.js';
import { DeviceStorage, sendVisit } from '../api/visits.js';
import { LiveCache } from '../state/live-cache.js';
import { Outbox } from '../state/outbox.js';

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
const role = localStorage.getItem(KEPT_ROLE);
const roundFirst = role === 'technician' || (role === null && location.hash.startsWith('#/round'));

export const client = withEarly(
  makeClient(API_BASE, () => whenSignedOut()),
  roundFirst ? ['/session', '/rounds'] : ['/session'],
);
export const resources = makeResources(client);
export const storage = new DeviceStorage();
export const outbox = new Outbox(storage, (id, record) => sendVisit(client, id, record));
