import { describe, expect, test } from 'vitest';
import { WHOLE_FLEET } from '../../../src/domain/access.js';
import type { Write, WriteKind } from '../../../src/domain/change-set.js';
import type { Store } from '../../../src/domain/ports/store.js';
import { openTempStore } from '../../support/temp-store.js';
import { changeSet, DAY, HOUR, idsOf, MESSAGE, T0, visitOf, worldOf } from './worlds.js';

const ids = idsOf('A');
const ALL_TASKS = { openOnly: false, settledSinceMs: null, siteId: null, containerId: null } as const;

type RowOf<Kind extends WriteKind> =
  Extract<Write, { readonly kind: Kind }> extends { readonly row: infer Row } ? Row : never;

function rowOf<Kind extends WriteKind>(kind: Kind): RowOf<Kind> {
  const write = worldOf('A').find((candidate) => candidate.kind === kind);
  if (write === undefined || !('row' in write)) throw new Error(`the world has no ${kind}`);
  return write.row as RowOf<Kind>;
}

const put = (store: Store, ...writes: Write[]) => store.commit(changeSet(writes));

async function worldStore(): Promise<Store> {
  const { store } = await openTempStore();
  await store.commit(changeSet(worldOf('A')));
  return store;
}

describe('alarms', () => {
  test('come back as they were written, with their transitions in order', async () => {
    const store = await worldStore();
    const alarm = rowOf('alarm');
    expect(await store.work.alarm(WHOLE_FLEET, alarm.id)).toEqual(alarm);
    const acknowledged = {
      ...alarm,
      state: 'acknowledged',
      beneath: 'acknowledged',
      acknowledgedMs: T0,
      acknowledgedBy: ids.person,
    } as const;
    const step = { ...rowOf('alarm_transition'), from: 'unacknowledged', to: 'acknowledged', note: 'seen' } as const;
    await put(store, { kind: 'alarm', row: acknowledged }, { kind: 'alarm_transition', row: step });
    expect(await store.work.alarms(WHOLE_FLEET, { includeNormal: false, siteId: null })).toEqual([acknowledged]);
    expect(await store.work.alarmTransitions(WHOLE_FLEET, alarm.id)).toEqual([rowOf('alarm_transition'), step]);
    expect(await store.work.alarm(WHOLE_FLEET, 'nothing')).toBeNull();
  });

  test('keep every change of how they behave at a place, in order', async () => {
    const store = await worldStore();
    const first = rowOf('alarm_override');
    const second = { ...first, onDelayMs: null, deadbandHours: null, priority: null, changedMs: T0 + HOUR } as const;
    await put(store, { kind: 'alarm_override', row: second });
    expect(await store.work.alarmOverrides(WHOLE_FLEET, ids.site)).toEqual([first, second]);
    expect(await store.work.alarmOverrides(WHOLE_FLEET, 'elsewhere')).toEqual([]);
  });

  test('that are normal are listed only where that is asked for', async () => {
    const store = await worldStore();
    await put(store, {
      kind: 'alarm',
      row: { ...rowOf('alarm'), state: 'normal', beneath: 'normal', conditionActive: false },
    });
    expect(await store.work.alarms(WHOLE_FLEET, { includeNormal: false, siteId: null })).toEqual([]);
    expect(await store.work.alarms(WHOLE_FLEET, { includeNormal: true, siteId: ids.site })).toHaveLength(1);
    expect(await store.work.alarms(WHOLE_FLEET, { includeNormal: true, siteId: 'elsewhere' })).toEqual([]);
  });
});

describe('tasks', () => {
  test('come back as they were written, with their transitions in order', async () => {
    const store = await worldStore();
    const task = { ...rowOf('task'), verification: MESSAGE, findingId: ids.finding, cautions: [] };
    const step = { ...rowOf('task_transition'), from: 'proposed', to: 'planned' } as const;
    await put(store, { kind: 'task', row: task }, { kind: 'task_transition', row: step });
    expect(await store.work.task(WHOLE_FLEET, task.id)).toEqual(task);
    expect(await store.work.taskTransitions(task.id)).toEqual([rowOf('task_transition'), step]);
  });

  test('that are open are listed by due time, with those settled since an instant where asked', async () => {
    const store = await worldStore();
    const task = rowOf('task');
    await put(
      store,
      { kind: 'task', row: { ...task, id: 'sooner', kind: 'feed', dueByMs: T0 + DAY, state: 'reopened' } },
      { kind: 'task', row: { ...task, id: 'old', kind: 'drain', state: 'verified', changedMs: T0 - DAY } },
      {
        kind: 'task',
        row: { ...task, id: 'settled', kind: 'flush_salts', state: 'done', changedMs: T0 + 5, dueByMs: T0 + 3 * DAY },
      },
    );
    const listed = async (filter: object) =>
      (await store.work.tasks(WHOLE_FLEET, { ...ALL_TASKS, ...filter })).map(({ id }) => id);
    expect(await listed({ openOnly: true })).toEqual(['sooner', ids.task]);
    expect(await listed({ openOnly: true, settledSinceMs: T0 + 5 })).toEqual(['sooner', ids.task, 'settled']);
    expect(await listed({ openOnly: true, settledSinceMs: T0, siteId: ids.site })).toEqual([
      'sooner',
      ids.task,
      'settled',
    ]);
    expect(await listed({ openOnly: true, containerId: ids.container })).toEqual(['sooner', ids.task]);
    expect(await listed({ siteId: 'elsewhere' })).toEqual([]);
    expect(await listed({ containerId: ids.container })).toEqual(['sooner', ids.task, 'old', 'settled']);
  });
});

