import { describe, expect, it } from 'vitest';
import { alarmPerformance } from '../../src/app/fieldwork/alarm-performance.js';
import { alarmOverrides, overrideAlarm } from '../../src/app/fieldwork/alarm-settings.js';
import { actOnAlarm, alarm, alarms } from '../../src/app/fieldwork/alarms.js';
import { alerts, markAlertRead } from '../../src/app/fieldwork/alerts.js';
import { setSiteTerms } from '../../src/app/fieldwork/crew.js';
import { moveStop, planStop, removeStop, round, rounds, setOut } from '../../src/app/fieldwork/rounds.js';
import { addTask, cancelTask, task, tasks } from '../../src/app/fieldwork/tasks.js';
import { today } from '../../src/app/fieldwork/today.js';
import { verifyTasks } from '../../src/app/fieldwork/verify-tasks.js';
import { verifyVisits } from '../../src/app/fieldwork/verify-visits.js';
import { recordVisit, type VisitInput, visit } from '../../src/app/fieldwork/visits.js';
import { WHOLE_FLEET } from '../../src/domain/access.js';
import { usualSiteTerms } from '../../src/domain/crew.js';
import { addDays } from '../../src/domain/local-day.js';
import { DAY, type Garden, HOUR, MINUTE, MONDAY, plantGarden } from '../support/garden.js';
import { openTempStore } from '../support/temp-store.js';

/** Two terraces; pot S1P1 is thirsty and nearly dry on Monday morning, the others last for weeks. */
async function mondayMorning(): Promise<Garden> {
  const { store } = await openTempStore();
  const garden = await plantGarden(store, { draws: [[3.8, 0.6], [0.7]], fill: 0.95, startMs: MONDAY - 7 * DAY });
  await garden.runTo(MONDAY);
  return garden;
}

const TODAY = '2026-08-31';

function refill(garden: Garden, litres: number, more: Partial<VisitInput> = {}): VisitInput {
  const happenedMs = garden.clock.nowMs();
  return {
    id: 'v-1',
    siteId: 'S1',
    technicianId: 'tom',
    startedMs: happenedMs - 15 * MINUTE,
    happenedMs,
    actions: [{ containerId: 'S1P1', taskId: null, work: 'refill', litres, exception: null, note: null }],
    note: null,
    ...more,
  };
}

