import { describe, expect, it } from 'vitest';
import { AnalysisStage } from '../../src/app/analysis/analysis-stage.js';
import { applyRetention } from '../../src/app/readings/retention.js';
import { WHOLE_FLEET } from '../../src/domain/access.js';
import { DAY_MS, HOUR_MS } from '../../src/domain/local-day.js';
import type { Reading } from '../../src/domain/reading.js';
import { type Garden, plantGarden } from '../support/garden.js';
import { makeTempStore, openTempStore } from '../support/temp-store.js';
import { changeSet, reading, registryOf, T0 } from '../unit/store/worlds.js';

const START_MS = Date.UTC(2026, 4, 1);
const END_MS = START_MS + 40 * DAY_MS;
const KEEP_DAYS = 14;
const POT = 'S1P1';
const NODE = 'N-S1P1';

/** Forty days of a pot that is filled up every five. */
async function fortyDays(): Promise<Garden> {
  const { store } = await openTempStore();
  const garden = await plantGarden(store, { draws: [[2.4]], startMs: START_MS });
  for (let day = 5; day <= 40; day += 5) {
    await garden.runTo(START_MS + day * DAY_MS);
    garden.pot(POT).pour(12);
  }
  return garden;
}

/** All that was derived, as text. */
async function derived({ store }: Garden): Promise<string> {
  const { pots } = store;
  return JSON.stringify({
    events: await pots.events(WHOLE_FLEET, POT, 0, END_MS),
    hours: await pots.hourRollups(WHOLE_FLEET, POT, 0, END_MS),
    days: await pots.dayRollups(WHOLE_FLEET, POT, '2026-01-01', '2026-12-31'),
    ledger: await pots.ledgerDays(WHOLE_FLEET, {
      containerId: POT,
      fromDay: '2026-01-01',
      toDay: '2026-12-31',
    }),
  }).replace(/"postedMs":\d+/g, '');
}

function late(daysAgo: number): Reading {
  const timeMs = END_MS - daysAgo * DAY_MS + 7 * 60_000;
  return { ...reading(NODE, timeMs, { levelMm: 55 }), receivedMs: END_MS };
}

async function sendLate(garden: Garden, daysAgo: number): Promise<void> {
  await garden.commit([{ kind: 'readings', rows: [late(daysAgo)] }]);
  await garden.settle();
}

describe('letting old readings go', () => {
  it('leaves all that was derived from them, and what the analysis may go back to; what is older is not derived anew', async () => {
    const [garden, twin] = [await fortyDays(), await fortyDays()];
    const { app, store, clock } = garden;
    const before = await derived(garden);
    expect(before).toBe(await derived(twin));
    const kept = await store.readings.ofNode(NODE, 0, END_MS);

    expect(await applyRetention(app, { readingsDays: KEEP_DAYS, changesDays: null })).toMatchObject({ nodes: 1 });
    const horizonMs = (await store.pots.checkpoint(POT, clock.nowMs() - KEEP_DAYS * DAY_MS))?.atMs ?? 0;
    expect(horizonMs).toBeGreaterThan(START_MS);
    expect(await store.readings.ofNode(NODE, 0, END_MS)).toEqual(kept.filter(({ timeMs }) => timeMs >= horizonMs));
    expect(await derived(garden)).toBe(before);

    // Within what is kept a late reading counts as if nothing had gone.
    for (const one of [garden, twin]) await sendLate(one, 3);
    const after = await derived(garden);
    expect(after).not.toBe(before);
    expect(after).toBe(await derived(twin));

    // Before it a late reading is stored, and what was posted stands.
    await sendLate(garden, 30);
    expect(await derived(garden)).toBe(after);
    expect(await store.readings.ofNode(NODE, 0, horizonMs)).toHaveLength(1);

    // Nor does a fresh process, or one that goes back as far as it may, see it otherwise.
    const fresh = new AnalysisStage(app, garden.processClock);
    while ((await fresh.step()).changes > 0);
    await fresh.evaluateAll(clock.nowMs() + HOUR_MS);
    expect(await derived(garden)).toBe(after);
    await applyRetention(app, { readingsDays: KEEP_DAYS, changesDays: null });
    expect(await store.readings.ofNode(NODE, 0, horizonMs)).toEqual([]);
  });

  it('keeps the last reading of a node however long it has been silent', async () => {
    const garden = await fortyDays();
    garden.clock.advance(400 * DAY_MS);
    const last = await garden.store.readings.latestOfNode(NODE);
    await applyRetention(garden.app, { readingsDays: KEEP_DAYS, changesDays: null });
    expect(await garden.store.readings.latestOfNode(NODE)).toEqual(last);
  });
});

describe('letting the change log go', () => {
  const LINES = 22_000;

  it('keeps what people did, what a stage has not seen, and as much as a browser may have missed', async () => {
    const { store, remove } = await makeTempStore();
    try {
      const app = {
        store,
        clock: { nowMs: () => T0 + 100 * DAY_MS },
        log: { debug() {}, info() {}, warn() {}, error() {} },
      };
      await store.commit({ ...changeSet(registryOf('A')), actor: { kind: 'person', id: 'ada' } });
      const people = await store.changes.lastSeq();
      const rows = Array.from({ length: LINES }, (_unused, i) => reading(`node-${i}`, T0));
      await store.commit({ ...changeSet([{ kind: 'readings', rows }]), actor: { kind: 'principal', id: 'gateway' } });
      const rules = { readingsDays: null, changesDays: 30 };
      const lines = async () => (await store.changes.after(0, 100_000)).length;
      const cursor = { stage: 'analysis', expectedSeq: 0, nextSeq: people + 500 };
      await store.commit({ ...changeSet([]), cursor });
      await applyRetention(app, rules);
      expect(await lines()).toBe(people + LINES - 500);
      await store.commit({
        ...changeSet([]),
        cursor: { ...cursor, expectedSeq: cursor.nextSeq, nextSeq: people + LINES },
      });
      await applyRetention(app, rules);
      expect(await lines()).toBe(people + 20_000);
      expect((await store.changes.audit({ limit: 100, cursor: null })).rows).toHaveLength(people);
      await applyRetention({ ...app, clock: { nowMs: () => T0 + 10 * DAY_MS } }, rules);
      expect(await lines()).toBe(people + 20_000);
    } finally {
      await remove();
    }
  });
});
