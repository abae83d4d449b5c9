import type { Principal } from '../../domain/access.js';
import { DomainError } from '../../domain/errors.js';
import type { Alert } from '../../domain/work.js';
import { type App, allowed } from '../context.js';
import { inTurn } from '../turns.js';

/** The person's own alerts, newest first. */
export async function alerts(
  app: App,
  who: Principal,
  query: { readonly includeWithdrawn: boolean },
): Promise<readonly Alert[]> {
  allowed(who, 'alerts.read', { accountId: null, personId: who.personId });
  const rows = await app.store.work.alerts(who.personId, query);
  return [...rows].sort((a, b) => b.changedMs - a.changedMs || (a.id < b.id ? -1 : 1));
}

/** Marks an own alert as read; reading it twice changes nothing. */
export async function markAlertRead(app: App, who: Principal, alertId: string): Promise<Alert> {
  allowed(who, 'alerts.read', { accountId: null, personId: who.personId });
  return inTurn(app.store, async () => {
    const own = await app.store.work.alerts(who.personId, { includeWithdrawn: true });
    const alert = own.find((candidate) => candidate.id === alertId);
    if (alert === undefined) throw new DomainError('not_found', `There is no alert ${alertId} of yours.`);
    if (alert.readMs !== null) return alert;
    const nowMs = app.clock.nowMs();
    const read: Alert = { ...alert, readMs: nowMs };
    await app.store.commit({
      atMs: nowMs,
      actor: { kind: 'person', id: who.personId },
      writes: [{ kind: 'alert', row: read }],
      cursor: null,
    });
    return read;
  });
}