describe('a day of the crew', () => {
  it('goes from readings to a forecast, a task, a stop on a round, a visit and its proof by the level', async () => {
    const garden = await mondayMorning();
    const { app, dispatcher, technician } = garden;

    const morning = await today(app, dispatcher);
    expect(morning.counts).toMatchObject({ containers: 3, needVisit: 1, canWait: 2, stops: 1, stopsNotPlanned: 1 });
    const [stop] = morning.stops;
    expect(stop).toMatchObject({ siteId: 'S1', plan: null });
    expect(stop?.tasks[0]).toMatchObject({ kind: 'refill', containerId: 'S1P1', state: 'proposed' });
    expect(stop?.tasks[0]?.litres).toBeGreaterThan(27.4);
    expect(stop?.why[0]?.code).toBe('stop.due');
    expect(morning.alarms.map((view) => view.alarm.id)).toEqual(['dry:S1P1']);
    expect(await alerts(app, dispatcher, { includeWithdrawn: false })).toHaveLength(1);

    const planned = await planStop(app, dispatcher, { siteId: 'S1', technicianId: 'tom', day: TODAY, position: null });
    expect((await round(app, technician, { technicianId: 'tom', day: null })).stops[0]).toMatchObject({
      stop: { id: planned.id },
      site: { siteName: 'Terrace S1' },
      access: { notes: 'Ring at the gate', contacts: [] },
      tasks: [{ containerId: 'S1P1', state: 'planned' }],
    });
    // Planning is the decision that the alarm asked for.
    expect(await alarms(app, dispatcher, { includeNormal: false })).toEqual([]);
    expect(await alerts(app, dispatcher, { includeWithdrawn: false })).toEqual([]);
    const [told] = await alerts(app, technician, { includeWithdrawn: false });
    expect(told?.message.map((message) => message.code)).toEqual(['alert.stop', 'alert.task.refill']);

    await setOut(app, technician, planned.id);
    await garden.runTo(MONDAY + 3 * HOUR);
    garden.pot('S1P1').pour(26);
    await garden.runTo(MONDAY + 3.5 * HOUR);
    const receipt = await recordVisit(app, technician, refill(garden, 26));
    expect(receipt.recorded).toBe(true);
    expect((await tasks(app, dispatcher, { openOnly: false, siteId: 'S1', containerId: null }))[0]?.state).toBe('done');
    expect((await round(app, technician, { technicianId: 'tom', day: null })).stops[0]?.stop.state).toBe('done');
    expect(await alerts(app, technician, { includeWithdrawn: false })).toEqual([]);

    await garden.runTo(MONDAY + 4 * HOUR);
    expect(await verifyVisits(app)).toBe(0);
    await garden.runTo(MONDAY + 7 * HOUR);
    expect(await verifyVisits(app)).toBe(1);
    const [proof] = (await visit(app, dispatcher, 'v-1')).verifications;
    expect(proof?.outcome).toBe('confirmed');
    expect(proof?.measuredLitres).toBeGreaterThan(24);
    const [settled] = await tasks(app, dispatcher, { openOnly: false, siteId: 'S1', containerId: null });
    expect(settled?.state).toBe('verified');
    expect((await today(app, dispatcher)).counts).toMatchObject({ needVisit: 0, stops: 0, canWait: 3 });
  });

  it('opens the task again where the level contradicts the report, and says by how much', async () => {
    const garden = await mondayMorning();
    const { app, dispatcher, technician } = garden;
    await planStop(app, dispatcher, { siteId: 'S1', technicianId: 'tom', day: TODAY, position: null });
    garden.pot('S1P1').pour(2.5);
    await garden.runTo(MONDAY + HOUR);
    await recordVisit(app, technician, refill(garden, 18));
    await garden.runTo(MONDAY + 5 * HOUR);
    expect(await verifyVisits(app)).toBe(1);
    const [open] = await tasks(app, dispatcher, { openOnly: true, siteId: 'S1', containerId: 'S1P1' });
    expect(open).toMatchObject({ kind: 'refill', state: 'reopened', origin: 'verification' });
    expect(open?.reason[0]).toMatchObject({ code: 'task.reopened.contradicted', params: { reportedLitres: 18 } });
    expect(open?.reason[0]?.params.measuredLitres).toBeGreaterThan(1.5);
    expect(open?.reason[0]?.params.measuredLitres).toBeLessThan(3.5);
    expect((await today(app, dispatcher)).overnight.map((change) => change.message.code)).toContain(
      'overnight.reopened',
    );
  });

  it('says that it does not know where no readings follow for a day', async () => {
    const garden = await mondayMorning();
    await recordVisit(garden.app, garden.technician, refill(garden, 18));
    await garden.runTo(MONDAY + 20 * HOUR, ['S1P1']);
    expect(await verifyVisits(garden.app)).toBe(0);
    await garden.runTo(MONDAY + 25 * HOUR, ['S1P1']);
    expect(await verifyVisits(garden.app)).toBe(1);
    const [proof] = (await visit(garden.app, garden.dispatcher, 'v-1')).verifications;
    expect(proof?.outcome).toBe('no_data');
    expect(await verifyVisits(garden.app)).toBe(0);
  });

  it('says after all when the backlog of those hours comes in', async () => {
    const garden = await mondayMorning();
    const { app, dispatcher } = garden;
    await recordVisit(app, garden.technician, refill(garden, 18));
    garden.pot('S1P1').pour(18);
    const kept = garden.pot('S1P1').run(MONDAY + 25 * HOUR);
    await garden.runTo(MONDAY + 25 * HOUR);
    expect(await verifyVisits(app)).toBe(1);
    expect((await visit(app, dispatcher, 'v-1')).verifications).toMatchObject([{ outcome: 'no_data' }]);
    await garden.commit([{ kind: 'readings', rows: kept.map((row) => ({ ...row, receivedMs: MONDAY + 25 * HOUR })) }]);
    await garden.settle();
    expect(await verifyVisits(app)).toBe(1);
    expect((await visit(app, dispatcher, 'v-1')).verifications).toMatchObject([{ outcome: 'confirmed' }]);
    const [done] = await tasks(app, dispatcher, { openOnly: false, siteId: 'S1', containerId: 'S1P1' });
    expect(done?.state).toBe('verified');
  });

  it('asks the readings about other work too: a node that is heard again, or is not', async () => {
    const garden = await mondayMorning();
    const { app, dispatcher, technician } = garden;
    const visitFor = async (containerId: string, id: string): Promise<string> => {
      const asked = { containerId, kind: 'recover_node' as const, note: 'no lamp', litres: null, dueByMs: null };
      const { id: taskId } = await addTask(app, dispatcher, asked);
      const work = { containerId, taskId, work: 'other' as const, litres: null, exception: null, note: null };
      await recordVisit(app, technician, refill(garden, 0, { id, actions: [work] }));
      return taskId;
    };
    const heard = await visitFor('S1P2', 'v-heard');
    const silent = await visitFor('S1P1', 'v-silent');
    await garden.runTo(MONDAY + 25 * HOUR, ['S1P1']);
    expect(await verifyTasks(app)).toBe(2);
    expect(await task(app, dispatcher, heard)).toMatchObject({
      state: 'verified',
      verification: { code: 'verify.heard_again' },
    });
    const open = await task(app, dispatcher, silent);
    expect(open).toMatchObject({ state: 'reopened', origin: 'verification' });
    expect(open.reason[0]?.code).toBe('verify.still_silent');
    expect(await verifyTasks(app)).toBe(0);
  });

  it('cancels a refill that an unknown hand has made, and says so', async () => {
    const garden = await mondayMorning();
    garden.pot('S1P1').pour(27);
    await garden.runTo(MONDAY + 6 * HOUR);
    const all = await tasks(garden.app, garden.dispatcher, { openOnly: false, siteId: 'S1', containerId: 'S1P1' });
    expect(all.map((one) => one.state)).toEqual(['cancelled']);
    const history = await task(garden.app, garden.dispatcher, all[0]!.id);
    expect(history.transitions.at(-1)?.reason.code).toBe('task.moot.unknown_hand');
    const view = await today(garden.app, garden.dispatcher);
    expect(view.stops).toEqual([]);
    expect(view.overnight.map((change) => change.message.code)).toContain('overnight.refill');
    await garden.runTo(MONDAY + 7 * HOUR);
    // The alarm was never seen: it has returned to normal, and still wants to be.
    expect((await alarm(garden.app, garden.dispatcher, 'dry:S1P1')).alarm.state).toBe('returned_unacknowledged');
    expect(await alerts(garden.app, garden.dispatcher, { includeWithdrawn: false })).toEqual([]);
  });
});

