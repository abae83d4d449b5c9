import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { ANALYSIS_STAGE, AnalysisStage } from '../../src/app/analysis/analysis-stage.js';
import { runAlarmStage } from '../../src/app/fieldwork/alarm-stage.js';
import { alerts } from '../../src/app/fieldwork/alerts.js';
import { correctEvent } from '../../src/app/pots/events.js';
import { WHOLE_FLEET } from '../../src/domain/access.js';
import type { ChangeSet } from '../../src/domain/change-set.js';
import type { Store } from '../../src/domain/ports/store.js';
import type { PotStatus } from '../../src/domain/pot.js';
import type { Reading } from '../../src/domain/reading.js';
import { FakeClock } from '../support/fake-clock.js';
import { DAY, type Garden, HOUR, MINUTE, MONDAY, plantGarden, testContainer } from '../support/garden.js';
import { seededRng } from '../support/pot-series.js';
import { makeTempStore, openTempStore, silentLog } from '../support/temp-store.js';

const ALL = { fromMs: 0, toMs: 9e15 } as const;

/** Everything derived about the pots, as far as it does not say when it was said. */
async function derived(store: Store, ids: readonly string[]) {
  const rows = [];
  for (const id of ids) {
    rows.push({
      id,
      events: await store.pots.events(WHOLE_FLEET, id, ALL.fromMs, ALL.toMs),
      ledger: await store.pots.ledgerDays(WHOLE_FLEET, { containerId: id, fromDay: '2026-01-01', toDay: '2027-01-01' }),
      hours: await store.pots.hourRollups(WHOLE_FLEET, id, ALL.fromMs, ALL.toMs),
      days: await store.pots.dayRollups(WHOLE_FLEET, id, '2026-01-01', '2027-01-01'),
      status: await store.pots.status(WHOLE_FLEET, id),
    });
  }
  return rows;
}

async function settleStage(stage: AnalysisStage, processClock: FakeClock): Promise<void> {
  for (let worked = true; worked; ) {
    worked = (await stage.step()).changes > 0;
    processClock.advance(10_000);
  }
  await stage.step();
}

/** A second store with the same inputs and nothing derived, analysed from the beginning in one go. */
async function rebuilt(garden: Garden, readings: readonly Reading[], others: ChangeSet['writes'] = []): Promise<Store> {
  const { store } = await openTempStore();
  const fleet = await garden.store.registry.fleet();
  await store.commit({
    atMs: garden.clock.nowMs(),
    actor: { kind: 'command', id: 'test' },
    writes: [
      ...fleet.accounts.map((row) => ({ kind: 'account', row }) as const),
      ...fleet.sites.map((row) => ({ kind: 'site', row }) as const),
      ...fleet.containers.map((row) => ({ kind: 'container', row }) as const),
      ...fleet.gateways.map((row) => ({ kind: 'gateway', row }) as const),
      ...fleet.nodes.map((row) => ({ kind: 'node', row }) as const),
      ...fleet.assignments.map((row) => ({ kind: 'assignment', row }) as const),
      { kind: 'readings', rows: readings },
      ...others,
    ],
    cursor: null,
  });
  const processClock = new FakeClock(0);
  const stage = new AnalysisStage({ store, clock: garden.clock, log: silentLog }, processClock);
  await settleStage(stage, processClock);
  return store;
}

async function allReadings(garden: Garden): Promise<readonly Reading[]> {
  const lists = await Promise.all(garden.pots.map((pot) => garden.store.readings.ofNode(pot.nodeId, 0, ALL.toMs)));
  return lists.flat();
}

