import { describe, expect, it } from 'vitest';
import { type Annunciation, annunciationsOf, performanceOf } from '../../src/alerts/alarm-performance.js';
import type { AlarmTransition } from '../../src/domain/alarm.js';

/*
 * ANSI/ISA-18.2-2016 and IEC 62682, monitoring and assessment: a flood begins above 10 new alarms in 10 minutes per
 * operator and ends below 5 in 10 minutes; an alarm is stale when it stands for more than 24 hours; it chatters when it
 * comes 3 times or more within a minute; targets per operator of about 144 alarms a day (288 at most), 6 an hour (12), 1 in
 * ten minutes (2), fewer than 1 % of ten-minute periods above 10, priorities 80/15/5 %. The figures are from memory and
 * from readers' summaries of the standards.
 */
const MINUTE = 60_000;
const HOUR = 60 * MINUTE;
const DAY = 24 * HOUR;

function raisedAt(minutes: readonly number[], more: Partial<Annunciation> = {}): Annunciation[] {
  return minutes.map((minute) => ({
    alarmId: `dry:C${minute}`,
    kind: 'dry',
    priority: 'medium',
    atMs: minute * MINUTE,
    endedMs: null,
    answered: false,
    ...more,
  }));
}

const performance = (list: readonly Annunciation[], days = 1, operators = 1) =>
  performanceOf(list, 0, days * DAY, operators);

describe('floods', () => {
  it('begin above ten in ten minutes, not at ten', () => {
    expect(performance(raisedAt([0, 1, 2, 3, 4, 5, 6, 7, 8, 9])).floods).toEqual([]);
    const eleven = [0, 0.5, 1, 2, 3, 4, 5, 6, 7, 8, 9];
    expect(performance(raisedAt(eleven)).floods).toMatchObject([{ fromMs: 0, alarms: 11 }]);
  });

  it('end when fewer than five lie within ten minutes', () => {
    const eleven = [0, 0.5, 1, 2, 3, 4, 5, 6, 7, 8, 9];
    // The fifth from the end came at minute 5: at minute 15 only four are left.
    expect(performance(raisedAt(eleven)).floods).toEqual([{ fromMs: 0, toMs: 15 * MINUTE, alarms: 11 }]);
    expect(performance(raisedAt(eleven)).floodTimeFraction).toBeCloseTo(15 / 1440, 9);
    // New ones keep it going, and one long after it is none of it.
    const longer = [...eleven, 11, 13, 14, 200];
    expect(performance(raisedAt(longer)).floods).toEqual([{ fromMs: 0, toMs: 18 * MINUTE, alarms: 14 }]);
  });

  it('are counted for each operator: two share what is a flood for one', () => {
    const eleven = [0, 0.5, 1, 2, 3, 4, 5, 6, 7, 8, 9];
    expect(performance(raisedAt(eleven), 1, 2).floods).toEqual([]);
  });
});

describe('rates', () => {
  it('are by operator and day, hour and ten minutes', () => {
    const list = raisedAt(Array.from({ length: 144 }, (_, index) => index * 10));
    expect(performance(list)).toMatchObject({
      alarms: 144,
      perOperatorDay: 144,
      perOperatorHour: 6,
      perOperatorTenMinutes: 1,
      mostInTenMinutes: 1,
      tenMinutesAboveTenFraction: 0,
    });
    expect(performance(list, 1, 2).perOperatorDay).toBe(72);
  });

  it('count the periods above the limits', () => {
    const burst = raisedAt(Array.from({ length: 31 }, (_, index) => index * 0.3));
    expect(performance(burst)).toMatchObject({ mostInTenMinutes: 31 });
    expect(performance(burst).tenMinutesAboveTenFraction).toBeCloseTo(1 / 144, 9);
    expect(performance(burst).hoursAboveThirtyFraction).toBeCloseTo(1 / 24, 9);
  });

  it('split by priority', () => {
    const list = [
      ...raisedAt([1, 2, 3, 4], { priority: 'low' }),
      ...raisedAt([5], { priority: 'high' }),
      ...raisedAt([6, 7, 8]),
    ];
    expect(performance(list).priorityFractions).toEqual({ low: 0.5, medium: 0.375, high: 0.125 });
  });
});

describe('alarms that misbehave', () => {
  const one = { alarmId: 'leak:C1', kind: 'leak' } as const;

  it('chatter when they come three times within a minute', () => {
    const short = (minute: number) => raisedAt([minute], { ...one, endedMs: (minute + 0.1) * MINUTE });
    const thrice = [0, 0.4, 0.9].flatMap(short);
    expect(performance(thrice).chattering).toMatchObject([{ alarmId: 'leak:C1', count: 1 }]);
    const slowly = [0, 0.6, 1.2].flatMap(short);
    expect(performance(slowly).chattering).toEqual([]);
  });

  it('are fleeting when they go within a minute and do not come again at once', () => {
    const fleeting = raisedAt([10], { ...one, endedMs: 10.5 * MINUTE });
    expect(performance(fleeting).fleeting).toMatchObject([{ count: 1 }]);
    expect(performance(raisedAt([10], { ...one, endedMs: 12 * MINUTE })).fleeting).toEqual([]);
    const answered = raisedAt([10], { ...one, endedMs: 10.5 * MINUTE, answered: true });
    expect(performance(answered).fleeting).toEqual([]);
  });

  it('are stale when they have stood for more than a day', () => {
    expect(performance(raisedAt([60], one), 2).stale).toMatchObject([{ alarmId: 'leak:C1' }]);
    expect(performance(raisedAt([60], { ...one, endedMs: 1.5 * DAY }), 2).stale).toEqual([]);
    expect(performance(raisedAt([25 * 60], one), 2).stale).toEqual([]);
  });

  it('are named by how much of the load they make', () => {
    const often = raisedAt([1, 100, 200, 300], one);
    const { topTen, topTenShareFraction } = performance([...often, ...raisedAt([50])]);
    expect(topTen).toMatchObject([{ alarmId: 'leak:C1', count: 4 }, { count: 1 }]);
    expect(topTenShareFraction).toBe(1);
  });
});

describe('annunciations', () => {
  it('are the ways into the unacknowledged state, and end with the condition or when the alarm is held', () => {
    const go = (minute: number, from: AlarmTransition['from'], to: AlarmTransition['to']): AlarmTransition => ({
      alarmId: 'leak:C1',
      atMs: minute * MINUTE,
      from,
      to,
      cause: 'test',
      actor: 'rule',
      note: null,
      priority: null,
    });
    const list = annunciationsOf(
      [
        go(0, 'normal', 'unacknowledged'),
        go(1, 'unacknowledged', 'acknowledged'),
        go(5, 'acknowledged', 'normal'),
        go(9, 'normal', 'unacknowledged'),
        go(12, 'unacknowledged', 'shelved'),
        go(20, 'shelved', 'unacknowledged'),
      ],
      () => ({ kind: 'leak', priority: 'low' }),
    );
    expect(list.map(({ atMs, endedMs }) => [atMs, endedMs])).toEqual([
      [0, 5 * MINUTE],
      [9 * MINUTE, 12 * MINUTE],
      [20 * MINUTE, null],
    ]);
  });
});
