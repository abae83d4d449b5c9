import { describe, expect, it } from 'vitest';
import { type Actor, healthFigures, mergeActors } from '../../../dashboard/src/state/alarm-health.js';

const actor = (alarmId: string, count: number, cure: Actor['cure']): Actor => ({
  alarmId,
  kind: 'leak',
  siteId: 'S1',
  siteName: 'Terrace',
  containerId: alarmId,
  containerName: alarmId,
  count,
  cure,
});

const QUIET = {
  alarms: 40,
  perOperatorDay: 1.3,
  mostInTenMinutes: 11,
  tenMinutesAboveTenFraction: 0.0001,
  hoursAboveThirtyFraction: 0,
  floodTimeFraction: 0,
  topTenShareFraction: 0.6,
  chattering: [],
  fleeting: [],
  stale: [],
  topTen: [],
};

const TARGETS = {
  alarmsPerDay: { acceptable: 144, manageable: 288 },
  tenMinutesAboveTenFraction: 0.01,
  hoursAboveThirtyFraction: 0.01,
  mostInTenMinutes: 10,
  floodTimeFraction: 0.01,
  topTenShareFraction: 0.05,
  staleOnAnyDay: 5,
};

describe('the figures of alarm health', () => {
  it('say which are beyond their mark, and judge no share of a handful of alarms', () => {
    const few = healthFigures({ performance: QUIET, targets: TARGETS });
    expect(few.filter((figure) => !figure.within).map((figure) => figure.name)).toEqual(['worst_ten']);
    const many = healthFigures({ performance: { ...QUIET, alarms: 400 }, targets: TARGETS });
    expect(many.find((figure) => figure.name === 'top_ten')).toMatchObject({ here: 0.6, within: false });
  });
});

describe('the alarms that misbehave', () => {
  it('are on one line each, whatever lists they are on, the worst first, with each cure once', () => {
    const merged = mergeActors({
      chattering: [actor('C2', 9, 'performance.cure.chattering')],
      fleeting: [actor('C2', 4, 'performance.cure.fleeting')],
      stale: [actor('C3', 1, 'performance.cure.stale')],
      topTen: [
        actor('C1', 12, 'performance.cure.frequent'),
        actor('C2', 9, 'performance.cure.frequent'),
        actor('C4', 2, 'performance.cure.frequent'),
        actor('C3', 1, 'performance.cure.frequent'),
      ],
    });
    expect(merged.map(({ alarmId, times, ways }) => [alarmId, times, ways])).toEqual([
      ['C2', 9, ['chattering', 'fleeting', 'frequent']],
      ['C1', 12, ['frequent']],
      ['C3', 1, ['stale']],
    ]);
    expect(merged[0]?.cures).toEqual([
      'performance.cure.chattering',
      'performance.cure.fleeting',
      'performance.cure.frequent',
    ]);
  });
});