describe('the analysis stage', () => {
  it('comes to the same incrementally, with late and repeated readings, as in one go from nothing', async () => {
    await fc.assert(
      fc.asyncProperty(
        fc.array(fc.integer({ min: 6, max: 60 }), { minLength: 3, maxLength: 8 }),
        fc.array(fc.integer({ min: 0, max: 400 }), { minLength: 3, maxLength: 3 }),
        async (hours, heldBack) => {
          const { store, remove } = await makeTempStore();
          const garden = await plantGarden(store, { draws: [[3.1, 0.9]], startMs: MONDAY - 8 * DAY });
          const rows = garden.pots.flatMap((pot) => {
            const before = pot.run(MONDAY - 4 * DAY);
            pot.pour(12);
            return [...before, ...pot.run(MONDAY)];
          });
          rows.sort((a, b) => a.timeMs - b.timeMs);
          const late = new Set(heldBack.map((index) => rows[index % rows.length]!));
          const inTime = rows.filter((row) => !late.has(row));
          let at = 0;
          for (let turn = 0; at < inTime.length; turn += 1) {
            const count = hours[turn % hours.length]! * 4;
            const batch = inTime.slice(Math.max(0, at - 3), at + count);
            at += count;
            garden.clock.set(batch.at(-1)!.timeMs + MINUTE);
            await garden.commit([{ kind: 'readings', rows: batch }]);
            await garden.settle();
          }
          garden.clock.set(MONDAY);
          await garden.commit([{ kind: 'readings', rows: [...late] }]);
          await garden.settle();
          await garden.look();
          const ids = garden.pots.map((pot) => pot.containerId);
          const whole = await rebuilt(garden, await allReadings(garden));
          expect(await derived(store, ids)).toEqual(await derived(whole, ids));
          await remove();
        },
      ),
      { numRuns: 3 },
    );
  });

  it('re-attributes history when a change of assignment is entered days late', async () => {
    const { store } = await openTempStore();
    const garden = await plantGarden(store, { draws: [[3.1, 0.9]], startMs: MONDAY - 8 * DAY });
    await garden.runTo(MONDAY);
    const swappedMs = MONDAY - 3 * DAY;
    const swap = (nodeId: string, to: string): ChangeSet['writes'] => [
      {
        kind: 'assignment',
        row: {
          id: `${nodeId}-1`,
          nodeId,
          containerId: nodeId.slice(2),
          fromMs: MONDAY - 408 * DAY,
          toMs: swappedMs,
          zeroMm: 0,
        },
      },
      {
        kind: 'assignment',
        row: { id: `${nodeId}-2`, nodeId, containerId: to, fromMs: swappedMs, toMs: null, zeroMm: 0 },
      },
    ];
    await garden.commit([...swap('N-S1P1', 'S1P2'), ...swap('N-S1P2', 'S1P1')]);
    await garden.settle();
    const ids = ['S1P1', 'S1P2'];
    const whole = await rebuilt(garden, await allReadings(garden));
    const now = await derived(store, ids);
    expect(now.map((row) => row.status?.nodeId)).toEqual(['N-S1P2', 'N-S1P1']);
    expect(now.map(withoutMoment)).toEqual((await derived(whole, ids)).map(withoutMoment));
  });

  it('follows a reservoir that was measured anew, from the beginning', async () => {
    const { store } = await openTempStore();
    const garden = await plantGarden(store, { draws: [[2]], startMs: MONDAY - 6 * DAY });
    await garden.runTo(MONDAY);
    const before = await store.pots.status(WHOLE_FLEET, 'S1P1');
    const container = testContainer('S1P1', 'S1');
    const wider = { ...container.reservoir, strapping: [[0, 0] as const, [100, 30] as const, [240, 72] as const] };
    await garden.commit([{ kind: 'container', row: { ...container, reservoir: wider } }]);
    await garden.settle();
    const after = await store.pots.status(WHOLE_FLEET, 'S1P1');
    expect(after?.litres).toBeCloseTo(2 * (before?.litres ?? 0), 1);
    expect(after?.forecast.rateLitresPerDay).toBeGreaterThan(1.6 * (before?.forecast.rateLitresPerDay ?? 0));
  });

  it('takes back what a person says did not happen', async () => {
    const { store } = await openTempStore();
    const garden = await plantGarden(store, { draws: [[2]], startMs: MONDAY - 6 * DAY, fill: 0.6 });
    await garden.runTo(MONDAY - DAY);
    garden.pot('S1P1').pour(9);
    await garden.runTo(MONDAY);
    const refills = async () => (await store.pots.events(WHOLE_FLEET, 'S1P1', 0, ALL.toMs)).map((event) => event.kind);
    expect(await refills()).toEqual(['refill']);
    const [event] = await store.pots.events(WHOLE_FLEET, 'S1P1', 0, ALL.toMs);
    const correction = { containerId: 'S1P1', eventId: event!.id, litres: null, startMs: null } as const;
    await correctEvent(garden.app, garden.dispatcher, { ...correction, correctedKind: 'none' });
    await garden.settle();
    expect(await refills()).toEqual([]);
    await correctEvent(garden.app, garden.dispatcher, { ...correction, correctedKind: 'refill' });
    await garden.settle();
    expect(await refills()).toEqual(['refill']);
    await expect(
      correctEvent(garden.app, garden.dispatcher, { ...correction, eventId: 'S1P1.gain.1', correctedKind: 'none' }),
    ).rejects.toMatchObject({ code: 'not_found' });
  });

  it('resumes where it was when any of its commits fails, and comes to the same', async () => {
    const clean = await openTempStore();
    const reference = await plantGarden(clean.store, { draws: [[4.2, 0.9]], startMs: MONDAY - 6 * DAY });
    await reference.runTo(MONDAY);
    const ids = reference.pots.map((pot) => pot.containerId);
    const wanted = await derived(clean.store, ids);

    const { store } = await openTempStore();
    const rng = seededRng(4);
    let failing = false;
    const shaky: Store = {
      ...delegate(store),
      commit: (changeSet) => {
        if (changeSet.actor.id === ANALYSIS_STAGE || changeSet.actor.id === 'alarms') {
          if (failing && rng() < 0.5) throw new Error('the power went off');
        }
        return store.commit(changeSet);
      },
    };
    const garden = await plantGarden(shaky, { draws: [[4.2, 0.9]], startMs: MONDAY - 6 * DAY });
    const rows = garden.pots.flatMap((pot) => pot.run(MONDAY));
    garden.clock.set(MONDAY);
    await garden.commit([{ kind: 'readings', rows }]);
    failing = true;
    let crashes = 0;
    for (let idle = 0, turns = 0; idle < 3; turns += 1) {
      expect(turns).toBeLessThan(200);
      // A new stage each time, as after a restart.
      const stage = new AnalysisStage(garden.app, garden.processClock);
      garden.processClock.advance(10_000);
      try {
        const analysed = await stage.step();
        const alarmed = await runAlarmStage(garden.app);
        idle = analysed.changes + alarmed.changes === 0 ? idle + 1 : 0;
      } catch {
        crashes += 1;
      }
    }
    expect(crashes).toBeGreaterThan(1);
    failing = false;
    await garden.look();
    expect(await derived(store, ids)).toEqual(wanted);
    // The alarm waits until the day's round can no longer be changed.
    garden.clock.set(MONDAY + 4 * HOUR);
    await garden.look();
    const transitions = await store.work.alarmTransitions(WHOLE_FLEET, 'dry:S1P1');
    expect(transitions.map((one) => one.to)).toEqual(['unacknowledged']);
  });
});

