import { describe, expect, it } from 'vitest';
import { reconcileAlarms } from '../../../src/alerts/reconcile-alarms.js';
import { reconcileTasks } from '../../../src/alerts/reconcile-tasks.js';
import { litresToFill } from '../../../src/alerts/refill-rules.js';
import { TASK_CATALOGUE } from '../../../src/alerts/task-catalogue.js';
import { wantedTasks } from '../../../src/alerts/task-rules.js';
import type { Task } from '../../../src/domain/work.js';
import { testContainer, testSite } from '../../support/garden.js';
import {
  DAY,
  findingOf,
  gainOf,
  HOUR,
  MONDAY,
  potWith,
  siteWith,
  statusWith,
  stopOn,
  taskOf,
} from '../../support/situations.js';

describe('a refill task', () => {
  it('is asked for days before the pot may be dry, with why, how much and by when', () => {
    const [task] = wantedTasks(siteWith([potWith(2)]));
    expect(task).toMatchObject({
      kind: 'refill',
      origin: 'forecast',
      dueByMs: MONDAY + 2 * DAY,
      reason: [{ code: 'task.reason.refill', params: { rateLitresPerDay: 2, dryP10Ms: MONDAY + 2 * DAY } }],
    });
    expect(wantedTasks(siteWith([potWith(6)]))).toEqual([]);
  });

  it('plans the litres up to the overflow less what is there when it is due', () => {
    const status = statusWith('C1', 2, { litres: 10 });
    // Two days at 2 L/d leave 6 of the 10 L, in a pot of 30 L.
    expect(litresToFill(status, MONDAY + 2 * DAY)).toBeCloseTo(24, 6);
    // Below the wick foot nothing draws: 1.5 L stay.
    expect(litresToFill(status, MONDAY + 30 * DAY)).toBeCloseTo(28.5, 6);
  });

  it('is held back by likely rain that will do most of it, while the dry alarm stays', () => {
    const rain = (litres: number, days: number) => ({ rainToCome: { byMs: MONDAY + days * DAY, litres } });
    const kinds = (pot: Parameters<typeof siteWith>[0][number]) =>
      wantedTasks(siteWith([pot])).map((task) => task.kind);
    expect(kinds(potWith(1, rain(20, 0.8)))).toEqual([]);
    const ten = MONDAY + 3.5 * HOUR;
    const late = siteWith([potWith(0.9, rain(20, 0.8), ten)], { nowMs: ten });
    expect(reconcileAlarms(late).all).toMatchObject([{ kind: 'dry' }]);
    expect(kinds(potWith(1, rain(5, 0.8)))).toEqual(['refill']);
    expect(kinds(potWith(1, rain(20, 2)))).toEqual(['refill']);
    const dry = potWith(0, { ...rain(20, 0.1), status: statusWith('C1', 0, { levelMm: 9 }) });
    expect(kinds(dry)).toEqual(['refill']);
  });

  it('says of a pot that is not heard that its last forecast goes on', () => {
    const pot = potWith(1);
    const status = { ...pot.status!, forecast: { ...pot.status!.forecast, knowledge: 'silent' as const } };
    const [task] = wantedTasks(siteWith([{ ...pot, status }]));
    expect(task?.reason[0]?.code).toBe('task.reason.refill_unheard');
  });

  it('shows the backflow caution only where there is a tap', () => {
    const cautions = (tap: boolean) =>
      wantedTasks(siteWith([potWith(1)], { site: { ...testSite('S1'), tap } }))[0]?.cautions;
    expect(cautions(true)).toContain('caution.backflow');
    expect(cautions(false)).not.toContain('caution.backflow');
  });

  it('is brought up to date in place where a person would plan otherwise, and left alone where not', () => {
    const made = reconcileTasks(siteWith([potWith(2)])).all;
    const wavers = reconcileTasks(siteWith([potWith(2.05)], { tasks: made }));
    expect(wavers.changed).toEqual([]);
    const moved = reconcileTasks(siteWith([potWith(1)], { tasks: made }));
    expect(moved.changed).toMatchObject([{ id: made[0]?.id, dueByMs: MONDAY + DAY }]);
    expect(moved.transitions).toEqual([]);
  });

  it.each([
    ['rain', gainOf('rain', 12, MONDAY - HOUR), 'task.moot.rain'],
    ['an unknown hand', gainOf('refill', 12, MONDAY - HOUR), 'task.moot.unknown_hand'],
  ] as const)('is cancelled with its cause when %s has filled the pot', (_who, event, code) => {
    const situation = siteWith([potWith(9, { recentEvents: [event] })], { tasks: [taskOf('refill')] });
    const { changed, transitions } = reconcileTasks(situation);
    expect(changed).toMatchObject([{ state: 'cancelled' }]);
    expect(transitions).toMatchObject([{ to: 'cancelled', reason: { code } }]);
  });

  it('is cancelled with the forecast as its cause when that reaches further, and not while it wavers', () => {
    expect(reconcileTasks(siteWith([potWith(9)], { tasks: [taskOf('refill')] })).transitions).toMatchObject([
      { to: 'cancelled', reason: { code: 'task.moot.forecast' } },
    ]);
    expect(reconcileTasks(siteWith([potWith(3.5)], { tasks: [taskOf('refill')] })).transitions).toEqual([]);
  });

  it('is not asked for again while the readings have yet to speak of the last one', () => {
    const done = taskOf('refill', { state: 'done', changedMs: MONDAY - 2 * HOUR });
    expect(reconcileTasks(siteWith([potWith(1)], { tasks: [done] })).changed).toEqual([]);
    const longAgo = { ...done, changedMs: MONDAY - 30 * HOUR };
    expect(reconcileTasks(siteWith([potWith(1)], { tasks: [longAgo] })).changed).toMatchObject([{ state: 'proposed' }]);
  });

  it('stays open after the sensor has contradicted a report, until the pot is filled', () => {
    const reopened = taskOf('refill', { state: 'reopened', origin: 'verification', changedMs: MONDAY - HOUR });
    expect(reconcileTasks(siteWith([potWith(9)], { tasks: [reopened] })).changed).toEqual([]);
    const filled = potWith(9, { recentEvents: [gainOf('refill', 18, MONDAY - 10 * 60_000)] });
    expect(reconcileTasks(siteWith([filled], { tasks: [reopened] })).changed).toMatchObject([{ state: 'cancelled' }]);
  });
});

