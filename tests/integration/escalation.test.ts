import { describe, expect, it } from 'vitest';
import type { App } from '../../src/app/context.js';
import { actOnAlarm, alarm as alarmHistory } from '../../src/app/fieldwork/alarms.js';
import { escalateAlarms } from '../../src/app/fieldwork/escalations.js';
import { METRIC_UNITS } from '../../src/app/people/people.js';
import type { Write } from '../../src/domain/change-set.js';
import type { Person, Role } from '../../src/domain/registry.js';
import { restingAlarm } from '../support/alarm-point.js';
import { TestClock } from '../support/server.js';
import { openTempStore, silentLog } from '../support/temp-store.js';
import { twoAccountsWrites } from '../support/two-accounts.js';

const NOW_MS = Date.UTC(2026, 5, 5, 8);
const HOUR_MS = 3_600_000;
const DISPATCHER = { personId: 'dispatcher', role: 'dispatcher', accountId: null } as const;

const person = (id: string, role: Role): Write => {
  const row: Person = {
    id,
    name: id,
    login: id,
    role,
    accountId: null,
    language: 'en',
    units: METRIC_UNITS,
    disabledAtMs: null,
  };
  return { kind: 'person', row };
};

describe('escalation in the store', () => {
  it('tells the owner once, keeps it in the alarm’s history, and takes it back when somebody acknowledges', async () => {
    const { store } = await openTempStore();
    const clock = new TestClock(NOW_MS);
    const app: App = { store, clock, log: silentLog };
    const raised = restingAlarm({
      id: 'waterlogged:C1',
      kind: 'waterlogged',
      state: 'unacknowledged',
      beneath: 'unacknowledged',
      conditionActive: true,
      raisedMs: NOW_MS,
    });
    const transition = {
      from: 'normal',
      to: 'unacknowledged',
      cause: 'condition_on',
      actor: 'rule',
      note: null,
      priority: 'medium',
    } as const;
    await store.commit({
      atMs: NOW_MS,
      actor: { kind: 'command', id: 'test' },
      cursor: null,
      writes: [
        ...twoAccountsWrites(),
        person('dispatcher', 'dispatcher'),
        person('olga', 'owner'),
        { kind: 'alarm', row: raised },
        { kind: 'alarm_transition', row: { ...transition, alarmId: raised.id, atMs: NOW_MS } },
      ],
    });
    clock.advance(47 * HOUR_MS);
    expect(await escalateAlarms(app)).toBe(0);
    clock.advance(HOUR_MS);
    expect(await escalateAlarms(app)).toBe(1);
    expect(await escalateAlarms(app)).toBe(0);
    const told = await store.work.alerts('olga', { includeWithdrawn: false });
    expect(told.map(({ topic }) => topic)).toEqual(['escalation:waterlogged:C1']);
    expect(await store.work.alerts('dispatcher', { includeWithdrawn: false })).toEqual([]);
    const { transitions } = await alarmHistory(app, DISPATCHER, raised.id);
    expect(transitions.map(({ cause }) => cause)).toEqual(['condition_on', 'escalated']);

    await actOnAlarm(app, DISPATCHER, raised.id, { kind: 'acknowledge', note: null });
    await escalateAlarms(app);
    const after = await store.work.alerts('olga', { includeWithdrawn: true });
    expect(after.map(({ withdrawnMs }) => withdrawnMs)).toEqual([clock.nowMs()]);
  });
});