describe('history that is read in', () => {
  it('makes alarms and alerts only of what holds now', async () => {
    const { store } = await openTempStore();
    const garden = await plantGarden(store, { draws: [[2.6, 0.5]], startMs: MONDAY - 30 * DAY });
    const rows: Reading[] = [];
    // S1P1 ran dry for days three times, and was filled again each time; the last time an hour ago.
    for (const dryMs of [MONDAY - 18 * DAY, MONDAY - 5 * DAY, MONDAY - HOUR]) {
      rows.push(...garden.pots.flatMap((pot) => pot.run(dryMs)));
      garden.pot('S1P1').pour(28);
    }
    rows.push(...garden.pots.flatMap((pot) => pot.run(MONDAY)));
    rows.sort((a, b) => a.timeMs - b.timeMs);
    garden.clock.set(MONDAY);
    // Beside a running server, batch by batch, with the stages at work in between.
    for (let at = 0; at < rows.length; at += 150) {
      await garden.commit([{ kind: 'readings', rows: rows.slice(at, at + 150) }]);
      await garden.analysis.step();
      await garden.analysis.evaluateAll(MONDAY);
      await runAlarmStage(garden.app);
      garden.processClock.advance(300);
    }
    await garden.settle();
    await garden.look();
    expect((await store.pots.status(WHOLE_FLEET, 'S1P1'))?.forecast.knowledge).toBe('known');
    expect(await store.work.alarms(WHOLE_FLEET, { includeNormal: true, siteId: null })).toEqual([]);
    expect(await alerts(garden.app, garden.dispatcher, { includeWithdrawn: true })).toEqual([]);
  });
});

describe('a node that sends old readings', () => {
  it('holds up what is said of its own pot, and of no other', async () => {
    const { store } = await openTempStore();
    const garden = await plantGarden(store, { draws: [[2.6, 0.5]], startMs: MONDAY - 10 * DAY });
    const [slow, live] = garden.pots;
    if (slow === undefined || live === undefined) throw new Error('the garden has two pots');
    garden.clock.set(MONDAY);
    const rows = slow.run(MONDAY).filter((row) => row.timeMs < MONDAY - 2 * DAY);
    await garden.commit([
      { kind: 'readings', rows },
      { kind: 'readings', rows: live.run(MONDAY).filter((row) => row.timeMs > MONDAY - DAY / 2) },
    ]);
    await garden.analysis.step();
    const spokenOf = async (id: string) => (await store.pots.status(WHOLE_FLEET, id)) !== null;
    expect([await spokenOf('S1P1'), await spokenOf('S1P2')]).toEqual([false, true]);
    garden.processClock.advance(5_000);
    await garden.analysis.step();
    expect(await spokenOf('S1P1')).toBe(true);
  });
});

function withoutMoment<Row extends { readonly status: PotStatus | null }>(row: Row) {
  return {
    ...row,
    status: row.status === null ? null : { ...row.status, atMs: 0, forecast: { ...row.status.forecast, originMs: 0 } },
  };
}

/** The store's methods are on its prototype, which a spread would leave behind. */
function delegate(store: Store): Store {
  return {
    registry: store.registry,
    people: store.people,
    crew: store.crew,
    access: store.access,
    doors: store.doors,
    commissioning: store.commissioning,
    readings: store.readings,
    weather: store.weather,
    pots: store.pots,
    work: store.work,
    plans: store.plans,
    notify: store.notify,
    changes: store.changes,
    commit: (changeSet) => store.commit(changeSet),
    onCommit: (listener) => store.onCommit(listener),
    close: () => store.close(),
  };
}