describe('tasks from findings', () => {
  const cases = [
    ['leak', 'find_leak'],
    ['overflow_blocked', 'clear_overflow'],
    ['overflow_partly_blocked', 'clear_overflow'],
    ['wick_failed', 'retest_wick'],
    ['waterlogged', 'drain'],
    ['demand_collapsed', 'inspect'],
    ['sensor_stuck', 'check_sensor'],
    ['sensor_drift', 'check_sensor'],
    ['sensor_unplugged', 'check_sensor'],
    ['sensor_fouled', 'check_sensor'],
    ['node_silent', 'recover_node'],
    ['nodes_swapped', 'check_sensor'],
    ['clock_wrong', 'recover_node'],
    ['battery_low', 'replace_battery'],
  ] as const;
  it.each(cases)('a finding of %s asks for %s', (kind, task) => {
    const situation = siteWith([potWith(30, { findings: [findingOf(kind)] })]);
    expect(wantedTasks(situation)).toMatchObject([
      {
        kind: task,
        findingId: findingOf(kind).id,
        cautions: expect.any(Array),
        reason: [{ code: `task.reason.${kind}` }],
      },
    ]);
  });

  it('sends nobody for a mere suspicion of a leak', () => {
    const pot = potWith(30, { findings: [findingOf('leak', { severity: 'low' })] });
    expect(wantedTasks(siteWith([pot]))).toEqual([]);
    expect(reconcileAlarms(siteWith([pot])).all).toEqual([]);
  });

  it('makes one task of two findings that one look settles', () => {
    const findings = [findingOf('sensor_stuck'), findingOf('sensor_fouled', { openedMs: MONDAY - 30 * 60_000 })];
    const wanted = wantedTasks(siteWith([potWith(30, { findings })]));
    expect(wanted).toHaveLength(1);
    expect(wanted[0]?.reason.map((message) => message.code)).toEqual([
      'task.reason.sensor_stuck',
      'task.reason.sensor_fouled',
    ]);
  });

  it('waits for the roots of a new planting before it doubts the wick or the plants', () => {
    const container = testContainer('C1', 'S1', { installedOn: '2026-08-20' });
    const findings = [findingOf('wick_failed'), findingOf('demand_collapsed')];
    expect(wantedTasks(siteWith([potWith(30, { container, findings })]))).toEqual([]);
    const { all } = reconcileAlarms(siteWith([potWith(30, { container, findings })]));
    expect(all).toMatchObject([{ kind: 'wick_failed', state: 'suppressed_by_design', heldBy: 'rule:new_planting' }]);
  });

  it('verifies what was done when the finding goes, and opens it again when it stays', () => {
    const done = taskOf('clear_overflow', { state: 'done', findingId: 'f', changedMs: MONDAY - DAY });
    expect(reconcileTasks(siteWith([potWith(30)], { tasks: [done] })).changed).toMatchObject([{ state: 'verified' }]);
    const still = potWith(30, { findings: [findingOf('overflow_blocked', { openedMs: MONDAY - 6 * DAY })] });
    expect(reconcileTasks(siteWith([still], { tasks: [done] })).changed).toEqual([]);
    const later = { nowMs: MONDAY + 3 * DAY, tasks: [done] };
    expect(reconcileTasks(siteWith([still], later)).changed).toMatchObject([{ id: done.id, state: 'reopened' }]);
  });

  it('keeps the look at a leak that stopped at its own height, since its alarm is latched', () => {
    const leaking = siteWith([potWith(30, { findings: [findingOf('leak')] })]);
    const alarms = reconcileAlarms(leaking).all;
    const tasks = reconcileTasks({ ...leaking, alarms }).all;
    const nowMs = MONDAY + 2 * DAY;
    const stopped = siteWith([potWith(30, {}, nowMs)], { nowMs, alarms, tasks });
    const after = reconcileAlarms(stopped).all;
    const later = siteWith([potWith(30, {}, nowMs + 2 * DAY)], { nowMs: nowMs + 2 * DAY, alarms: after, tasks });
    const latched = reconcileAlarms(later).all;
    expect(latched[0]?.state).toBe('latched_unacknowledged');
    expect(reconcileTasks({ ...later, alarms: latched }).changed).toEqual([]);
  });

  it('shows the lifting caution where a heavy pot has to be moved', () => {
    const heavy = potWith(30, { findings: [findingOf('leak')] });
    const light = potWith(30, {
      container: testContainer('C1', 'S1', { potKg: 2, soil: { litres: 5, surfaceM2: 0.05 } }),
      status: statusWith('C1', 30, { litres: 3 }),
      findings: [findingOf('leak')],
    });
    expect(wantedTasks(siteWith([heavy]))[0]?.cautions).toContain('caution.lifting');
    expect(wantedTasks(siteWith([light]))[0]?.cautions).not.toContain('caution.lifting');
  });
});

