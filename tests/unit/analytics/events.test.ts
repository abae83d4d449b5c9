import { describe, expect, it } from 'vitest';
import { advance, startAnalysis } from '../../../src/analytics/analysis.js';
import { compareInputs } from '../../../src/app/analysis/pot-driver.js';
import type { PotContext, PotInput } from '../../../src/domain/analysis.js';
import type { PotEvent } from '../../../src/domain/pot.js';
import { gaussian, potContext, reading, seededRng, weatherInput } from '../../support/pot-series.js';

const START_MS = Date.parse('2026-06-01T00:00:00Z');
const STEP_MS = 900_000;

/** Levels every quarter of an hour from a function of hours since the start. */
function levels(hours: number, levelAt: (hour: number) => number, noiseMm = 0.4): PotInput[] {
  const rng = seededRng(5);
  return Array.from({ length: hours * 4 }, (_, i) =>
    reading(START_MS + i * STEP_MS, Math.round((levelAt(i / 4) + noiseMm * gaussian(rng)) * 10) / 10),
  );
}

function eventsOf(ctx: PotContext, inputs: readonly PotInput[]): readonly PotEvent[] {
  return advance(ctx, startAnalysis(ctx), [...inputs].sort(compareInputs)).derived.events;
}

const pour = (at: number, from: number, to: number) => (hour: number) =>
  hour < at ? from - 0.2 * hour : to - 0.2 * (hour - at);

