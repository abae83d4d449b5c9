import { describe, expect, it } from 'vitest';
import {
  type LeakState,
  leakFinding,
  leakFlowLitresPerDay,
  leakOnDay,
  NO_LEAK,
} from '../../../../src/analytics/findings/leak/leak.js';
import { nearFootRows } from '../../../../src/analytics/findings/leak/near-foot.js';
import { meanOrificeShare } from '../../../../src/analytics/findings/leak/rows.js';
import { type LeakRecordSpec, leakRecord, seeded } from '../../../support/leak-record.js';
import { makeDay, makeView, packBlocks, packDays, START_DAY } from '../../../support/pot-view.js';

const tight: LeakRecordSpec = {
  days: 60,
  leakFrom: 999,
  litresPerDayAtInvert: 0,
  crackMm: 60,
  demandStepFrom: 999,
  demandStep: 1,
  refillEveryDays: 7,
  noiseMm: 1,
  rng: seeded(1),
};

/** Folds the record day by day as the analysis does. */
function watch(
  spec: LeakRecordSpec,
  moistureReference: number | null = 0.4,
): { state: LeakState; foundOn: number | null; view: ReturnType<typeof makeView> } {
  const blocks = leakRecord(spec);
  let state = NO_LEAK;
  let foundOn: number | null = null;
  let view = makeView();
  for (let day = 6; day < spec.days; day++) {
    const known = packBlocks(blocks.filter((block) => block.dayNumber <= START_DAY + day));
    const record = makeDay({ dayNumber: START_DAY + day });
    view = makeView({ blocks: known, atMs: record.endMs, moistureReference });
    state = leakOnDay(view, state, record, false);
    if (state.open !== null) foundOn ??= day;
  }
  return { state, foundOn, view };
}

describe('a hole in the reservoir', () => {
  const spec = { ...tight, leakFrom: 30, litresPerDayAtInvert: 2, crackMm: 60 };
  const { state, foundOn, view } = watch(spec);

  it('is found within two weeks at 2 L/d, and not before it is there', () => {
    expect(foundOn).not.toBeNull();
    expect(foundOn!).toBeGreaterThanOrEqual(30);
    expect(foundOn!).toBeLessThan(44);
  });

  it('is given its size and height', () => {
    expect(Math.abs(state.open!.litresPerDay / 2 - 1)).toBeLessThan(0.3);
    expect(Math.abs(state.open!.heightMm - 60)).toBeLessThan(25);
  });

  it('comes with its numbers, its rival and a way to settle it', () => {
    const draft = leakFinding(view, state)!;
    expect(draft.kind).toBe('leak');
    expect(draft.unit).toBe('L/d');
    expect(draft.evidence.map((message) => message.code)).toEqual([
      'finding.leak.size',
      'finding.leak.height',
      'finding.leak.since',
      'finding.leak.not_demand',
      'finding.leak.now',
    ]);
    expect(draft.toConfirm?.code).toBe('finding.leak.confirm');
    expect(leakFlowLitresPerDay(state.open!, state.open!.heightMm - 1, 200)).toBe(0);
  });
});

it('must show so much better where no moisture sensor tells what the soil took', () => {
  const spec = { ...tight, leakFrom: 30, litresPerDayAtInvert: 1.6 };
  const seen = watch({ ...spec, rng: seeded(1) }).foundOn;
  const unseen = watch({ ...spec, rng: seeded(1) }, null).foundOn;
  expect(seen).not.toBeNull();
  expect(unseen ?? spec.days).toBeGreaterThan(seen!);
});

it('is not seen in a planting that grows thirstier by half', () => {
  expect(watch({ ...tight, demandStepFrom: 30, demandStep: 1.5, rng: seeded(2) }).foundOn).toBeNull();
});

it('is not seen in twenty tight pots', () => {
  for (let seed = 10; seed < 30; seed++) {
    expect(watch({ ...tight, days: 45, rng: seeded(seed) }).foundOn, `seed ${seed}`).toBeNull();
  }
});

it('is taken back after it was mended', () => {
  const leaky = leakRecord({ ...tight, leakFrom: 20, litresPerDayAtInvert: 3, rng: seeded(3) });
  const mended = leakRecord({ ...tight, rng: seeded(4) });
  const blocks = [
    ...leaky.filter((block) => block.dayNumber < START_DAY + 40),
    ...mended.filter((block) => block.dayNumber >= START_DAY + 40),
  ];
  let state = NO_LEAK;
  let wasOpen = false;
  for (let day = 6; day < 60; day++) {
    const record = makeDay({ dayNumber: START_DAY + day });
    const known = packBlocks(blocks.filter((block) => block.dayNumber <= START_DAY + day));
    state = leakOnDay(makeView({ blocks: known, atMs: record.endMs }), state, record, false);
    wasOpen ||= state.open !== null;
  }
  expect(wasOpen).toBe(true);
  expect(state.open).toBeNull();
});

describe('days near the wick’s foot', () => {
  const stood = (useLitres: number) =>
    packDays(
      Array.from({ length: 6 }, (_, i) =>
        makeDay({
          dayNumber: START_DAY + i,
          dawnLevelMm: 20 - i * (useLitres / 0.15),
          netUseLitres: useLitres,
          hoursDry: 24,
        }),
      ),
    );

  it('speak against a crack well below a level that stands still, and not against one beside it', () => {
    const rows = nearFootRows(makeView({ days: stood(0) }));
    expect(rows).toHaveLength(5);
    expect(rows[0]!.flows[0]).toBeGreaterThan(0.2);
    expect(rows[0]!.flows[2]).toBe(0);
    expect(rows[0]!.loss).toBeCloseTo(0, 9);
  });

  it('hold what was lost for drunk: never a sign of a leak', () => {
    const rows = nearFootRows(makeView({ days: stood(0.2) }));
    expect(rows.length).toBeGreaterThan(0);
    for (const row of rows) expect(row.loss).toBeLessThanOrEqual(0);
    expect(rows[0]!.sd).toBeGreaterThan(nearFootRows(makeView({ days: stood(0) }))[0]!.sd);
  });
});

describe('the mean flow of an orifice along a falling level', () => {
  it('is 1 with the water at the invert, 0 below the crack', () => {
    expect(meanOrificeShare(200, 200, 60, 200)).toBeCloseTo(1, 12);
    expect(meanOrificeShare(60, 40, 60, 200)).toBe(0);
  });

  it('agrees with a sum over small steps', () => {
    let sum = 0;
    for (let i = 0; i < 10_000; i++) sum += Math.sqrt(Math.max(0, 180 - (i + 0.5) * 0.014 - 60) / 140);
    expect(meanOrificeShare(180, 40, 60, 200)).toBeCloseTo(sum / 10_000, 4);
  });
});
