import { describe, expect, it } from 'vitest';
import { CATALOGUE } from '../../../src/alerts/catalogue.js';
import { conditionsOf } from '../../../src/alerts/conditions.js';
import { pointSettings } from '../../../src/alerts/point-settings.js';
import { reconcileAlarms } from '../../../src/alerts/reconcile-alarms.js';
import type { PotSituation } from '../../../src/alerts/situation.js';
import type { AlarmOverride } from '../../../src/domain/alarm.js';
import {
  DAY,
  HOUR,
  MONDAY as MONDAY_EARLY,
  potWith as potAt,
  siteWith as siteAt,
  statusWith as statusAt,
  stopOn,
  taskOf,
} from '../../support/situations.js';

/** Ten in the morning, past the cut-off. */
const MONDAY = MONDAY_EARLY + 3.5 * HOUR;
const potWith = (p10Days: number | null, more: Partial<PotSituation> = {}, nowMs = MONDAY) =>
  potAt(p10Days, { status: statusAt('C1', p10Days, {}, nowMs), ...more }, nowMs);
const siteWith = (pots: readonly PotSituation[], more: Parameters<typeof siteAt>[1] = {}) =>
  siteAt(pots, { nowMs: MONDAY, ...more });
const statusWith = (id: string, p10Days: number | null, more: Parameters<typeof statusAt>[2] = {}, nowMs = MONDAY) =>
  statusAt(id, p10Days, more, nowMs);

const FRIDAY = MONDAY + 4 * DAY;

function dry(pot: PotSituation, more: Parameters<typeof siteWith>[1] = {}) {
  return conditionsOf(siteWith([pot], more)).find((condition) => condition.kind === 'dry') ?? null;
}

describe('the dry alarm', () => {
  it('is none as long as whoever goes out next can still decide', () => {
    expect(dry(potWith(1.6))).toBeNull();
    expect(dry(potWith(null))).toBeNull();
  });

  it('stands when the pot may be dry before the next working day ends, and no round goes there before', () => {
    expect(dry(potWith(0.9))).toMatchObject({ active: true, priority: 'low', message: { code: 'alarm.dry.decide' } });
  });

  it('waits until the cut-off, while the morning’s list says so, unless it is too late for the day before’s already', () => {
    const at = (p10Days: number) => dry(potWith(p10Days, {}, MONDAY_EARLY), { nowMs: MONDAY_EARLY });
    expect(at(1)).toBeNull();
    expect(at(0.1)).toMatchObject({ active: true });
  });

  it('on a Friday looks across the weekend', () => {
    expect(dry(potWith(2.5, {}, FRIDAY), { nowMs: FRIDAY })).toMatchObject({ active: true });
    expect(dry(potWith(3.2, {}, FRIDAY), { nowMs: FRIDAY })).toBeNull();
  });

  it('is answered by a stop on a round before, and not by one that comes too late', () => {
    expect(dry(potWith(0.9), { stops: [stopOn('2026-08-31')] })).toBeNull();
    expect(dry(potWith(1.2), { stops: [stopOn('2026-09-01')] })).toBeNull();
    expect(dry(potWith(0.5), { stops: [stopOn('2026-09-01')] })).toMatchObject({ active: true });
    expect(dry(potWith(0.9), { stops: [stopOn('2026-08-31', { state: 'cancelled' })] })).toMatchObject({
      active: true,
    });
  });

  it('waits while a refill that was done has yet to show, and stands again when it was in vain', () => {
    const doneAgo = (ms: number) => [taskOf('refill', { state: 'done', changedMs: MONDAY - ms })];
    expect(dry(potWith(0.9), { tasks: doneAgo(0) })).toBeNull();
    expect(dry(potWith(0.9), { tasks: doneAgo(20 * HOUR) })).toBeNull();
    expect(dry(potWith(0.9), { tasks: doneAgo(25 * HOUR) })).toMatchObject({ active: true });
    expect(dry(potWith(0.9), { tasks: [taskOf('refill', { state: 'reopened' })] })).toMatchObject({ active: true });
    const feeding = [taskOf('feed', { state: 'done', changedMs: MONDAY })];
    expect(dry(potWith(0.9), { tasks: feeding })).toMatchObject({ active: true });
  });

  it('ends with the visit itself, since the wavering of a forecast is not what ended it', () => {
    const called = reconcileAlarms(siteWith([potWith(0.9)])).all;
    expect(called).toMatchObject([{ id: 'dry:C1', state: 'unacknowledged' }]);
    const tasks = [taskOf('refill', { state: 'done', changedMs: MONDAY })];
    expect(reconcileAlarms(siteWith([potWith(0.9)], { alarms: called, tasks })).all).toMatchObject([
      { state: 'returned_unacknowledged', conditionActive: false },
    ]);
  });

  it('stands when the pot is dry, whatever is planned, and is worth more the less its soil has left', () => {
    const dryStatus = statusWith('C1', 0, { levelMm: 9, litres: 1.35 });
    const pot = potWith(0, { status: dryStatus });
    const stops = [stopOn('2026-08-31')];
    expect(dry(pot, { stops })).toMatchObject({ active: true, priority: 'medium', message: { code: 'alarm.dry.now' } });
    const stress = (days: number) => ({
      p10Ms: MONDAY + (days - 0.5) * DAY,
      p50Ms: MONDAY + days * DAY,
      p90Ms: MONDAY + (days + 0.5) * DAY,
    });
    const stressed = (days: number) =>
      potWith(0, { status: { ...dryStatus, forecast: { ...dryStatus.forecast, stress: stress(days) } } });
    expect(dry(stressed(3), { stops })?.priority).toBe('low');
    expect(dry(stressed(1), { stops })?.priority).toBe('medium');
    expect(dry(stressed(-0.1), { stops })?.priority).toBe('high');
  });

  it('is not announced again and again where the level hovers at the wick foot', () => {
    const at = (levelMm: number, nowMs: number) =>
      potWith(0, { status: statusWith('C1', 0, { levelMm }, nowMs) }, nowMs);
    let alarms = reconcileAlarms(siteWith([at(10.6, MONDAY)])).all;
    expect(alarms).toMatchObject([{ state: 'unacknowledged', priority: 'medium' }]);
    let announced = 0;
    for (const [hours, levelMm] of [11.4, 9.8, 12.9, 10.2, 11.6, 9.9].entries()) {
      const nowMs = MONDAY + (hours + 1) * HOUR;
      const result = reconcileAlarms(siteWith([at(levelMm, nowMs)], { nowMs, alarms }));
      announced += result.effects.length + result.transitions.length;
      alarms = result.all;
    }
    expect(announced).toBe(0);
  });

  it('goes by the last forecast of a pot that is not heard, and says so when that has run out', () => {
    const silent = (p10Days: number): PotSituation => {
      const pot = potWith(p10Days);
      const status = pot.status!;
      return { ...pot, status: { ...status, levelMm: 90, forecast: { ...status.forecast, knowledge: 'silent' } } };
    };
    expect(dry(silent(0.9))).toMatchObject({ message: { code: 'alarm.dry.decide' } });
    expect(dry(silent(-3))).toMatchObject({ priority: 'medium', message: { code: 'alarm.dry.now_unheard' } });
  });

  it('does not chatter where a forecast wavers around the limit', () => {
    const horizonDays = (Date.UTC(2026, 8, 1, 7) - MONDAY) / DAY;
    let alarms = reconcileAlarms(siteWith([potWith(horizonDays - 0.1)])).all;
    expect(alarms[0]?.state).toBe('unacknowledged');
    for (const wobble of [0.1, -0.1, 0.2, 0, 0.15]) {
      const result = reconcileAlarms(siteWith([potWith(horizonDays + wobble)], { alarms }));
      expect(result.transitions).toEqual([]);
      alarms = result.all;
    }
    const nowMs = MONDAY + HOUR;
    const clear = reconcileAlarms(siteWith([potWith(horizonDays + 0.5, {}, nowMs)], { alarms, nowMs }));
    const later = nowMs + HOUR;
    const over = reconcileAlarms(
      siteWith([potWith(horizonDays + 0.5, {}, later)], { alarms: clear.all, nowMs: later }),
    );
    expect(over.all[0]?.state).toBe('returned_unacknowledged');
  });

  it('becomes more urgent, and is announced again, when an acknowledged one runs dry after all', () => {
    const raised = reconcileAlarms(siteWith([potWith(0.5)])).all;
    const acknowledged = raised.map((alarm) => ({
      ...alarm,
      state: 'acknowledged' as const,
      beneath: 'acknowledged' as const,
      acknowledgedMs: MONDAY,
      acknowledgedBy: 'dora',
    }));
    const nowMs = MONDAY + 12 * HOUR;
    const pot = potWith(0, { status: statusWith('C1', 0, { levelMm: 9 }, nowMs) });
    const result = reconcileAlarms(siteWith([pot], { alarms: acknowledged, nowMs }));
    expect(result.all[0]).toMatchObject({ state: 'unacknowledged', priority: 'medium' });
    expect(result.effects).toMatchObject([{ kind: 'announce', why: 'more_urgent' }]);
  });
});