describe('recording a visit', () => {
  it('records once what a phone sends twice, and refuses other contents under the same id', async () => {
    const garden = await mondayMorning();
    const input = refill(garden, 18);
    await recordVisit(garden.app, garden.technician, input);
    const seq = await garden.store.changes.lastSeq();
    expect((await recordVisit(garden.app, garden.technician, input)).recorded).toBe(false);
    expect(await garden.store.changes.lastSeq()).toBe(seq);
    await expect(recordVisit(garden.app, garden.technician, { ...input, note: 'again' })).rejects.toMatchObject({
      code: 'conflict',
    });
  });

  it('names every field that is wrong', async () => {
    const garden = await mondayMorning();
    const nowMs = garden.clock.nowMs();
    const wrong = refill(garden, -3, { startedMs: nowMs + 2 * HOUR, happenedMs: nowMs + HOUR });
    await expect(
      recordVisit(garden.app, garden.technician, {
        ...wrong,
        actions: [
          { ...wrong.actions[0]!, taskId: 'nothing' },
          { ...wrong.actions[0]!, containerId: 'S2P1' },
        ],
      }),
    ).rejects.toMatchObject({
      code: 'invalid_input',
      faults: [
        { pointer: '/happenedMs' },
        { pointer: '/startedMs' },
        { pointer: '/actions/0/litres' },
        { pointer: '/actions/0/taskId' },
        { pointer: '/actions/1/containerId' },
        { pointer: '/actions/1/litres' },
      ],
    });
  });

  it('does not let a technician record another one’s visit', async () => {
    const garden = await mondayMorning();
    await expect(recordVisit(garden.app, garden.other, refill(garden, 18))).rejects.toMatchObject({
      code: 'not_allowed',
    });
  });

  it('leaves a task open that could not be done, and settles one that was not needed', async () => {
    const garden = await mondayMorning();
    const input = refill(garden, 0);
    const action = { ...input.actions[0]!, litres: null };
    await recordVisit(garden.app, garden.technician, {
      ...input,
      actions: [{ ...action, exception: 'no_access', note: 'gate locked' }],
    });
    const query = { openOnly: true, siteId: 'S1', containerId: 'S1P1' } as const;
    expect(await tasks(garden.app, garden.dispatcher, query)).toHaveLength(1);
    await recordVisit(garden.app, garden.technician, {
      ...input,
      id: 'v-2',
      actions: [{ ...action, exception: 'not_needed', note: 'full to the brim' }],
    });
    expect(await tasks(garden.app, garden.dispatcher, query)).toEqual([]);
  });
});

