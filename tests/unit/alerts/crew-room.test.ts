import { describe, expect, it } from 'vitest';
import { conditionsOf } from '../../../src/alerts/conditions.js';
import { type CrewRoom, reconcileCrew, undecidedPots } from '../../../src/alerts/crew-room.js';
import { reconcileSite } from '../../../src/alerts/reconcile-site.js';
import type { Alarm } from '../../../src/domain/alarm.js';
import type { Alert } from '../../../src/domain/work.js';
import { testContainer } from '../../support/garden.js';
import { DAY, HOUR, MONDAY as MONDAY_EARLY, potWith, siteWith, statusWith, stopOn } from '../../support/situations.js';

/** Ten in the morning, past the cut-off. */
const MONDAY = MONDAY_EARLY + 3.5 * HOUR;

const potsAt = (count: number, p10Days = 0.5) =>
  Array.from({ length: count }, (_, index) =>
    potWith(p10Days, {
      container: testContainer(`C${index + 1}`, 'S1'),
      status: statusWith(`C${index + 1}`, p10Days + index / 100, {}, MONDAY),
    }),
  );
const siteOf = (count: number, more: Parameters<typeof siteWith>[1] = {}) =>
  siteWith(potsAt(count), { nowMs: MONDAY, ...more });

class Fleet {
  alarm: Alarm | null = null;
  alerts: Alert[] = [];

  look(pots: number, nowMs = MONDAY): CrewRoom {
    const standing = this.alerts.filter(({ withdrawnMs }) => withdrawnMs === null);
    const result = reconcileCrew(undecidedPots(siteOf(pots)), this.alarm, standing, ['dora'], nowMs);
    for (const write of result.writes) {
      if (write.kind === 'alarm') this.alarm = write.row;
      if (write.kind === 'alert') {
        this.alerts = [...this.alerts.filter(({ id }) => id !== write.row.id), write.row];
      }
    }
    return result;
  }
}

describe('the alarm of the crew', () => {
  it('does not come for a few pots, which call one by one', () => {
    const fleet = new Fleet();
    expect(fleet.look(4)).toEqual({ isFull: false, writes: [] });
    expect(conditionsOf(siteOf(4)).map(({ suppressedBy }) => suppressedBy)).toEqual([null, null, null, null]);
  });

  it('is one alarm and one alert with the list, in place of many', () => {
    const fleet = new Fleet();
    expect(fleet.look(7).isFull).toBe(true);
    expect(fleet.alarm).toMatchObject({ id: 'crew_full', siteId: null, state: 'unacknowledged', priority: 'medium' });
    expect(fleet.alarm?.message.params).toMatchObject({ pots: 7 });
    expect(fleet.alerts).toMatchObject([{ personId: 'dora', topic: 'crew_full', siteId: null }]);
    expect(fleet.alerts[0]?.containerIds).toHaveLength(7);
    expect(fleet.alerts[0]?.message.slice(1).map(({ code }) => code)).toEqual(Array(7).fill('alert.crew_full.pot'));
    const held = reconcileSite(siteOf(7, { crewIsFull: true })).writes;
    const alarms = held.flatMap((write) => (write.kind === 'alarm' ? [write.row] : []));
    expect(alarms.map(({ state, heldBy }) => [state, heldBy])).toEqual(
      Array(7).fill(['suppressed_by_design', 'rule:crew_full']),
    );
    expect(held.filter(({ kind }) => kind === 'alert')).toEqual([]);
    expect(held.filter(({ kind }) => kind === 'task')).toHaveLength(7);
  });

  it('writes nothing when it is looked at again', () => {
    const fleet = new Fleet();
    fleet.look(7);
    expect(fleet.look(7, MONDAY + HOUR).writes).toEqual([]);
  });

  it('ends below the number at which it began, and takes its alert back', () => {
    const fleet = new Fleet();
    fleet.look(6);
    expect(fleet.look(3).isFull).toBe(true);
    expect(fleet.look(2).isFull).toBe(false);
    expect(fleet.alarm).toMatchObject({ state: 'returned_unacknowledged', conditionActive: false });
    expect(fleet.alerts).toMatchObject([{ withdrawnMs: MONDAY }]);
    expect(fleet.look(4).isFull).toBe(false);
  });

  it('tells of a pot that joins after the alarm was seen', () => {
    const fleet = new Fleet();
    fleet.look(5);
    fleet.alarm = { ...fleet.alarm!, state: 'acknowledged', beneath: 'acknowledged', acknowledgedMs: MONDAY };
    fleet.alerts = fleet.alerts.map((alert) => ({ ...alert, readMs: MONDAY }));
    expect(fleet.look(5, MONDAY + HOUR).writes).toEqual([]);
    fleet.look(6, MONDAY + HOUR);
    expect(fleet.alerts).toMatchObject([{ revision: 2, readMs: null }]);
    expect(fleet.alerts[0]?.containerIds).toContain('C6');
  });

  it('leaves the single pots to call while somebody holds it', () => {
    const fleet = new Fleet();
    fleet.look(6);
    fleet.alarm = { ...fleet.alarm!, state: 'shelved', shelvedUntilMs: MONDAY + DAY };
    expect(fleet.look(6, MONDAY + HOUR).isFull).toBe(false);
    expect(fleet.alerts).toMatchObject([{ withdrawnMs: MONDAY + HOUR }]);
  });

  it('counts no pot that somebody goes to in time', () => {
    expect(undecidedPots(siteOf(6, { stops: [stopOn('2026-08-31')] }))).toEqual([]);
    expect(undecidedPots(siteWith(potsAt(6, 3), { nowMs: MONDAY }))).toEqual([]);
  });

  it('holds back no pot that is dry and whose soil may not last until the crew comes', () => {
    const dryStatus = statusWith('C1', 0, { levelMm: 9, litres: 1.35 }, MONDAY);
    const withSoil = (days: number) => {
      const at = MONDAY + days * DAY;
      const stress = { p10Ms: at, p50Ms: at + DAY, p90Ms: at + 2 * DAY };
      const pot = potWith(0, { status: { ...dryStatus, forecast: { ...dryStatus.forecast, stress } } }, MONDAY);
      return conditionsOf(siteWith([pot], { nowMs: MONDAY, crewIsFull: true }));
    };
    expect(withSoil(0.5)).toMatchObject([{ kind: 'dry', priority: 'medium', suppressedBy: null }]);
    expect(withSoil(3)).toMatchObject([{ kind: 'dry', priority: 'low', suppressedBy: 'rule:crew_full' }]);
  });
});
