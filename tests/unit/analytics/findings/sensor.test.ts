import { describe, expect, it } from 'vitest';
import type { CleanReading } from '../../../../src/analytics/clean-reading.js';
import { clockOnReading, clockWrong, NO_CLOCK } from '../../../../src/analytics/findings/clock-wrong.js';
import { NO_SILENCE, nodeSilent, silenceOnReading } from '../../../../src/analytics/findings/node-silent.js';
import { NOT_STUCK, sensorStuck, stuckOnReading } from '../../../../src/analytics/findings/sensor-stuck.js';
import { PLUGGED, sensorUnplugged, unpluggedOnReading } from '../../../../src/analytics/findings/sensor-unplugged.js';
import { HOUR_MS } from '../../../../src/domain/local-day.js';
import { seeded } from '../../../support/leak-record.js';
import { makeDay, makeReading, makeView, packDays, START_MS } from '../../../support/pot-view.js';

const STEP_MS = HOUR_MS / 2;
const days = packDays(Array.from({ length: 20 }, (_, i) => makeDay({ dayNumber: 20_000 + i, noiseMm: 1 })));

/** Half-hourly readings; the level by the step's number. */
function readings(count: number, level: (i: number) => number | null, from = 0): CleanReading[] {
  return Array.from({ length: count }, (_, i) => {
    const rawLevelMm = level(from + i);
    return makeReading({
      timeMs: START_MS + (from + i) * STEP_MS,
      rawLevelMm,
      levelMm: rawLevelMm ?? 120,
      verdict: rawLevelMm === null ? 'no_level' : 'accepted',
    });
  });
}

describe('a stuck level', () => {
  const view = makeView({ days, demandLitresPerDay: 2, noiseMm: 1 });
  const fold = (all: readonly CleanReading[]) =>
    all.reduce((state, reading) => stuckOnReading(view, state, reading), NOT_STUCK);
  const rng = seeded(7);
  const trembling = readings(100, (i) => Math.round(140 - i * 0.3 + 2 * (rng() - 0.5)));

  it('is found once the plants must have drawn it down', () => {
    const frozen = readings(40, () => 111, 100);
    expect(sensorStuck(view, fold([...trembling, ...frozen.slice(0, 10)]))).toBeNull();
    const draft = sensorStuck(view, fold([...trembling, ...frozen]));
    expect(draft?.kind).toBe('sensor_stuck');
    expect(draft?.onsetMs).toBe(START_MS + 100 * STEP_MS);
  });

  it('is not seen in a full pot that nobody drinks from', () => {
    const idle = makeView({
      days: packDays([makeDay({ noiseMm: 0.3 })]),
      demandLitresPerDay: 0.02,
      noiseMm: 0.3,
      levelMm: 200,
    });
    const full = [...trembling, ...readings(60, () => 200, 100)];
    const state = full.reduce((before, reading) => stuckOnReading(idle, before, reading), NOT_STUCK);
    expect(sensorStuck(idle, state)).toBeNull();
  });

  it('is not seen where the water stands below a sensor that is mounted above the floor', () => {
    const dry = makeView({
      days,
      demandLitresPerDay: 2,
      noiseMm: 1,
      levelMm: 8,
      temperatureSdMmPerK: 0.01,
      temperatureMmPerK: 1,
    });
    const warm = (i: number) => (i % 2 === 0 ? 10 : 30);
    const falling = readings(100, (i) => Math.max(9, 110 - i + (i % 2)));
    const still = readings(60, () => 8, 100).map((reading, i) => ({ ...reading, temperatureC: warm(i) }));
    const at = (all: readonly CleanReading[]) =>
      sensorStuck(
        dry,
        all.reduce((state, reading) => stuckOnReading(dry, state, reading), NOT_STUCK),
      );
    expect(at([...falling, ...still])).toBeNull();
    const lower = readings(1, () => 2, 50);
    expect(at([...falling.slice(0, 50), ...lower, ...falling.slice(51), ...still])?.kind).toBe('sensor_stuck');
  });

  it('is not seen in a sensor that has never moved', () => {
    expect(sensorStuck(view, fold(readings(300, () => 120)))).toBeNull();
  });
});