describe('rounds by hand', () => {
  it('plans a site once a day, moves it between rounds and days, and keeps the order', async () => {
    const garden = await mondayMorning();
    const { app, dispatcher } = garden;
    const first = await planStop(app, dispatcher, { siteId: 'S1', technicianId: 'tom', day: TODAY, position: null });
    const again = await planStop(app, dispatcher, { siteId: 'S1', technicianId: 'tom', day: TODAY, position: null });
    expect(again).toEqual(first);
    await planStop(app, dispatcher, { siteId: 'S2', technicianId: 'tom', day: TODAY, position: 0 });
    const order = async (): Promise<readonly string[]> =>
      (await round(app, dispatcher, { technicianId: 'tom', day: TODAY })).stops.map((view) => view.stop.siteId);
    expect(await order()).toEqual(['S2', 'S1']);
    await moveStop(app, dispatcher, { stopId: first.id, technicianId: null, day: null, position: 0 });
    expect(await order()).toEqual(['S1', 'S2']);

    const moved = await planStop(app, dispatcher, { siteId: 'S1', technicianId: 'uma', day: TODAY, position: null });
    expect(await order()).toEqual(['S2']);
    const all = await rounds(app, dispatcher, { day: TODAY, technicianId: null });
    expect(all.map((one) => [one.technicianId, one.stops.length])).toEqual([
      ['tom', 1],
      ['uma', 1],
    ]);
    expect(await alerts(app, garden.other, { includeWithdrawn: false })).toHaveLength(1);
    expect(await alerts(app, garden.technician, { includeWithdrawn: false })).toEqual([]);

    await removeStop(app, dispatcher, moved.id);
    const [open] = await tasks(app, dispatcher, { openOnly: true, siteId: 'S1', containerId: null });
    expect(open?.state).toBe('proposed');
    expect(await alerts(app, dispatcher, { includeWithdrawn: false })).toHaveLength(1);
  });

  it('refuses a day that is over, somebody who drives no rounds, and a technician who plans', async () => {
    const garden = await mondayMorning();
    const input = { siteId: 'S1', technicianId: 'tom', day: TODAY, position: null };
    await expect(planStop(garden.app, garden.dispatcher, { ...input, day: '2026-08-30' })).rejects.toMatchObject({
      faults: [{ pointer: '/day' }],
    });
    await expect(planStop(garden.app, garden.dispatcher, { ...input, technicianId: 'dora' })).rejects.toMatchObject({
      faults: [{ pointer: '/technicianId' }],
    });
    await expect(planStop(garden.app, garden.technician, input)).rejects.toMatchObject({ code: 'not_allowed' });
  });

  it('shows a technician the own rounds only', async () => {
    const garden = await mondayMorning();
    await expect(round(garden.app, garden.technician, { technicianId: 'uma', day: TODAY })).rejects.toMatchObject({
      code: 'not_allowed',
    });
    const own = await rounds(garden.app, garden.technician, { day: TODAY, technicianId: null });
    expect(own.map((one) => one.technicianId)).toEqual(['tom']);
  });

  it('tells somebody with nothing to do today when and where the next round begins', async () => {
    const garden = await mondayMorning();
    const own = async () => (await rounds(garden.app, garden.technician, { day: TODAY, technicianId: null }))[0];
    expect(await own()).toMatchObject({ stops: [], nextRound: null });
    const input = { siteId: 'S1', technicianId: 'tom', day: addDays(TODAY, 3), position: null };
    await planStop(garden.app, garden.dispatcher, input);
    const nextRound = { day: addDays(TODAY, 3), stops: 1, firstSiteName: 'Terrace S1' };
    expect(await own()).toMatchObject({ stops: [], nextRound });
  });

  it('proposes the tasks of a stop again whose day went by without a visit', async () => {
    const garden = await mondayMorning();
    await planStop(garden.app, garden.dispatcher, { siteId: 'S1', technicianId: 'tom', day: TODAY, position: null });
    await garden.runTo(MONDAY + DAY);
    const stops = await garden.store.work.roundStops({ fromDay: TODAY, toDay: TODAY, technicianId: null });
    expect(stops.map((stop) => stop.state)).toEqual(['cancelled']);
    const [open] = await tasks(garden.app, garden.dispatcher, { openOnly: true, siteId: 'S1', containerId: null });
    expect(open).toMatchObject({ state: 'proposed', containerId: 'S1P1' });
    expect((await alarm(garden.app, garden.dispatcher, 'dry:S1P1')).alarm).toMatchObject({
      state: 'unacknowledged',
      // Its soil lasts until the crew can come again.
      priority: 'low',
      message: { code: 'alarm.dry.now' },
    });
  });
});

