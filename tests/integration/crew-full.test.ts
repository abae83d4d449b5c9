import { describe, expect, it } from 'vitest';
import { alarms } from '../../src/app/fieldwork/alarms.js';
import { alerts } from '../../src/app/fieldwork/alerts.js';
import { runNotifyStage, usualRules } from '../../src/app/fieldwork/notify-stage.js';
import { planStop } from '../../src/app/fieldwork/rounds.js';
import { WHOLE_FLEET } from '../../src/domain/access.js';
import { DAY, type Garden, HOUR, MONDAY, plantGarden } from '../support/garden.js';
import { openTempStore } from '../support/temp-store.js';

const FRIDAY = '2026-09-04';
const SITES = ['S1', 'S2', 'S3'];

/** Three terraces with two pots each, all of which may be dry before Monday; on Friday afternoon nobody is sent to them. */
async function thirstyWeekend(): Promise<Garden> {
  const { store } = await openTempStore();
  const draws = [
    [2.02, 2.0],
    [2.03, 2.01],
    [2.04, 1.99],
  ];
  const garden = await plantGarden(store, { draws, fill: 0.95, startMs: MONDAY - 7 * DAY });
  await garden.runTo(MONDAY + 4 * DAY + 5 * HOUR);
  return garden;
}

const standing = async (garden: Garden) =>
  (await alarms(garden.app, garden.dispatcher, { includeNormal: false })).map(({ alarm, suppressedBecause }) => ({
    id: alarm.id,
    state: alarm.state,
    because: suppressedBecause?.code ?? null,
  }));

describe('more pots than the crew can reach, at several sites', () => {
  it('are one alarm with a list in place of one for each, until rounds have them', async () => {
    const garden = await thirstyWeekend();
    const { app, dispatcher, store } = garden;
    const before = await standing(garden);
    expect(before.filter(({ state }) => state === 'unacknowledged')).toEqual([
      { id: 'crew_full', state: 'unacknowledged', because: null },
    ]);
    const held = before.filter(({ id }) => id.startsWith('dry:'));
    expect(held).toHaveLength(6);
    expect(new Set(held.map(({ state }) => state))).toEqual(new Set(['suppressed_by_design']));
    expect(held.every(({ because }) => because !== null)).toBe(true);
    const [told, ...more] = await alerts(app, dispatcher, { includeWithdrawn: false });
    expect(more).toEqual([]);
    expect(told?.message.map(({ code }) => code)).toEqual([
      'alarm.crew_full.found',
      ...Array.from({ length: 6 }, () => 'alert.crew_full.pot'),
    ]);

    for (const siteId of SITES) {
      await planStop(app, dispatcher, { siteId, technicianId: 'tom', day: FRIDAY, position: null });
      await garden.settle();
    }
    expect(await standing(garden)).not.toContainEqual(expect.objectContaining({ state: 'unacknowledged' }));
    const crew = await store.work.alarm(WHOLE_FLEET, 'crew_full');
    expect(crew?.conditionActive).toBe(false);
    const transitions = await store.work.alarmTransitions(WHOLE_FLEET, 'crew_full');
    expect(transitions.filter(({ to }) => to === 'unacknowledged')).toHaveLength(1);
  });

  it('are told to a dispatcher by mail, unless that kind is not wanted', async () => {
    const garden = await thirstyWeekend();
    const { app, store, clock } = garden;
    const [dora] = (await store.people.people()).filter(({ role }) => role === 'dispatcher');
    if (dora === undefined) throw new Error('the garden has a dispatcher');
    const target = { personId: dora.id, channel: 'email', target: 'dora@example.com', secret: null } as const;
    await garden.commit([{ kind: 'address', row: { id: 'M1', ...target, createdMs: clock.nowMs(), endedMs: null } }]);
    const zoneOf = () => Promise.resolve('Europe/Madrid');
    const mailed = async () => {
      while ((await runNotifyStage(app, zoneOf)) > 0);
      return (await store.notify.ofTopic('crew_full')).map(({ state }) => state);
    };
    const rules = { ...usualRules(dora, 'Europe/Madrid'), kinds: ['dry'] as const };
    await garden.commit([{ kind: 'contact_rules', row: rules }]);
    expect(await mailed()).toEqual([]);

    const again = await thirstyWeekend();
    await again.commit([{ kind: 'address', row: { id: 'M1', ...target, createdMs: clock.nowMs(), endedMs: null } }]);
    while ((await runNotifyStage(again.app, zoneOf)) > 0);
    expect((await again.store.notify.ofTopic('crew_full')).map(({ state }) => state)).toEqual(['waiting']);
  });
});
