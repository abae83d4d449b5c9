import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { advance, assess, type PotState, startAnalysis } from '../../src/analytics/analysis.js';
import { compareInputs, PotDriver } from '../../src/app/analysis/pot-driver.js';
import type { DerivedRecords, PotInput } from '../../src/domain/analysis.js';
import { potContext, potSeries, seededRng } from '../support/pot-series.js';

/** Applies `derived` writes as a store does: what begins at or after `fromMs` goes, then every given row is put. */
class Shelf {
  readonly events = new Map<string, DerivedRecords['events'][number]>();
  readonly ledger = new Map<string, DerivedRecords['ledgerDays'][number]>();
  readonly hours = new Map<number, DerivedRecords['hourRollups'][number]>();

  write(derived: DerivedRecords): void {
    for (const [id, event] of this.events) if (event.startMs >= derived.fromMs) this.events.delete(id);
    for (const hourMs of this.hours.keys()) if (hourMs >= derived.fromMs) this.hours.delete(hourMs);
    for (const id of derived.withdrawnEvents) this.events.delete(id);
    for (const event of derived.events) this.events.set(event.id, event);
    for (const day of derived.ledgerDays) this.ledger.set(day.day, day);
    for (const hour of derived.hourRollups) this.hours.set(hour.hourMs, hour);
  }

  get content(): string {
    const sorted = <V>(map: Map<string | number, V>): readonly V[] =>
      [...map.entries()].sort((a, b) => (a[0] < b[0] ? -1 : 1)).map((entry) => entry[1]);
    return JSON.stringify([sorted(this.events), sorted(this.ledger), sorted(this.hours)]);
  }
}

function disturbed(seed: number, days: number): PotInput[] {
  const ctx = potContext();
  const rng = seededRng(seed);
  const inputs: PotInput[] = [];
  for (const input of potSeries(ctx, { days, seed, startMm: 60 + 130 * rng(), litresPerMmEt0: 0.2 + 0.5 * rng() })) {
    if (input.kind !== 'reading') {
      if (rng() < 0.9) inputs.push(input);
      continue;
    }
    if (rng() < 0.05) continue;
    const spike = rng() < 0.01 ? 80 * (rng() - 0.5) : 0;
    const levelMm = rng() < 0.02 ? null : Math.max(0, (input.reading.levelMm ?? 0) + spike);
    inputs.push({ ...input, reading: { ...input.reading, levelMm, temperatureC: 20 + 8 * rng() } });
  }
  return inputs.sort(compareInputs);
}

describe('the fold', () => {
  it('gives the same state, byte for byte, however its inputs are split into batches', () => {
    const ctx = potContext();
    fc.assert(
      fc.property(
        fc.integer({ min: 1, max: 1e6 }),
        fc.array(fc.integer({ min: 1, max: 200 }), { minLength: 1 }),
        (seed, cuts) => {
          const inputs = disturbed(seed, 9);
          const whole = advance(ctx, startAnalysis(ctx), inputs);
          const shelf = new Shelf();
          let state: PotState = startAnalysis(ctx);
          let at = 0;
          for (let i = 0; at < inputs.length; i++) {
            const next = at + cuts[i % cuts.length]!;
            // Through JSON, as a checkpoint goes through the store.
            const step = advance(ctx, JSON.parse(JSON.stringify(state)) as PotState, inputs.slice(at, next));
            state = step.state;
            shelf.write(step.derived);
            at = next;
          }
          expect(JSON.stringify(state)).toBe(JSON.stringify(whole.state));
          const once = new Shelf();
          once.write(whole.derived);
          expect(shelf.content).toBe(once.content);
        },
      ),
      { numRuns: 15 },
    );
  });

  it('goes on from any of its checkpoints to the same state', () => {
    const ctx = potContext();
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 1e6 }), fc.nat(), (seed, pick) => {
        const inputs = disturbed(seed, 9);
        const whole = advance(ctx, startAnalysis(ctx), inputs);
        const checkpoint = whole.checkpoints[pick % whole.checkpoints.length]!;
        const rest = inputs.filter((input) => input.timeMs >= checkpoint.atMs);
        const again = advance(ctx, checkpoint.state, rest);
        expect(JSON.stringify(again.state)).toBe(JSON.stringify(whole.state));
      }),
      { numRuns: 15 },
    );
  });

  it('derives the same records in whatever order the inputs arrive', () => {
    const ctx = potContext();
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 1e6 }), (seed) => {
        const inputs = disturbed(seed, 7);
        const rng = seededRng(seed + 1);
        // Late by up to two days, each for itself; repeated now and then.
        const arrivals = inputs
          .flatMap((input) => (rng() < 0.05 ? [input, input] : [input]))
          .map((input) => ({ input, at: input.timeMs + (rng() < 0.1 ? rng() * 2 * 86_400_000 : 0) }))
          .sort((a, b) => a.at - b.at);
        const driver = new PotDriver(ctx, { keepMs: Number.POSITIVE_INFINITY, openRows: true });
        const shelf = new Shelf();
        for (let at = 0; at < arrivals.length; at += 7) {
          const result = driver.take(arrivals.slice(at, at + 7).map((arrival) => arrival.input));
          expect(result.kind).not.toBe('rewind_beyond_memory');
          if (result.kind === 'changed') shelf.write(result.derived);
        }
        const whole = advance(ctx, startAnalysis(ctx), inputs);
        const once = new Shelf();
        once.write(whole.derived);
        expect(JSON.stringify(driver.state)).toBe(JSON.stringify(whole.state));
        expect(shelf.content).toBe(once.content);
        const nowMs = inputs.at(-1)!.timeMs;
        expect(JSON.stringify(driver.assess(nowMs, []))).toBe(JSON.stringify(assess(ctx, whole.state, nowMs, [])));
      }),
      { numRuns: 10 },
    );
  });
});