describe('visits', () => {
  test('come back as they were recorded, by container, site and time', async () => {
    const store = await worldStore();
    const visit = visitOf('A');
    expect(await store.work.visit(visit.id)).toEqual(visit);
    const listed = async (filter: object) =>
      (
        await store.work.visits(WHOLE_FLEET, { containerId: null, siteId: null, fromMs: T0, toMs: T0 + DAY, ...filter })
      ).map(({ id }) => id);
    expect(await listed({})).toEqual([visit.id]);
    expect(await listed({ containerId: ids.container })).toEqual([visit.id]);
    expect(await listed({ containerId: 'other' })).toEqual([]);
    expect(await listed({ siteId: ids.site, fromMs: T0 + HOUR, toMs: T0 + HOUR + 1 })).toEqual([visit.id]);
    expect(await listed({ siteId: ids.site, toMs: T0 + HOUR })).toEqual([]);
  });

  test('sent twice are recorded once, and a mended one replaces its actions', async () => {
    const store = await worldStore();
    const seq = await store.changes.lastSeq();
    await put(store, { kind: 'visit', row: visitOf('A') });
    expect(await store.changes.lastSeq()).toBe(seq);
    const mended = visitOf('A', {
      actions: [
        ...visitOf('A').actions,
        {
          containerId: ids.container,
          taskId: null,
          work: 'other',
          litres: null,
          exception: 'damaged',
          note: 'cracked rim',
        },
      ],
    });
    await put(store, { kind: 'visit', row: mended });
    expect(await store.work.visit(mended.id)).toEqual(mended);
    expect(await store.changes.after(seq, 10)).toMatchObject([
      { kind: 'visit', containerId: ids.container, fromMs: T0 },
    ]);
  });

  test('wait for the sensor’s word until there is one', async () => {
    const store = await worldStore();
    const visit = visitOf('A');
    const [action] = visit.actions;
    expect(await store.work.unverifiedActions(T0)).toEqual([{ visit, action }]);
    expect(await store.work.unverifiedActions(T0 + 2 * HOUR)).toEqual([]);
    const verification = {
      visitId: visit.id,
      containerId: ids.container,
      outcome: 'confirmed',
      measuredLitres: 11.4,
      atMs: T0 + 3 * HOUR,
      message: MESSAGE,
    } as const;
    await put(store, { kind: 'visit_verification', row: verification });
    expect(await store.work.unverifiedActions(T0)).toEqual([]);
    expect(await store.work.verifications(visit.id)).toEqual([verification]);
  });
});

describe('rounds, alerts and jobs', () => {
  test('stops are listed by day, technician and position', async () => {
    const store = await worldStore();
    const stop = rowOf('round_stop');
    await put(store, { kind: 'round_stop', row: { ...stop, id: 'first', position: 0 } });
    const listed = async (technicianId: string | null, fromDay: string) =>
      (await store.work.roundStops({ fromDay, toDay: '2026-06-30', technicianId })).map(({ id }) => id);
    expect(await listed(null, '2026-06-01')).toEqual(['first', stop.id]);
    expect(await listed(ids.person, '2026-06-11')).toEqual(['first', stop.id]);
    expect(await listed('nobody', '2026-06-01')).toEqual([]);
    expect(await listed(null, '2026-06-12')).toEqual([]);
  });

  test('alerts are updated in place, and a withdrawn one is shown only where asked', async () => {
    const store = await worldStore();
    const alert = rowOf('alert');
    expect(await store.work.alerts(ids.person, { includeWithdrawn: false })).toEqual([alert]);
    expect(await store.work.standingAlerts(alert.topic)).toEqual([alert]);
    const withdrawn = { ...alert, revision: 2, changedMs: T0 + 1, withdrawnMs: T0 + 1 };
    await put(store, { kind: 'alert', row: withdrawn });
    expect(await store.work.alerts(ids.person, { includeWithdrawn: false })).toEqual([]);
    expect(await store.work.alerts(ids.person, { includeWithdrawn: true })).toEqual([withdrawn]);
    expect(await store.work.standingAlerts(alert.topic)).toEqual([]);
    expect(await store.work.alert(alert.id)).toEqual(withdrawn);
  });

  test('a job remembers when it ran last', async () => {
    const store = await worldStore();
    expect(await store.work.jobLastRan('digest')).toBeNull();
    await put(store, { kind: 'job_ran', job: 'digest', atMs: T0 });
    await put(store, { kind: 'job_ran', job: 'digest', atMs: T0 + DAY });
    expect(await store.work.jobLastRan('digest')).toBe(T0 + DAY);
  });
});
