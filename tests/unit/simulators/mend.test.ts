import { describe, expect, it } from 'vitest';
import { planSeasonFleet } from '../../../simulators/fleet/season-fleet.js';
import { LiveFleet } from '../../../simulators/live/live-fleet.js';
import { mend } from '../../../simulators/live/mend.js';

const DAY_MS = 86_400_000;

describe('a planting that died', () => {
  it('is replaced once, however often somebody comes', () => {
    const plan = planSeasonFleet({ seed: 'mend', containers: 80, days: 120, firstDay: '2026-04-01', intervalS: null });
    const fleet = new LiveFleet(plan, Date.UTC(2026, 3, 1), true);
    const found = fleet.sites.flatMap((site) =>
      site.plan.pots.flatMap((pot, potIndex) => pot.faults.demandSpans.map((span) => ({ site, potIndex, span }))),
    )[0];
    if (found === undefined) throw new Error('no planting dies in this fleet');
    const { site, potIndex, span } = found;
    const run = site.simulation.runs[potIndex]!;
    const demand = (): number => run.spec.model.demandLPerHour.reduce((sum, litres) => sum + litres, 0);
    const atMs = site.calendar.dayStartMs[span.fromDay]! + DAY_MS;
    const before = demand();
    mend(site, potIndex, 'planting', atMs);
    const after = demand();
    mend(site, potIndex, 'planting', atMs + DAY_MS);
    expect(after).toBeGreaterThan(before);
    expect(demand()).toBe(after);
  });
});
