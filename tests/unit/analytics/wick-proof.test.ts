import { expect, it } from 'vitest';
import { type ProofDay, proveWick } from '../../../src/analytics/wick-proof.js';
import { DAY_MS } from '../../../src/domain/local-day.js';

const days = (moistures: readonly (number | null)[], parts: Partial<ProofDay> = {}): ProofDay[] =>
  moistures.map((moistureFraction, i) => ({
    endMs: (20_000 + i) * DAY_MS,
    moistureFraction,
    drawnLitres: 0.6,
    wettedFromAbove: false,
    waterAtWick: true,
    ...parts,
  }));

it('proves a wick that keeps the soil moist while the level falls', () => {
  const result = proveWick(days([0.41, 0.4, 0.405, 0.4, 0.398, 0.402]), 60);
  expect(result.kind).toBe('proved');
});

it('does not call a wick proved that was helped from above', () => {
  expect(proveWick(days([0.41, 0.4, 0.41, 0.4, 0.4, 0.4], { wettedFromAbove: true }), 60)).toEqual({
    kind: 'not_yet_proved',
    days: 0,
    missing: 'wetted_from_above',
  });
});

it('asks for more days, more use, a moisture sensor or water at the wick, whichever lacks', () => {
  expect(proveWick(days([0.4, 0.4]), 60)).toMatchObject({ missing: 'too_few_days' });
  expect(proveWick(days([0.4, 0.4, 0.4, 0.4, 0.4, 0.4], { drawnLitres: 0.05 }), 60)).toMatchObject({
    missing: 'too_little_drawn',
  });
  expect(proveWick(days([null, null, null, null, null]), 60)).toMatchObject({ missing: 'no_moisture_sensor' });
  expect(proveWick(days([0.4, 0.4, 0.4, 0.4, 0.4], { waterAtWick: false }), 60)).toMatchObject({
    missing: 'no_water_at_the_wick',
  });
});

it('says that a wick has failed where the soil dries above standing water', () => {
  const drying = days([0.42, 0.4, 0.38, 0.36, 0.345, 0.33], { drawnLitres: 0.02 });
  expect(proveWick(drying, 60)).toMatchObject({ kind: 'disproved', moistureFrom: 0.42 });
});

it('waits for a soil that drains to its balance before it judges', () => {
  const settling = days([0.5, 0.46, 0.43, 0.41, 0.4, 0.4, 0.4, 0.4, 0.4]);
  expect(proveWick(settling, 60).kind).toBe('proved');
});