describe('events', () => {
  it('tells a jump on a covered pot as a refill with its litres', () => {
    const events = eventsOf(potContext(), levels(48, pour(30, 80, 180)));
    expect(events.map((event) => event.kind)).toEqual(['refill']);
    expect(events[0]!.litres).toBeGreaterThan(0.97 * 0.15 * 106);
    expect(events[0]!.litres).toBeLessThan(1.03 * 0.15 * 106);
    expect(events[0]!.atLeast).toBe(false);
    expect(events[0]!.id).toBe(`C1.gain.${events[0]!.startMs}`);
  });

  it('says "at least" where the refill reached the port', () => {
    const events = eventsOf(potContext(), levels(48, pour(30, 80, 199.5)));
    expect(events[0]!.atLeast).toBe(true);
  });

  it('merges pours within an hour into one refill', () => {
    const twice = (hour: number): number => (hour < 30 ? 80 : hour < 30.5 ? 120 : 170);
    const events = eventsOf(potContext(), levels(48, twice));
    expect(events).toHaveLength(1);
    expect(events[0]!.litres).toBeGreaterThan(12.5);
  });

  it('finds a step of 10 mm within a noise of 2 mm', () => {
    const events = eventsOf(potContext(), levels(72, pour(40, 90, 92), 2));
    expect(events.filter((event) => event.kind === 'refill')).toHaveLength(1);
  });

  it('takes a slow climb on an uncovered pot after rain for rain, once the rain is known', () => {
    const ctx = potContext({ covered: false });
    const climb = (hour: number): number => (hour < 28 ? 100 : hour < 36 ? 100 + 2 * (hour - 28) : 116);
    const inputs = [
      ...levels(72, climb),
      weatherInput(ctx, '2026-06-01', 4, 0),
      weatherInput(ctx, '2026-06-02', 2, 22),
    ];
    const events = eventsOf(ctx, inputs);
    expect(events.map((event) => event.kind)).toEqual(['rain']);
  });

  it('takes a large jump for a pour even on a wet day', () => {
    const ctx = potContext({ covered: false });
    const inputs = [
      ...levels(60, pour(34, 80, 180)),
      weatherInput(ctx, '2026-06-01', 4, 12),
      weatherInput(ctx, '2026-06-02', 2, 9),
    ];
    expect(eventsOf(ctx, inputs).map((event) => event.kind)).toEqual(['refill']);
  });

  it('lets a crew’s report raise the confidence, and books the refill as the crew’s', () => {
    const ctx = potContext();
    const report: PotInput = { kind: 'work', timeMs: START_MS + 31 * 3_600_000, work: 'refill', litres: 16 };
    const inputs = [...levels(60, pour(30, 80, 180)), report].sort(compareInputs);
    const { derived } = advance(ctx, startAnalysis(ctx), inputs);
    const without = eventsOf(ctx, levels(60, pour(30, 80, 180)));
    expect(derived.events[0]!.confidence).toBeGreaterThanOrEqual(without[0]!.confidence);
    const crew = derived.ledgerDays.reduce((sum, day) => sum + day.refillCrewLitres, 0);
    expect(crew).toBeCloseTo(derived.events[0]!.litres, 6);
  });

  it('obeys a person who says that a refill was rain, or nothing', () => {
    const ctx = potContext();
    const plain = levels(60, pour(30, 80, 180));
    const [event] = eventsOf(ctx, plain);
    const correct = (correctedKind: 'rain' | 'none', litres: number | null): PotInput => ({
      kind: 'correction',
      timeMs: event!.startMs,
      eventId: event!.id,
      correctedKind,
      litres,
      startMs: null,
      added: false,
    });
    const asRain = eventsOf(ctx, [...plain, correct('rain', 12)]);
    expect(asRain.map(({ kind, litres, confidence }) => [kind, litres, confidence])).toEqual([['rain', 12, 1]]);
    expect(eventsOf(ctx, [...plain, correct('none', null)])).toEqual([]);
  });

  it('tells a fall of 40 mm between two readings as a sudden loss, or as drained where the crew says so', () => {
    const fall = (hour: number): number => (hour < 40 ? 150 : 105);
    expect(eventsOf(potContext(), levels(60, fall)).map((event) => event.kind)).toEqual(['sudden_loss']);
    const report: PotInput = { kind: 'work', timeMs: START_MS + 39.5 * 3_600_000, work: 'drain', litres: null };
    expect(eventsOf(potContext(), [...levels(60, fall), report]).map((event) => event.kind)).toEqual(['drained']);
  });

  it('sees no event in a level that stands still', () => {
    for (const covered of [true, false]) {
      expect(
        eventsOf(
          potContext({ covered }),
          levels(24 * 20, () => 120, 1),
        ),
      ).toEqual([]);
    }
  });

  describe('of two readings that go astray together', () => {
    const astray = (byMm: number, times: number) => (hour: number) => {
      const step = Math.round(hour * 4);
      return 120 - 0.2 * hour + (step >= 120 && step < 120 + times ? byMm : 0);
    };

    it('makes neither a loss nor a refill', () => {
      expect(eventsOf(potContext(), levels(48, astray(-60, 2)))).toEqual([]);
    });

    it('takes back the refill that it had to tell', () => {
      const ctx = potContext();
      const inputs = levels(48, astray(60, 2));
      const first = advance(ctx, startAnalysis(ctx), inputs.slice(0, 122));
      expect(first.derived.events.map((event) => event.kind)).toEqual(['refill']);
      const { derived } = advance(ctx, first.state, inputs.slice(122));
      expect(derived.events).toEqual([]);
      expect(derived.withdrawnEvents).toContain(first.derived.events[0]!.id);
      const unexplained = advance(ctx, startAnalysis(ctx), inputs).derived.ledgerDays.map((day) =>
        Math.abs(day.unexplainedLitres),
      );
      expect(Math.max(...unexplained)).toBeLessThan(0.3);
    });

    it('still tells a loss that stays', () => {
      const events = eventsOf(potContext(), levels(48, astray(-60, 60)));
      expect(events.map((event) => event.kind)).toEqual(['sudden_loss', 'refill']);
    });
  });

  describe('on an uncovered pot in a downpour', () => {
    const ctx = potContext({ covered: false });
    const rises =
      (toMm: number) =>
      (hour: number): number =>
        hour < 30 ? 150 : Math.min(toMm, 150 + 12 * (hour - 30));
    const wet = (levelAt: (hour: number) => number, moistureAt: (hour: number) => number): PotInput[] =>
      levels(60, levelAt, 0.4).map((input) =>
        input.kind === 'reading'
          ? {
              ...input,
              reading: { ...input.reading, moistureFraction: moistureAt((input.timeMs - START_MS) / 3_600_000) },
            }
          : input,
      );
    const days = [weatherInput(ctx, '2026-06-01', 4, 0), weatherInput(ctx, '2026-06-02', 1, 60)];

    it('calls a rise of 12 mm an hour rain where the soil got wet as well', () => {
      const inputs = [...wet(rises(190), (hour) => (hour < 30 ? 0.3 : 0.35)), ...days];
      expect(eventsOf(ctx, inputs).map((event) => event.kind)).toEqual(['rain']);
    });

    it('calls it a pour where it came at once and the soil did not notice', () => {
      const inputs = [...wet(pour(30, 150, 190), () => 0.3), ...days];
      expect(eventsOf(ctx, inputs).map((event) => event.kind)).toEqual(['refill']);
    });

    it('tells what went out by the port, at least, and books it as come and gone', () => {
      const deluge = [days[0]!, weatherInput(ctx, '2026-06-02', 1, 120)];
      const inputs = [...wet(rises(200), (hour) => (hour < 30 ? 0.3 : 0.35)), ...deluge].sort(compareInputs);
      const { events, ledgerDays } = advance(ctx, startAnalysis(ctx), inputs).derived;
      expect(events.map((event) => event.kind)).toEqual(['rain', 'overflow']);
      const [rain, overflow] = events;
      expect(overflow).toMatchObject({ atLeast: true, startMs: rain!.startMs });
      // 117 mm on 0.25 m2 of which half comes through, less what stayed, and half of that to be careful.
      expect(overflow!.litres).toBeCloseTo(0.5 * (0.5 * 0.25 * 117 - rain!.litres), 2);
      const day = ledgerDays.find((row) => row.day === '2026-06-02')!;
      expect(day.overflowLitres).toBe(overflow!.litres);
      expect(day.rainLitres).toBeCloseTo(rain!.litres + overflow!.litres, 6);
    });
  });

  it('books what the crew poured beyond what stayed as gone by the port, and says so', () => {
    const ctx = potContext();
    const report: PotInput = { kind: 'work', timeMs: START_MS + 31 * 3_600_000, work: 'refill', litres: 25 };
    const inputs = [...levels(60, pour(30, 80, 200)), report].sort(compareInputs);
    const { events, ledgerDays } = advance(ctx, startAnalysis(ctx), inputs).derived;
    expect(events.map((event) => event.kind)).toEqual(['refill', 'overflow']);
    expect(events.map((event) => event.atLeast)).toEqual([true, false]);
    expect(events[0]!.litres + events[1]!.litres).toBeCloseTo(25, 2);
    expect(ledgerDays.reduce((sum, day) => sum + day.overflowLitres, 0)).toBeCloseTo(events[1]!.litres, 9);
    const correction: PotInput = {
      kind: 'correction',
      timeMs: events[0]!.startMs,
      eventId: events[1]!.id,
      correctedKind: 'none',
      litres: null,
      startMs: null,
      added: false,
    };
    expect(eventsOf(ctx, [...inputs, correction]).map((event) => event.kind)).toEqual(['refill']);
  });

  it('books a pour that a silence over midnight hides on the day whose closing holds it', () => {
    const ctx = potContext();
    // Local midnight is 22:00 UTC; nothing is heard from 20:00 to 02:00.
    const silent = levels(60, pour(23, 80, 180)).filter(
      ({ timeMs }) => timeMs < START_MS + 20 * 3_600_000 || timeMs > START_MS + 26 * 3_600_000,
    );
    const { ledgerDays } = advance(ctx, startAnalysis(ctx), silent).derived;
    expect(ledgerDays[0]!.refillOtherLitres).toBe(0);
    expect(ledgerDays[1]!.refillOtherLitres).toBeGreaterThan(15);
    for (const day of ledgerDays) expect(Math.abs(day.unexplainedLitres)).toBeLessThan(0.5);
  });
});