describe('tasks and rounds', () => {
  it('follow the stop of their site onto a round, on the way, and off it again', () => {
    const proposed = reconcileTasks(siteWith([potWith(1)])).all;
    const planned = reconcileTasks(siteWith([potWith(1)], { tasks: proposed, stops: [stopOn('2026-08-31')] })).all;
    expect(planned).toMatchObject([{ state: 'planned' }]);
    const onTheWay = stopOn('2026-08-31', { state: 'on_the_way' });
    const moving = reconcileTasks(siteWith([potWith(1)], { tasks: planned, stops: [onTheWay] })).all;
    expect(moving).toMatchObject([{ state: 'on_the_way' }]);
    expect(reconcileTasks(siteWith([potWith(1)], { tasks: moving })).all).toMatchObject([{ state: 'proposed' }]);
  });

  it('hold back the alarms of the pots that somebody is working at, for a while', () => {
    const tasks: Task[] = [taskOf('refill', { state: 'on_the_way', changedMs: MONDAY - HOUR })];
    const handled = siteWith([potWith(0.1)], { tasks });
    expect(reconcileAlarms(handled).all).toMatchObject([{ state: 'suppressed_by_design', heldBy: 'rule:visit' }]);
    expect(reconcileAlarms(handled).effects.filter((effect) => effect.kind === 'announce')).toEqual([]);
    const forgotten = { ...handled, alarms: reconcileAlarms(handled).all, nowMs: MONDAY + 3 * HOUR };
    expect(reconcileAlarms(forgotten).all).toMatchObject([{ state: 'unacknowledged' }]);
  });
});

describe('an alarm that has been answered', () => {
  const leak = findingOf('leak', { openedMs: MONDAY - HOUR });
  const leaking = potWith(null, { findings: [leak] });
  const find = (more: Partial<Task>) => [taskOf('find_leak', { findingId: leak.id, dueByMs: MONDAY + DAY, ...more })];

  it('waits while a visit in time is on a round, and calls again where that falls out', () => {
    const planned = siteWith([leaking], { tasks: find({ state: 'planned' }), stops: [stopOn('2026-08-31')] });
    const held = reconcileAlarms(planned);
    expect(held.all).toMatchObject([{ state: 'suppressed_by_design', heldBy: 'rule:planned' }]);
    expect(held.effects.filter(({ kind }) => kind === 'announce')).toEqual([]);
    const fallenOut = siteWith([leaking], { tasks: find({ state: 'proposed' }), alarms: held.all });
    const called = reconcileAlarms(fallenOut);
    expect(called.all).toMatchObject([{ state: 'unacknowledged' }]);
    expect(called.effects).toMatchObject([{ kind: 'announce', why: 'no_longer_held' }]);
  });

  it('is not answered by a visit that comes too late', () => {
    const late = siteWith([leaking], { tasks: find({ state: 'planned' }), stops: [stopOn('2026-09-04')] });
    expect(reconcileAlarms(late).all).toMatchObject([{ state: 'unacknowledged' }]);
  });

  it('waits for the sensor’s word after the work, and calls again where the finding outlasts it', () => {
    const tasks = find({ state: 'done', changedMs: MONDAY - HOUR });
    const held = reconcileAlarms(siteWith([leaking], { tasks })).all;
    expect(held).toMatchObject([{ state: 'suppressed_by_design', heldBy: 'rule:awaiting_proof' }]);
    const nowMs = MONDAY + 3 * DAY;
    const outlasted = reconcileAlarms(siteWith([leaking], { tasks, alarms: held, nowMs })).all;
    expect(outlasted).toMatchObject([{ state: 'unacknowledged' }]);
  });
});

describe('the catalogue of tasks', () => {
  it('has minutes, a due time and cautions for each kind', () => {
    for (const [kind, entry] of Object.entries(TASK_CATALOGUE)) {
      expect(entry.minutes, kind).toBeGreaterThan(0);
      expect(entry.withinDays, kind).toBeGreaterThan(0);
      expect(entry.cautions.length, kind).toBeGreaterThan(0);
    }
  });
});
