import type { Write } from '../../domain/change-set.js';
import type { EpochMs } from '../../domain/ids.js';
import type { Message } from '../../domain/message.js';
import type { Alert } from '../../domain/work.js';
import type { App } from '../context.js';
import { inTurn } from '../turns.js';
import { today } from './today.js';

const DIGEST_TOPIC = 'digest';

/**
 * The morning's one message to each dispatcher: what cannot wait, what is unknown, what nobody has seen. It takes the
 * place of the day before's.
 * @param away when nobody was looking, where the server was off
 */
export function morningDigest(
  app: App,
  away: { readonly fromMs: EpochMs; readonly toMs: EpochMs } | null,
): Promise<number> {
  return inTurn(app.store, async () => {
    const nowMs = app.clock.nowMs();
    const people = await app.store.people.people();
    const dispatchers = people.filter((person) => person.role === 'dispatcher' && person.disabledAtMs === null);
    const first = dispatchers[0];
    if (first === undefined) return 0;
    const message = await digest(app, first.id, away);
    const standing = await app.store.work.standingAlerts(DIGEST_TOPIC);
    const writes = [
      ...standing.map(
        (alert): Write => ({
          kind: 'alert',
          row: { ...alert, revision: alert.revision + 1, changedMs: nowMs, withdrawnMs: nowMs },
        }),
      ),
      ...dispatchers.map((person): Write => ({ kind: 'alert', row: newDigest(person.id, message, nowMs) })),
    ];
    await app.store.commit({ atMs: nowMs, actor: { kind: 'stage', id: 'digest' }, writes, cursor: null });
    return dispatchers.length;
  });
}

async function digest(
  app: App,
  personId: string,
  away: { readonly fromMs: EpochMs; readonly toMs: EpochMs } | null,
): Promise<readonly Message[]> {
  const view = await today(app, { personId, role: 'dispatcher', accountId: null });
  const { stops, needVisit, litres, unknown, alarmsUnacknowledged } = view.counts;
  const quiet = stops === 0 && unknown === 0 && alarmsUnacknowledged === 0;
  const head: Message = quiet
    ? { code: 'alert.digest_quiet', params: {} }
    : { code: 'alert.digest', params: { stops, needVisit, litres, unknown, alarms: alarmsUnacknowledged } };
  return away === null ? [head] : [{ code: 'alert.digest_away', params: { ...away } }, head];
}

function newDigest(personId: string, message: readonly Message[], nowMs: EpochMs): Alert {
  return {
    id: `${DIGEST_TOPIC}:${personId}:${nowMs}`,
    personId,
    topic: DIGEST_TOPIC,
    revision: 1,
    message,
    siteId: null,
    containerIds: [],
    createdMs: nowMs,
    changedMs: nowMs,
    readMs: null,
    withdrawnMs: null,
  };
}
