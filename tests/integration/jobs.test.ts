import { describe, expect, it } from 'vitest';
import { freezeCalibration } from '../../src/app/analysis/freeze-calibration.js';
import { alerts } from '../../src/app/fieldwork/alerts.js';
import { runDueJobs } from '../../src/app/jobs/run-jobs.js';
import { WHOLE_FLEET } from '../../src/domain/access.js';
import { addDays, LocalDays } from '../../src/domain/local-day.js';
import { DAY, type Garden, HOUR, jobParts, MINUTE, MONDAY, plantGarden } from '../support/garden.js';
import { openTempStore } from '../support/temp-store.js';

async function garden(draws: readonly (readonly number[])[], days = 7): Promise<Garden> {
  const { store } = await openTempStore();
  const planted = await plantGarden(store, { draws, fill: 0.95, startMs: MONDAY - days * DAY });
  await planted.runTo(MONDAY);
  return planted;
}

async function tick(planted: Garden): Promise<readonly string[]> {
  const ran = await runDueJobs(jobParts(planted));
  await planted.settle();
  return ran;
}

describe('the ticks', () => {
  it('run each job once for its instant, however often they come', async () => {
    const planted = await garden([[3.8, 0.6]]);
    expect(await tick(planted)).toEqual([
      'evaluation',
      'verification',
      'weather',
      'night',
      'retention',
      'rounds',
      'digest',
    ]);
    expect(await tick(planted)).toEqual([]);
    planted.clock.advance(5 * MINUTE);
    expect(await tick(planted)).toEqual(['evaluation']);
    planted.clock.advance(10 * MINUTE);
    expect(await tick(planted)).toEqual(['evaluation', 'verification']);
    planted.clock.set(MONDAY - 2 * HOUR);
    expect(await tick(planted)).toEqual([]);
  });

  it('ask for the backup of the day from two in the morning on', async () => {
    const planted = await garden([[3.8, 0.6]]);
    const asked: string[] = [];
    const backups = { request: (day: string) => void asked.push(day) };
    const days = new LocalDays('Europe/Madrid');
    const today = days.dayOf(MONDAY);
    planted.clock.set(days.atMs(today, 1, 30));
    await runDueJobs({ ...jobParts(planted), backups });
    planted.clock.advance(HOUR);
    await runDueJobs({ ...jobParts(planted), backups });
    expect(asked).toEqual([addDays(today, -1), today]);
  });

  it('notice what no reading tells: a node that falls silent', async () => {
    const planted = await garden([[0.9, 0.6]]);
    await planted.runTo(MONDAY + 12 * HOUR, ['S1P1']);
    await tick(planted);
    planted.clock.advance(2 * HOUR);
    await planted.runTo(planted.clock.nowMs(), ['S1P1']);
    await tick(planted);
    const status = await planted.store.pots.status(WHOLE_FLEET, 'S1P1');
    expect(status?.forecast.knowledge).toBe('silent');
    expect(status?.forecast.dry?.p10Ms).not.toBeNull();
    const alarm = await planted.store.work.alarm(WHOLE_FLEET, 'node_silent:S1P1');
    expect(alarm?.state).toBe('unacknowledged');
  });

  it('tell each dispatcher in one message what the morning holds, in place of the day before’s', async () => {
    const planted = await garden([[3.8, 0.6]]);
    await tick(planted);
    const digests = async () =>
      (await alerts(planted.app, planted.dispatcher, { includeWithdrawn: false })).filter(
        (alert) => alert.topic === 'digest',
      );
    const [first] = await digests();
    expect(first?.message).toMatchObject([{ code: 'alert.digest', params: { stops: 1, needVisit: 1 } }]);
    await planted.runTo(MONDAY + DAY);
    await tick(planted);
    const [second, ...others] = await digests();
    expect(others).toEqual([]);
    expect(second?.id).not.toBe(first?.id);
  });

  it('learn each night, over the fleet, from how forecasts came out, and once from each', async () => {
    const planted = await garden([[3.8, 3.1], [3.4]], 8);
    expect(await planted.store.pots.calibration()).toBeNull();
    await tick(planted);
    const first = await planted.store.pots.calibration();
    expect(first?.frozenMs).toBe(MONDAY);
    expect(first?.spreadFactors.some((factor) => factor !== 1)).toBe(true);
    expect(await freezeCalibration(planted.app)).toBe(0);
    for (const pot of planted.pots) pot.pour(28);
    await planted.runTo(MONDAY + DAY);
    await tick(planted);
    expect((await planted.store.pots.calibration())?.frozenMs).toBe(MONDAY + DAY);
  });

  it('after three days off say in one message what happened, and raise no storm about what has passed', async () => {
    const planted = await garden([
      [3.8, 0.6, 0.7],
      [0.5, 0.6],
    ]);
    await tick(planted);
    const before = (await planted.store.work.alerts('dora', { includeWithdrawn: true })).length;
    const raisedBefore = (await planted.store.work.alarms(WHOLE_FLEET, { includeNormal: true, siteId: null })).length;
    // Off: nothing ticks, nothing settles. A neighbour filled the dry pot on the second day.
    const rows = planted.pots.flatMap((pot) => pot.run(MONDAY + DAY));
    planted.pot('S1P1').pour(27);
    rows.push(...planted.pots.flatMap((pot) => pot.run(MONDAY + 3 * DAY)));
    planted.clock.set(MONDAY + 3 * DAY);
    await planted.commit([{ kind: 'readings', rows }]);
    await planted.settle();
    await tick(planted);
    const after = await planted.store.work.alerts('dora', { includeWithdrawn: true });
    expect(after.length - before).toBe(1);
    const digest = after.find((alert) => alert.createdMs === MONDAY + 3 * DAY);
    expect(digest).toMatchObject({ topic: 'digest', message: [{ code: 'alert.digest_away' }, {}] });
    const alarms = await planted.store.work.alarms(WHOLE_FLEET, { includeNormal: true, siteId: null });
    expect(alarms.length).toBe(raisedBefore);
    expect(alarms.filter((alarm) => alarm.conditionActive)).toEqual([]);
  });
});
