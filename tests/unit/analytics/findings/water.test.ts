import { describe, expect, it } from 'vitest';
import type { DayRecord } from '../../../../src/analytics/day-record.js';
import { batteryLow, batteryOnDay, NO_BATTERY } from '../../../../src/analytics/findings/battery-low.js';
import { collapseOnDay, demandCollapsed, NO_COLLAPSE } from '../../../../src/analytics/findings/demand-collapsed.js';
import { findSwaps, type SwapSummary } from '../../../../src/analytics/findings/nodes-swapped.js';
import { NO_PORT, overflowPort, portOnReading } from '../../../../src/analytics/findings/overflow-port.js';
import { NOT_WATERLOGGED, waterloggedOnDay } from '../../../../src/analytics/findings/waterlogged.js';
import { weigh } from '../../../../src/analytics/findings/weigh.js';
import { NO_WICK_FAILURE, wickFailed, wickOnDay } from '../../../../src/analytics/findings/wick-failed.js';
import { limitedOnDay, NO_LIMIT } from '../../../../src/analytics/findings/wick-limited.js';
import type { PotView } from '../../../../src/analytics/pot-view.js';
import { DAY_MS, HOUR_MS } from '../../../../src/domain/local-day.js';
import { makeDay, makeReading, makeView, packDays, START_DAY, START_MS } from '../../../support/pot-view.js';

/** Sixty days of a pot; `from` tells what is different from day 45 on. */
function season(from: (since: number) => Partial<DayRecord>): DayRecord[] {
  return Array.from({ length: 60 }, (_, i) => makeDay({ dayNumber: START_DAY + i, ...(i >= 45 ? from(i - 45) : {}) }));
}

function watch<State>(
  days: readonly DayRecord[],
  start: State,
  step: (view: ReturnType<typeof makeView>, state: State) => State,
): { state: State; view: ReturnType<typeof makeView> } {
  let state = start;
  let view = makeView();
  for (let i = 20; i <= days.length; i++) {
    view = makeView({ days: packDays(days.slice(0, i)), atMs: days[i - 1]!.endMs });
    state = step(view, state);
  }
  return { state, view };
}

describe('a failed wick', () => {
  it('is found where the soil dries above standing water', () => {
    const days = season((since) => ({ netUseLitres: 0.02, dawnMoisture: 0.4 - 0.015 * since }));
    const { state, view } = watch(days, NO_WICK_FAILURE, wickOnDay);
    const draft = wickFailed(view, state);
    expect(draft?.kind).toBe('wick_failed');
    expect(draft?.onsetMs).toBe(days[45]!.startMs);
  });

  it('is not seen where the soil stays moist: then nobody drinks', () => {
    const days = season(() => ({ netUseLitres: 0.02 }));
    expect(watch(days, NO_WICK_FAILURE, wickOnDay).state.open).toBeNull();
    const { state, view } = watch(days, NO_COLLAPSE, collapseOnDay);
    expect(demandCollapsed(view, state)?.kind).toBe('demand_collapsed');
  });

  it('is not seen where a soil that was wetted from above dries back to where it settles', () => {
    const days = season((since) => ({ netUseLitres: 0.02, dawnMoisture: Math.max(0.4, 0.48 - 0.02 * since) }));
    days[44] = { ...days[44]!, dawnMoisture: 0.48 };
    expect(watch(days, NO_WICK_FAILURE, wickOnDay).state.open).toBeNull();
  });

  it('is not seen while the level is at the wick’s foot', () => {
    const days = season((since) => ({ netUseLitres: 0.02, dawnMoisture: 0.4 - 0.015 * since, dawnLevelMm: 24 }));
    expect(watch(days, NO_WICK_FAILURE, wickOnDay).state.open).toBeNull();
  });
});

describe('a wick that lifts too little', () => {
  const dries = (et0Mm: number) => season((since) => (since < 8 ? { dawnMoisture: 0.34, et0Mm } : { et0Mm: 2 }));
  const at = (days: readonly DayRecord[], recovering = false) =>
    watch(days.slice(0, 53), NO_LIMIT, (view, state) => limitedOnDay(view, state, recovering)).state.open;

  it('is found where the soil dries on hot days above standing water', () => {
    expect(at(dries(7))?.days).toBe(8);
  });

  it('is not seen in cool weather, nor while the soil comes back from a failed wick', () => {
    expect(at(dries(1))).toBeNull();
    expect(at(dries(7), true)).toBeNull();
  });
});

it('calls a soil waterlogged that holds far more than the wick leaves in it, and not a little more', () => {
  const wet = (moisture: number) =>
    watch(
      season(() => ({ dawnMoisture: moisture })),
      NOT_WATERLOGGED,
      waterloggedOnDay,
    ).state.open;
  expect(wet(0.5)).not.toBeNull();
  expect(wet(0.45)).toBeNull();
});

