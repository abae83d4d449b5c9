import { CATALOGUE } from '../../alerts/catalogue.js';
import { CREW_TOPIC } from '../../alerts/crew-room.js';
import { decideDelivery, type Occasion } from '../../alerts/delivery-rules.js';
import { entriesFor } from '../../alerts/outbox-rules.js';
import { WHOLE_FLEET } from '../../domain/access.js';
import type { AlarmKind } from '../../domain/alarm.js';
import type { Write } from '../../domain/change-set.js';
import type { EpochMs } from '../../domain/ids.js';
import type { Address, ContactRules } from '../../domain/notify.js';
import type { Person } from '../../domain/registry.js';
import type { Alert } from '../../domain/work.js';
import type { App } from '../context.js';

export const NOTIFY_STAGE = 'notify';

const PAGE = 500;

/** Quiet from eight in the evening to six, when the digest comes, for who has set nothing else. */
export function usualRules(person: Person, timeZone: string): ContactRules {
  return {
    personId: person.id,
    timeZone,
    siteIds: null,
    minimumPriority: 'low',
    kinds: null,
    working: null,
    quiet: { fromMinute: 20 * 60, toMinute: 6 * 60 },
    digestMinute: 6 * 60,
    away: [],
    standInId: null,
  };
}

/**
 * Turns changed alerts into outbox entries, in the transaction that moves the stage's cursor: none is lost in a crash,
 * and none is written twice.
 * @param zoneOf the firm's zone, for people who have set none
 * @returns how many lines of the change log were dealt with
 */
export async function runNotifyStage(app: App, zoneOf: () => Promise<string>): Promise<number> {
  const expectedSeq = await app.store.changes.cursor(NOTIFY_STAGE);
  const changes = await app.store.changes.after(expectedSeq, PAGE);
  const last = changes.at(-1);
  if (last === undefined) return 0;
  const nowMs = app.clock.nowMs();
  const alertIds = new Set(changes.filter(({ kind }) => kind === 'alert').map(({ key }) => key));
  const writes: Write[] = [];
  if (alertIds.size > 0) {
    const [timeZone, firm] = await Promise.all([zoneOf(), app.store.notify.addresses(null)]);
    for (const id of alertIds) {
      const alert = await app.store.work.alert(id);
      if (alert === null) continue;
      const occasion = await occasionOf(app, alert);
      writes.push(...(await tellPerson(app, alert, occasion, timeZone, nowMs)));
      writes.push(...(await tellFirm(app, alert, occasion, firm, nowMs)));
    }
  }
  await app.store.commit({
    atMs: nowMs,
    actor: { kind: 'stage', id: NOTIFY_STAGE },
    writes,
    cursor: { stage: NOTIFY_STAGE, expectedSeq, nextSeq: last.seq },
  });
  return changes.length;
}

async function tellPerson(
  app: App,
  alert: Alert,
  occasion: Occasion,
  timeZone: string,
  nowMs: EpochMs,
): Promise<readonly Write[]> {
  const { store } = app;
  const person = await store.people.person(alert.personId);
  if (person === null) return [];
  let reader = person;
  let rules = (await store.notify.rules(person.id)) ?? usualRules(person, timeZone);
  let decision = decideDelivery(rules, occasion, nowMs);
  if (decision.kind === 'stand_in') {
    const standIn = await store.people.person(decision.personId);
    if (standIn === null) return [];
    reader = standIn;
    // A stand-in who is away as well hears of it: passing it on without end would tell nobody.
    rules = { ...((await store.notify.rules(standIn.id)) ?? usualRules(standIn, timeZone)), standInId: null };
    decision = decideDelivery(rules, occasion, nowMs);
  }
  const isMoot = alert.withdrawnMs !== null;
  if (decision.kind === 'not_wanted' && !isMoot) return [];
  const notBeforeMs = decision.kind === 'digest' && !isMoot ? decision.atMs : nowMs;
  const addresses = reader.disabledAtMs === null ? await store.notify.addresses(reader.id) : [];
  const entries = entriesFor(
    { alert, addresses, urgent: occasion.urgent, notBeforeMs },
    await store.notify.ofTopic(alert.topic),
    nowMs,
  );
  return entries.map((row): Write => ({ kind: 'outbox', row }));
}

/**
 * Webhooks and topics of the firm hear of every alert at once, whoever it is for: quiet hours are a person's. One topic
 * a person, since two people may be told different things of one stop.
 */
async function tellFirm(
  app: App,
  alert: Alert,
  occasion: Occasion,
  addresses: readonly Address[],
  nowMs: EpochMs,
): Promise<readonly Write[]> {
  if (addresses.length === 0) return [];
  const own: Alert = { ...alert, topic: `${alert.topic}:${alert.personId}`, readMs: null };
  const entries = entriesFor(
    { alert: own, addresses, urgent: occasion.urgent, notBeforeMs: nowMs },
    await app.store.notify.ofTopic(own.topic),
    nowMs,
  );
  return entries.map((row): Write => ({ kind: 'outbox', row }));
}

/** An alert weighs as much as the gravest alarm that stands behind it; one that is high breaks quiet hours. */
async function occasionOf(app: App, alert: Alert): Promise<Occasion> {
  const { crew_full: crewFull } = CATALOGUE;
  if (alert.topic === CREW_TOPIC) {
    return { siteId: null, priority: crewFull.priority, kinds: ['crew_full'], urgent: crewFull.priority === 'high' };
  }
  // What is about no site, as the digest, is for whoever gets it; it can wait.
  if (alert.siteId === null) return { siteId: null, priority: 'high', kinds: [], urgent: false };
  const rank = { low: 0, medium: 1, high: 2 } as const;
  const alarms = await app.store.work.alarms(WHOLE_FLEET, { includeNormal: false, siteId: alert.siteId });
  let priority: keyof typeof rank = 'low';
  const kinds = new Set<AlarmKind>();
  for (const alarm of alarms) {
    const isAbout = alarm.acknowledgedMs === null && alarm.conditionActive;
    if (isAbout) kinds.add(alarm.kind);
    if (isAbout && rank[alarm.priority] > rank[priority]) priority = alarm.priority;
  }
  return { siteId: alert.siteId, priority, kinds: [...kinds], urgent: priority === 'high' };
}
