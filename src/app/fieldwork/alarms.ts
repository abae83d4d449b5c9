import { type AlarmEvent, type AlarmRefusal, step } from '../../alerts/alarm-life.js';
import { CATALOGUE } from '../../alerts/catalogue.js';
import { pointSettings } from '../../alerts/point-settings.js';
import { type Principal, type Scope, WHOLE_FLEET } from '../../domain/access.js';
import type { Alarm, AlarmPriority, AlarmState } from '../../domain/alarm.js';
import { DomainError } from '../../domain/errors.js';
import type { EpochMs } from '../../domain/ids.js';
import { type App, allowed } from '../context.js';
import { inTurn } from '../turns.js';
import { settleSite } from './alarm-stage.js';
import { ViewBuilder } from './view-builder.js';
import type { AlarmHistory, AlarmView } from './work-views.js';

/** What a person may do to an alarm. */
export type AlarmAction =
  | { readonly kind: 'acknowledge'; readonly note: string | null }
  | { readonly kind: 'shelve'; readonly untilMs: EpochMs; readonly reason: string }
  | { readonly kind: 'unshelve' }
  | { readonly kind: 'suppress'; readonly reason: string }
  | { readonly kind: 'unsuppress' }
  | { readonly kind: 'take_out_of_service'; readonly reason: string }
  | { readonly kind: 'return_to_service' }
  | { readonly kind: 'reset'; readonly note: string | null };

/** Alarms that stand (all states but normal), the most pressing first; with `includeNormal` every alarm point. */
export async function alarms(
  app: App,
  who: Principal,
  query: { readonly includeNormal: boolean },
): Promise<readonly AlarmView[]> {
  const scope = allowed(who, 'alarms.read');
  const rows = await app.store.work.alarms(scope, { ...query, siteId: null });
  const views = await ViewBuilder.load(app.store, scope, app.clock.nowMs());
  return [...rows].sort(byPress).map((row) => views.alarm(row));
}

/** One alarm with its history. */
export async function alarm(app: App, who: Principal, alarmId: string): Promise<AlarmHistory> {
  const scope = allowed(who, 'alarms.read');
  return historyOf(app, scope, await find(app, scope, alarmId));
}

/**
 * Does something to an alarm.
 * @throws DomainError `conflict` where the alarm's state does not allow it, `invalid_input` for a shelving in the past or
 * longer than a week
 */
export async function actOnAlarm(
  app: App,
  who: Principal,
  alarmId: string,
  action: AlarmAction,
): Promise<AlarmHistory> {
  const scope = allowed(who, 'alarms.act');
  await inTurn(app.store, async () => {
    const before = await find(app, scope, alarmId);
    const nowMs = app.clock.nowMs();
    const event: AlarmEvent = { ...action, by: who.personId };
    const overrides = before.siteId === null ? [] : await app.store.work.alarmOverrides(WHOLE_FLEET, before.siteId);
    const { settings } = pointSettings(overrides, before.kind, before.containerId);
    const result = step(before, event, nowMs, settings);
    if (result.refused !== null) throw refusal(result.refused, before);
    await app.store.commit({
      atMs: nowMs,
      actor: { kind: 'person', id: who.personId },
      writes: [
        { kind: 'alarm', row: result.alarm },
        ...result.transitions.map((row) => ({ kind: 'alarm_transition', row }) as const),
      ],
      cursor: null,
    });
    await settleSite(app, before.siteId);
  });
  return historyOf(app, scope, await find(app, scope, alarmId));
}

async function find(app: App, scope: Scope, alarmId: string): Promise<Alarm> {
  const row = await app.store.work.alarm(scope, alarmId);
  if (row === null) throw new DomainError('not_found', `There is no alarm ${alarmId}.`);
  return row;
}

async function historyOf(app: App, scope: Scope, row: Alarm): Promise<AlarmHistory> {
  const views = await ViewBuilder.load(app.store, WHOLE_FLEET, app.clock.nowMs());
  return { ...views.alarm(row), transitions: await app.store.work.alarmTransitions(scope, row.id) };
}

function refusal(refused: AlarmRefusal, before: Alarm): DomainError {
  switch (refused) {
    case 'shelving_in_the_past':
      return invalid('lies in the past; give an instant to come');
    case 'shelving_too_long':
      return invalid(
        `is too far off; nobody shelves this kind for more than ${CATALOGUE[before.kind].settings.maxShelvingMs / 86_400_000} days`,
      );
    case 'nothing_to_acknowledge':
      return conflict(before, 'there is nothing to acknowledge');
    case 'not_latched':
      return conflict(before, 'it is not latched, so there is nothing to reset');
    case 'still_active':
      return conflict(before, 'its condition still holds; it can be reset once it is gone');
    case 'already_held':
      return conflict(before, 'it is shelved, suppressed or out of service already; end that first');
    case 'not_shelved':
      return conflict(before, 'it is not shelved');
    case 'not_suppressed':
      return conflict(before, 'it is not suppressed');
    case 'not_out_of_service':
      return conflict(before, 'it is not out of service');
  }
}

function conflict(before: Alarm, why: string): DomainError {
  return new DomainError('conflict', `Alarm ${before.id} is ${before.state.replaceAll('_', ' ')}: ${why}.`);
}

function invalid(detail: string): DomainError {
  return new DomainError('invalid_input', `The end of shelving ${detail}.`, {
    faults: [{ pointer: '/untilMs', detail }],
  });
}

const PRESS: Readonly<Record<AlarmState, number>> = {
  unacknowledged: 0,
  latched_unacknowledged: 1,
  acknowledged: 2,
  latched_acknowledged: 3,
  returned_unacknowledged: 4,
  shelved: 5,
  suppressed_by_design: 6,
  out_of_service: 7,
  normal: 8,
};
const PRIORITY: Readonly<Record<AlarmPriority, number>> = { high: 0, medium: 1, low: 2 };

/** The most pressing first. */
export function byPress(a: Alarm, b: Alarm): number {
  return (
    PRESS[a.state] - PRESS[b.state] ||
    PRIORITY[a.priority] - PRIORITY[b.priority] ||
    (a.raisedMs ?? a.conditionSinceMs) - (b.raisedMs ?? b.conditionSinceMs) ||
    (a.id < b.id ? -1 : 1)
  );
}