it('does not call a planting collapsed whose level rises by itself', () => {
  const days = season((since) => ({ netUseLitres: since < 6 ? -1.5 : 0.02 }));
  expect(watch(days.slice(0, 55), NO_COLLAPSE, collapseOnDay).state.open).toBeNull();
  const still = season(() => ({ netUseLitres: 0.02 }));
  expect(watch(still.slice(0, 55), NO_COLLAPSE, collapseOnDay).state.open).not.toBeNull();
});

it('does not call a planting collapsed that rests in the cold', () => {
  const days = season(() => ({ netUseLitres: 0.02, temperatureMinC: -3, temperatureMaxC: 5 }));
  expect(watch(days, NO_COLLAPSE, collapseOnDay).state.open).toBeNull();
});

describe('an overflow port', () => {
  const fold = (levels: readonly number[]) => {
    const view = makeView({ demandLitresPerDay: 1 });
    const state = levels.reduce(
      (before, levelMm, i) =>
        portOnReading(view, before, makeReading({ timeMs: START_MS + i * HOUR_MS, levelMm, rawLevelMm: levelMm })),
      NO_PORT,
    );
    return overflowPort(view, state, START_MS + levels.length * HOUR_MS);
  };

  it('is not called blocked for a hose that outran it for an hour', () => {
    expect(fold([150, 216, 205, 200, 199, 199])).toBeNull();
  });

  it('is called blocked where the water stands above it for half a day', () => {
    const draft = fold([150, ...Array.from({ length: 16 }, (_, i) => 220 - i * 0.3)]);
    expect(draft?.kind).toBe('overflow_blocked');
    expect(draft?.heightMm).toBe(200);
    expect(draft?.severity).toBe('high');
  });

  it('is called partly blocked where the water runs out slowly', () => {
    const falling = [240, 236, 232, 229, 226, 223, 220, 217, 215, 213, 211, 210, 209, 208, 207.5, 207];
    expect(fold([150, ...falling])?.kind).toBe('overflow_partly_blocked');
  });
});

describe('an overflow port in the cold', () => {
  // At -10 °C the sensor reads 0.2 mm/K × 30 K = 6 mm too high; the water stands at the invert of 200 mm.
  const cold = (levelMm: number, learnt: Partial<PotView>) => {
    const view = makeView({ demandLitresPerDay: 0.2, ...learnt });
    const readings = Array.from({ length: 20 }, (_, i) =>
      makeReading({ timeMs: START_MS + i * HOUR_MS, levelMm, rawLevelMm: levelMm, temperatureC: -10 }),
    );
    const state = readings.reduce((before, reading) => portOnReading(view, before, reading), NO_PORT);
    return overflowPort(view, state, START_MS + 20 * HOUR_MS);
  };
  const learnt = { temperatureMmPerK: -0.2, temperatureSdMmPerK: 0.02 };

  it('is not called blocked for what the sensor reads too high, learnt or not', () => {
    expect(cold(206, learnt)).toBeNull();
    expect(cold(206, { temperatureMmPerK: 0, temperatureSdMmPerK: null })).toBeNull();
  });

  it('is called blocked where the water stands higher than that', () => {
    expect(cold(216, learnt)?.kind).toBe('overflow_blocked');
    expect(cold(208, { temperatureMmPerK: 0, temperatureSdMmPerK: 0.02 })?.kind).toBe('overflow_blocked');
  });
});

describe('a battery', () => {
  const run = (volts: (i: number) => number) => {
    const days = Array.from({ length: 50 }, (_, i) => makeDay({ dayNumber: START_DAY + i, batteryV: volts(i) }));
    const { state, view } = watch(days, NO_BATTERY, batteryOnDay);
    return batteryLow(view, state);
  };

  it('on a sloping curve is given a date', () => {
    const draft = run((i) => 2.5 - 0.008 * i);
    expect(draft?.evidence.map((message) => message.code)).toContain('finding.battery_low.forecast');
  });

  it('is judged by the cell of the node in use, not by that of the node before', () => {
    const days = Array.from({ length: 50 }, (_, i) =>
      makeDay({ dayNumber: START_DAY + i, batteryV: i < 30 ? 3.6 : 2.9 }),
    );
    const view = (assignedMs: number) =>
      makeView({ days: packDays(days.slice(0, 40)), atMs: days[39]!.endMs, assignedMs });
    const old = days
      .slice(0, 30)
      .reduce(
        (state, _, i) => batteryOnDay(makeView({ days: packDays(days.slice(0, i + 1)), assignedMs: 0 }), state),
        NO_BATTERY,
      );
    expect(batteryLow(view(0), batteryOnDay(view(0), old))).not.toBeNull();
    const replaced = view(days[30]!.startMs);
    expect(batteryLow(replaced, batteryOnDay(replaced, old))).toBeNull();
  });

  it('on a flat curve is quiet until the knee', () => {
    expect(run(() => 3.61)).toBeNull();
    const draft = run((i) => (i < 40 ? 3.61 : 3.61 - 0.03 * (i - 39)));
    expect(draft?.evidence.map((message) => message.code)).toContain('finding.battery_low.knee');
  });
});