describe('an unplugged level sensor', () => {
  const view = makeView();
  const fold = (all: readonly CleanReading[]) =>
    all.reduce((state, reading) => unpluggedOnReading(view, state, reading), PLUGGED);

  it('is found after three readings without a level', () => {
    const alive = readings(10, () => 120);
    expect(sensorUnplugged(view, fold([...alive, ...readings(2, () => null, 10)]))).toBeNull();
    expect(sensorUnplugged(view, fold([...alive, ...readings(3, () => null, 10)]))?.kind).toBe('sensor_unplugged');
  });

  it('is found at the dead end of its scale, but not in a pot that was drained', () => {
    const alive = readings(10, () => 120);
    expect(sensorUnplugged(view, fold([...alive, ...readings(8, () => 0, 10)]))?.kind).toBe('sensor_unplugged');
    expect(sensorUnplugged(view, fold([...alive, ...readings(8, (i) => (i % 2 === 0 ? 0 : 1), 10)]))).toBeNull();
  });

  it('is not seen in a dry pot after a single odd value', () => {
    const dry = readings(10, () => 2);
    const odd = readings(1, () => 90, 10).map((reading) => ({ ...reading, verdict: 'held' as const }));
    expect(sensorUnplugged(view, fold([...dry, ...odd, ...readings(8, () => 2, 11)]))).toBeNull();
  });

  it('is not said of a node that has no level sensor', () => {
    expect(sensorUnplugged(view, fold(readings(20, () => null)))).toBeNull();
  });
});

describe('a silent node', () => {
  it('is said when six promised readings are missing, half a day at least', () => {
    const view = makeView({ promisedIntervalS: 3 * 3600, learntIntervalS: 3 * 3600, lastReadingMs: START_MS });
    expect(nodeSilent(view, NO_SILENCE, START_MS + 17 * HOUR_MS)).toBeNull();
    const draft = nodeSilent(view, NO_SILENCE, START_MS + 19 * HOUR_MS);
    expect(draft?.evidence.map((message) => message.code)).toEqual([
      'finding.node_silent.since',
      'finding.node_silent.promised',
    ]);
  });

  it('gives a node more time that often pauses', () => {
    const view = makeView({ learntIntervalS: 900, lastReadingMs: START_MS });
    const pausing = [0, 10, 20].reduce(
      (state, hour) => silenceOnReading(state, makeReading({ timeMs: START_MS - (20 - hour) * HOUR_MS })),
      NO_SILENCE,
    );
    expect(nodeSilent(view, NO_SILENCE, START_MS + 13 * HOUR_MS)).not.toBeNull();
    expect(nodeSilent(view, pausing, START_MS + 13 * HOUR_MS)).toBeNull();
  });

  it('says nothing about a pot without a node', () => {
    expect(nodeSilent(makeView({ nodeId: null }), NO_SILENCE, START_MS + 99 * HOUR_MS)).toBeNull();
  });
});

describe('a wrong clock', () => {
  const view = makeView({ learntIntervalS: 1800 });
  const fold = (lagMs: (i: number) => number) =>
    Array.from({ length: 14 }, (_, i) => {
      const timeMs = START_MS + i * STEP_MS;
      return makeReading({ timeMs, receivedMs: timeMs + lagMs(i) });
    }).reduce(clockOnReading, NO_CLOCK);

  it('makes every message late by the same time', () => {
    const draft = clockWrong(
      view,
      fold(() => 2 * HOUR_MS),
    );
    expect(draft?.kind).toBe('clock_wrong');
    expect(draft?.size).toBeCloseTo(-2, 6);
  });

  it('is not seen in a backlog, which is late by less and less', () => {
    expect(
      clockWrong(
        view,
        fold((i) => (14 - i) * STEP_MS),
      ),
    ).toBeNull();
    expect(
      clockWrong(
        view,
        fold(() => 5000),
      ),
    ).toBeNull();
  });

  it('is seen where readings come before their time', () => {
    expect(
      clockWrong(
        view,
        fold(() => -5 * 60_000),
      )?.evidence[0]?.code,
    ).toBe('finding.clock_wrong.ahead');
  });
});