describe('a replanting that was agreed for the season', () => {
  it('is asked for at each pot of the site as soon as it was entered, and settled by the visit that did it', async () => {
    const garden = await mondayMorning();
    const { app, dispatcher, technician, store } = garden;
    const terms = { ...usualSiteTerms('S2'), replantOn: [addDays(TODAY, 6).slice(5)] };
    await setSiteTerms(app, dispatcher, terms);
    await garden.settle();
    const asked = async () =>
      (await tasks(app, dispatcher, { openOnly: true, siteId: 'S2', containerId: null })).filter(
        (one) => one.kind === 'replant',
      );
    const [task] = await asked();
    expect(task).toMatchObject({
      containerId: 'S2P1',
      state: 'proposed',
      reason: [{ code: 'task.reason.replant_season' }],
    });
    const action = {
      containerId: 'S2P1',
      taskId: null,
      work: 'replant',
      litres: null,
      exception: null,
      note: null,
    } as const;
    await recordVisit(app, technician, refill(garden, 0, { siteId: 'S2', actions: [action] }));
    await garden.settle();
    expect(await asked()).toEqual([]);
    await garden.runTo(MONDAY + 2 * DAY);
    expect(await asked()).toEqual([]);
    expect((await store.crew.siteTerms()).map(({ replantOn }) => replantOn)).toEqual([terms.replantOn]);
  });
});

