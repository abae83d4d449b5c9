import { CATALOGUE } from '../../alerts/catalogue.js';
import { escalate, escalationTopic, isUnseen } from '../../alerts/escalation.js';
import { WHOLE_FLEET } from '../../domain/access.js';
import type { Write } from '../../domain/change-set.js';
import type { App } from '../context.js';
import { inTurn } from '../turns.js';

/**
 * Passes alarms that nobody acknowledged in time from the dispatchers on to the owners, once for each time that they
 * called, and takes back what owners were told of alarms that somebody has seen since.
 * @returns how many went on
 */
export function escalateAlarms(app: App): Promise<number> {
  return inTurn(app.store, async () => {
    const nowMs = app.clock.nowMs();
    const { work, people } = app.store;
    const alarms = await work.alarms(WHOLE_FLEET, { includeNormal: true, siteId: null });
    const owners = (await people.people())
      .filter((person) => person.role === 'owner' && person.disabledAtMs === null)
      .map(({ id }) => id);
    const told = await toldTopics(app, owners);
    const writes: Write[] = [];
    let went = 0;
    for (const alarm of alarms) {
      const topic = escalationTopic(alarm.id);
      if (!isUnseen(alarm) && !told.has(topic)) continue;
      const [history, standing] = await Promise.all([
        work.alarmTransitions(WHOLE_FLEET, alarm.id),
        work.standingAlerts(topic),
      ]);
      const { respondWithinMs } = CATALOGUE[alarm.kind];
      const result = escalate(alarm, history, standing, owners, nowMs, respondWithinMs);
      if (result.transition !== null) {
        went += 1;
        writes.push({ kind: 'alarm_transition', row: result.transition });
      }
      writes.push(...result.alerts.map((row): Write => ({ kind: 'alert', row })));
    }
    if (writes.length > 0) {
      await app.store.commit({ atMs: nowMs, actor: { kind: 'stage', id: 'escalation' }, writes, cursor: null });
    }
    return went;
  });
}

/** Topics of escalations that owners still see. */
async function toldTopics(app: App, owners: readonly string[]): Promise<ReadonlySet<string>> {
  const topics = new Set<string>();
  for (const id of owners) {
    const alerts = await app.store.work.alerts(id, { includeWithdrawn: false });
    for (const { topic } of alerts) topics.add(topic);
  }
  return topics;
}
