import { describe, expect, it } from 'vitest';
import { makeDraft } from '../../../../src/analytics/findings/draft.js';
import { type Fall, fallOnEvent, repeatedFalls } from '../../../../src/analytics/findings/leak/repeated-falls.js';
import { weigh } from '../../../../src/analytics/findings/weigh.js';
import { DAY_MS, HOUR_MS } from '../../../../src/domain/local-day.js';
import type { EventKind, FindingKind, PotEvent } from '../../../../src/domain/pot.js';
import { makeView, START_MS } from '../../../support/pot-view.js';

const draft = (kind: FindingKind, confidence = 0.8) =>
  makeDraft(makeView(), kind, { confidence, severity: 'medium', evidence: [] });

describe('competing causes', () => {
  it('leave the more basic one, which names the rival and how sure it was', () => {
    const [kept, ...others] = weigh([draft('leak', 0.77), draft('sensor_stuck')]);
    expect(others).toEqual([]);
    expect(kept?.kind).toBe('sensor_stuck');
    expect(kept?.evidence).toEqual([{ code: 'finding.instead_of.leak', params: { asideFraction: 0.77 } }]);
  });

  it('are all said where none explains another', () => {
    expect(weigh([draft('leak'), draft('battery_low')]).map((one) => one.kind)).toEqual(['leak', 'battery_low']);
  });
});

describe('falls after refills', () => {
  const event = (kind: EventKind, startMs: number, toMm: number, id = `${kind}:${startMs}`): PotEvent => ({
    id,
    containerId: 'C1',
    kind,
    startMs,
    endMs: startMs + HOUR_MS,
    startLevelMm: 150,
    endLevelMm: toMm,
    litres: 8,
    atLeast: false,
    confidence: 0.9,
  });
  const watch = (heights: readonly number[], parts: Parameters<typeof makeView>[0] = {}, refilled = true) =>
    heights.reduce<readonly Fall[]>((falls, toMm, week) => {
      const refillMs = START_MS + 7 * week * DAY_MS;
      const recentEvents = refilled ? [event('refill', refillMs, 150)] : [];
      return fallOnEvent(
        makeView({ recentEvents, ...parts }),
        falls,
        event('sudden_loss', refillMs + 3 * HOUR_MS, toMm),
      );
    }, []);
  const soon = START_MS + 8 * DAY_MS;

  it('to one height are a hole at that height', () => {
    expect(repeatedFalls(watch([62, 65]), soon)).toMatchObject({ heightMm: 63.5, falls: 2, litresPerDay: 192 });
  });

  it('are none once, at two heights, without a refill before, or where a dry soil may have drunk it', () => {
    expect(repeatedFalls(watch([62]), soon)).toBeNull();
    expect(repeatedFalls(watch([62, 90]), soon)).toBeNull();
    expect(repeatedFalls(watch([62, 65], {}, false), soon)).toBeNull();
    expect(repeatedFalls(watch([62, 65], { debtLitres: 7 }), soon)).toBeNull();
  });

  it('are forgotten when the event turns out to be something else, and when they stop', () => {
    const falls = watch([62, 65]);
    expect(repeatedFalls(falls, soon + 30 * DAY_MS)).toBeNull();
    const drained = { ...event('drained', falls[1]!.startMs, 65), id: falls[1]!.id };
    expect(repeatedFalls(fallOnEvent(makeView(), falls, drained), soon)).toBeNull();
  });
});