describe('what people do to alarms and tasks', () => {
  it('keeps an acknowledgement that comes while the stage is at work', async () => {
    const garden = await mondayMorning();
    const acts = Promise.all([
      garden.runTo(MONDAY + 30 * MINUTE),
      actOnAlarm(garden.app, garden.dispatcher, 'dry:S1P1', { kind: 'acknowledge', note: 'on it' }),
    ]);
    await acts;
    const history = await alarm(garden.app, garden.dispatcher, 'dry:S1P1');
    expect(history.alarm).toMatchObject({ state: 'acknowledged', acknowledgedBy: 'dora' });
    expect(history.transitions.map((one) => one.to)).toEqual(['unacknowledged', 'acknowledged']);
  });

  it('says why it refuses', async () => {
    const garden = await mondayMorning();
    const { app, dispatcher } = garden;
    await expect(actOnAlarm(app, dispatcher, 'dry:S1P1', { kind: 'reset', note: null })).rejects.toMatchObject({
      code: 'conflict',
    });
    const tooLong = { kind: 'shelve', untilMs: MONDAY + 30 * DAY, reason: 'holiday' } as const;
    await expect(actOnAlarm(app, dispatcher, 'dry:S1P1', tooLong)).rejects.toMatchObject({ code: 'invalid_input' });
    await expect(actOnAlarm(app, garden.technician, 'dry:S1P1', { kind: 'unshelve' })).rejects.toMatchObject({
      code: 'not_allowed',
    });
    await expect(alarm(app, dispatcher, 'dry:S9')).rejects.toMatchObject({ code: 'not_found' });
  });

  it('brings a shelved alarm back when its time is up, though no reading comes', async () => {
    const garden = await mondayMorning();
    const { app, dispatcher } = garden;
    await actOnAlarm(app, dispatcher, 'dry:S1P1', { kind: 'shelve', untilMs: MONDAY + HOUR, reason: 'asked client' });
    expect((await alarm(app, dispatcher, 'dry:S1P1')).alarm.state).toBe('shelved');
    await garden.runTo(MONDAY + 90 * MINUTE);
    expect((await alarm(app, dispatcher, 'dry:S1P1')).alarm.state).toBe('unacknowledged');
  });

  it('joins a person’s request with what is open, and never withdraws it by a rule', async () => {
    const garden = await mondayMorning();
    const { app, dispatcher } = garden;
    const asked = { containerId: 'S1P1', kind: 'refill', note: 'client called', litres: null, dueByMs: null } as const;
    const joined = await addTask(app, dispatcher, asked);
    expect(joined.reason[0]).toMatchObject({ code: 'task.reason.asked', params: { person: 'Dora' } });
    const looks = await addTask(app, dispatcher, {
      ...asked,
      containerId: 'S1P2',
      kind: 'inspect',
      note: 'it looks sad',
    });
    garden.pot('S1P1').pour(27);
    await garden.runTo(MONDAY + 6 * HOUR);
    const open = await tasks(app, dispatcher, { openOnly: true, siteId: 'S1', containerId: null });
    expect(open.map((one) => one.id).sort()).toEqual([joined.id, looks.id].sort());
  });

  it('does not ask at once again for what a person has cancelled', async () => {
    const garden = await mondayMorning();
    const { app, dispatcher } = garden;
    const query = { openOnly: true, siteId: 'S1', containerId: 'S1P1' } as const;
    const [open] = await tasks(app, dispatcher, query);
    await cancelTask(app, dispatcher, open!.id, 'the client waters it today');
    await garden.runTo(MONDAY + 2 * HOUR);
    expect(await tasks(app, dispatcher, query)).toEqual([]);
    await expect(cancelTask(app, dispatcher, open!.id, 'twice')).rejects.toMatchObject({ code: 'conflict' });
    await garden.runTo(MONDAY + 26 * HOUR);
    expect(await tasks(app, dispatcher, query)).toHaveLength(1);
  });

  it('marks an own alert as read, once', async () => {
    const garden = await mondayMorning();
    const { app, dispatcher } = garden;
    const [own] = await alerts(app, dispatcher, { includeWithdrawn: false });
    const read = await markAlertRead(app, dispatcher, own!.id);
    garden.clock.advance(HOUR);
    expect((await markAlertRead(app, dispatcher, own!.id)).readMs).toBe(read.readMs);
    await expect(markAlertRead(app, garden.technician, own!.id)).rejects.toMatchObject({ code: 'not_found' });
  });
});