describe('what a site or a container wants otherwise', () => {
  const override = (more: Partial<AlarmOverride>): AlarmOverride => ({
    id: 'dry:S1',
    kind: 'dry',
    siteId: 'S1',
    containerId: null,
    onDelayMs: null,
    offDelayMs: null,
    reAlarmAfterMs: null,
    deadbandHours: null,
    priority: null,
    reason: 'test',
    changedMs: MONDAY,
    changedBy: 'dora',
    ...more,
  });

  it('is taken from the container, then from its site, then from the catalogue, and the last word counts', () => {
    const overrides = [
      override({ onDelayMs: 1, priority: 'low' }),
      override({ onDelayMs: 2 * HOUR, priority: 'low' }),
      override({ id: 'dry:C1', containerId: 'C1', priority: 'high', deadbandHours: 12 }),
    ];
    expect(pointSettings(overrides, 'dry', 'C1')).toMatchObject({
      settings: { onDelayMs: 2 * HOUR, offDelayMs: CATALOGUE.dry.settings.offDelayMs },
      priority: 'high',
      deadbandHours: 12,
    });
    expect(pointSettings(overrides, 'dry', 'C2')).toMatchObject({ priority: 'low', deadbandHours: 6 });
    expect(pointSettings(overrides, 'leak', 'C1').settings).toEqual(CATALOGUE.leak.settings);
    const back = [...overrides, override({})];
    expect(pointSettings(back, 'dry', 'C2')).toMatchObject({ priority: 'low', priorityIsOverridden: false });
  });

  it('holds for the alarm: an on-delay of two hours waits two hours of readings', () => {
    const overrides = [override({ onDelayMs: 2 * HOUR })];
    const first = reconcileAlarms(siteWith([potWith(0.9)], { overrides }));
    expect(first.all).toMatchObject([{ state: 'normal', conditionActive: true }]);
    const nowMs = MONDAY + 2.5 * HOUR;
    const later = reconcileAlarms(siteWith([potWith(0.8, {}, nowMs)], { overrides, nowMs, alarms: first.all }));
    expect(later.all).toMatchObject([{ state: 'unacknowledged' }]);
  });
});
