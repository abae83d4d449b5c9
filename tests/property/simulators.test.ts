import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { PROFILES, planRandomFleet } from '../../simulators/fleet/random-fleet.js';
import { runDry } from '../../simulators/fleet/site-simulation.js';
import { buildSite, type FleetPlan, Regions, type SiteWorld } from '../../simulators/fleet/world.js';

/** Litres: sums of some ten thousand steps of tens of litres in double precision. */
const ROUNDING_LITRES = 1e-8;

function run(plan: FleetPlan, days: number): SiteWorld[] {
  const regions = new Regions(plan);
  return plan.sites.map((sitePlan) => {
    const site = buildSite(sitePlan, plan, regions);
    site.simulation.advanceTo(days * 96);
    return site;
  });
}

describe('the simulated water', () => {
  it('balances to rounding in every pot of any fleet, and never leaves the vessel’s bounds', () => {
    fc.assert(
      fc.property(fc.string({ minLength: 1, maxLength: 8 }), fc.constantFrom(...PROFILES), (seed, profile) => {
        const plan = planRandomFleet({
          seed,
          profile,
          containers: 4,
          days: 70,
          firstDay: '2025-06-01',
          climate: 'mixed',
          moistureShare: 0.9,
        });
        for (const site of run(plan, 70)) {
          for (const pot of site.simulation.runs) {
            expect(Math.abs(pot.balanceErrorLitres)).toBeLessThan(ROUNDING_LITRES);
            for (let step = 0; step <= 70 * 96; step += 7) {
              expect(pot.levelMm[step]).toBeGreaterThanOrEqual(0);
              expect(pot.levelMm[step]).toBeLessThanOrEqual(pot.spec.model.curve.topMm);
              expect(pot.soilLitres[step]).toBeGreaterThanOrEqual(pot.spec.model.soil.wiltLitres - 1e-3);
              expect(pot.soilLitres[step]).toBeLessThanOrEqual(pot.spec.model.soil.saturatedLitres + 1e-3);
            }
          }
        }
      }),
      { numRuns: 5 },
    );
  });

  it('runs dry in the counterfactual no later than in fact, and stress never comes before it', () => {
    const plan = planRandomFleet({
      seed: 'dry',
      profile: 'healthy',
      containers: 8,
      days: 60,
      firstDay: '2025-06-01',
      climate: 'coast',
      moistureShare: 1,
    });
    const regions = new Regions(plan);
    let compared = 0;
    for (const sitePlan of plan.sites) {
      const site = buildSite(sitePlan, plan, regions);
      site.simulation.advanceTo(20 * 96);
      for (const pot of site.simulation.runs) {
        const said = runDry(pot.spec, site.calendar, 20 * 96, { ...pot.state });
        if (said.dryMs !== null && said.stressMs !== null) {
          expect(said.stressMs).toBeGreaterThanOrEqual(said.dryMs);
          compared++;
        }
        // Running the counterfactual changes nothing in the pot itself.
        expect(runDry(pot.spec, site.calendar, 20 * 96, { ...pot.state })).toEqual(said);
      }
    }
    expect(compared).toBeGreaterThan(3);
  });
});