describe('how an alarm behaves at a place', () => {
  it('is changed with who and why on record, and refused with a fault for each number that cannot be', async () => {
    const garden = await mondayMorning();
    const { app, dispatcher } = garden;
    const nothing = { onDelayMs: null, offDelayMs: null, reAlarmAfterMs: null, deadbandHours: null, priority: null };
    const place = {
      kind: 'dry',
      siteId: 'S1',
      containerId: 'S1P1',
      ...nothing,
      reason: 'the client waters it',
    } as const;
    const settings = await overrideAlarm(app, dispatcher, { ...place, priority: 'low', offDelayMs: 4 * HOUR });
    expect(settings).toMatchObject({ priority: 'low', settings: { offDelayMs: 4 * HOUR, onDelayMs: 0 } });
    expect((await alarm(app, dispatcher, 'dry:S1P1')).alarm.priority).toBe('low');
    await overrideAlarm(app, dispatcher, { ...place, reason: 'no longer' });
    expect((await alarm(app, dispatcher, 'dry:S1P1')).alarm.priority).toBe('low');
    expect((await alarmOverrides(app, dispatcher, { siteId: 'S1' })).map((one) => [one.changedBy, one.reason])).toEqual(
      [
        ['dora', 'the client waters it'],
        ['dora', 'no longer'],
      ],
    );
    await expect(
      overrideAlarm(app, dispatcher, { ...place, onDelayMs: -1, deadbandHours: 1e9, reason: ' ' }),
    ).rejects.toMatchObject({
      faults: [{ pointer: '/onDelayMs' }, { pointer: '/deadbandHours' }, { pointer: '/reason' }],
    });
    await expect(overrideAlarm(app, dispatcher, { ...place, containerId: 'S2P1' })).rejects.toMatchObject({
      code: 'not_found',
    });
    await expect(overrideAlarm(app, garden.technician, place)).rejects.toMatchObject({ code: 'not_allowed' });
  });
});

describe('outages', () => {
  it('raises one alarm for a gateway with everything behind it silent, and one task', async () => {
    const { store } = await openTempStore();
    const garden = await plantGarden(store, { draws: [[0.6], [0.7, 0.5, 0.6]], startMs: MONDAY - 8 * DAY });
    await garden.runTo(MONDAY - DAY);
    const behind = ['S2P1', 'S2P2', 'S2P3'];
    await garden.runTo(MONDAY, behind);
    await garden.look();
    const standing = await alarms(garden.app, garden.dispatcher, { includeNormal: false });
    expect(standing.filter((view) => view.alarm.state === 'unacknowledged').map((view) => view.alarm.id)).toEqual([
      'outage:G2',
    ]);
    const hidden = standing.filter((view) => view.alarm.state === 'suppressed_by_design');
    expect(hidden.map((view) => view.suppressedBecause?.code)).toEqual(Array(3).fill('alarm.suppressed.outage'));
    const open = await tasks(garden.app, garden.dispatcher, { openOnly: true, siteId: 'S2', containerId: null });
    expect(open.filter((one) => one.kind === 'recover_node')).toHaveLength(1);
    const view = await today(garden.app, garden.dispatcher);
    expect(view.unknown.map((one) => one.pot.containerId).sort()).toEqual(behind);
    expect(view.unknown.every((one) => one.visitByMs !== null)).toBe(true);

    // The nodes are heard again one after the other, and none of them is a case of its own meanwhile.
    await garden.runTo(MONDAY + HOUR, behind.slice(1));
    await garden.look();
    const waking = await store.work.alarms(WHOLE_FLEET, { includeNormal: false, siteId: 'S2' });
    expect(waking.filter((one) => one.state === 'unacknowledged').map((one) => one.id)).toEqual(['outage:G2']);
    await garden.runTo(MONDAY + 2 * HOUR);
    const after = await store.work.alarms(WHOLE_FLEET, { includeNormal: false, siteId: 'S2' });
    expect(after.filter((one) => one.conditionActive)).toEqual([]);
  });
});

describe('how the alarms did', () => {
  it('is told in the standard’s figures, with the alarms that misbehave and what would cure them', async () => {
    const garden = await mondayMorning();
    await garden.runTo(MONDAY + 2 * DAY);
    const query = { fromMs: MONDAY - DAY, toMs: MONDAY + 2 * DAY };
    const told = await alarmPerformance(garden.app, garden.dispatcher, query);
    expect(told).toMatchObject({ operators: 1, alarms: 1, mostInTenMinutes: 1, floods: [], chattering: [] });
    expect(told.perOperatorDay).toBeCloseTo(1 / 3, 6);
    expect(told.stale).toMatchObject([{ alarmId: 'dry:S1P1', cure: 'performance.cure.stale' }]);
    await expect(
      alarmPerformance(garden.app, garden.dispatcher, { fromMs: MONDAY, toMs: MONDAY }),
    ).rejects.toMatchObject({ code: 'invalid_input' });
    await expect(alarmPerformance(garden.app, garden.client, query)).rejects.toMatchObject({ code: 'not_allowed' });
  });
});