describe('exchanged nodes', () => {
  const pot = (
    id: string,
    before: Partial<SwapSummary['days'][0]>,
    after: Partial<SwapSummary['days'][0]>,
    jumps: SwapSummary['jumps'] = [],
  ): SwapSummary => ({
    containerId: id,
    name: id,
    nodeId: `N${id}`,
    days: Array.from({ length: 16 }, (_, i) => ({
      dayNumber: START_DAY + i,
      endMs: (START_DAY + i + 1) * DAY_MS,
      levelMm: 120,
      moisture: 0.4,
      fallPerEt0: 2,
      refilled: false,
      ...(i < 12 ? before : after),
    })),
    jumps,
  });
  const one = { levelMm: 60, moisture: 0.38, fallPerEt0: 1 };
  const two = { levelMm: 150, moisture: 0.43, fallPerEt0: 4 };
  const found = (pots: readonly SwapSummary[]) => findSwaps(pots).map((draft) => [draft.containerId, draft.kind]);

  it('are found in the two pots whose records cross', () => {
    expect(found([pot('A', one, two), pot('B', two, one), pot('C', {}, {})])).toEqual([
      ['A', 'nodes_swapped'],
      ['B', 'nodes_swapped'],
    ]);
  });

  it('are found by two soils that step apart and two thirsts that change places, without a step of the level', () => {
    const level = { levelMm: 100 };
    expect(
      found([
        pot('A', { ...one, ...level }, { ...two, ...level }),
        pot('B', { ...two, ...level }, { ...one, ...level }),
      ]),
    ).toHaveLength(2);
  });

  it('are found at once where both levels jump to where the other stood', () => {
    const atMs = (START_DAY + 15) * DAY_MS;
    const rise = [{ id: 'r', endMs: atMs, fromMm: 62, toMm: 147 }];
    const fall = [{ id: 'f', endMs: atMs + HOUR_MS, fromMm: 151, toMm: 58 }];
    expect(found([pot('A', one, one, rise), pot('B', two, two, fall)])).toHaveLength(2);
    const day = 24 * HOUR_MS;
    const back = [...fall, { id: 'b', endMs: atMs + 20 * day, fromMm: 60, toMm: 148 }];
    const down = [...rise, { id: 'd', endMs: atMs + 20 * day, fromMm: 149, toMm: 61 }];
    expect(found([pot('A', one, one, down), pot('B', two, two, back)])).toEqual([]);
    const elsewhere = [{ id: 'e', endMs: atMs + HOUR_MS, fromMm: 190, toMm: 110 }];
    expect(found([pot('A', one, one, rise), pot('B', two, two, elsewhere)])).toEqual([]);
    const later = [{ ...fall[0]!, endMs: atMs + 5 * HOUR_MS }];
    expect(found([pot('A', one, one, rise), pot('B', two, two, later)])).toEqual([]);
  });

  it('are found by a small crossing where both soils stepped apart on that day, and not without', () => {
    const atMs = (START_DAY + 12.2) * DAY_MS;
    const rise = [{ id: 'r', endMs: atMs, fromMm: 52, toMm: 66 }];
    const fall = [{ id: 'f', endMs: atMs + HOUR_MS, fromMm: 66, toMm: 52 }];
    const level = { levelMm: 60 };
    const soil = (moisture: number) => ({ ...level, moisture });
    expect(found([pot('A', soil(0.5), soil(0.4), rise), pot('B', soil(0.36), soil(0.46), fall)])).toHaveLength(2);
    expect(found([pot('A', soil(0.5), soil(0.5), rise), pot('B', soil(0.36), soil(0.36), fall)])).toEqual([]);
  });

  it('are not seen where one pot alone changed, or none', () => {
    expect(findSwaps([pot('A', one, two), pot('B', two, two)])).toEqual([]);
    expect(findSwaps([pot('A', one, one), pot('B', two, two)])).toEqual([]);
  });

  it('are not seen where both pots were refilled, or both plantings slowed down', () => {
    const full = { levelMm: 150 };
    expect(findSwaps([pot('A', {}, full), pot('B', { levelMm: 60 }, full)])).toEqual([]);
    expect(findSwaps([pot('A', {}, { fallPerEt0: 0.5 }), pot('B', {}, { fallPerEt0: 0.5 })])).toEqual([]);
  });
});

it('leaves out what a stuck sensor explains', () => {
  const draft = (kind: 'sensor_stuck' | 'leak' | 'battery_low') => ({
    containerId: 'C1',
    nodeId: 'N1',
    kind,
    onsetMs: null,
    size: null,
    unit: null,
    heightMm: null,
    confidence: 0.8,
    severity: 'low' as const,
    evidence: [],
    toConfirm: null,
  });
  const left = weigh([draft('sensor_stuck'), draft('leak'), draft('battery_low')]);
  expect(left.map((entry) => entry.kind)).toEqual(['sensor_stuck', 'battery_low']);
});
