import { DAY_MS } from '../../../src/domain/local-day.js';
import type { PotStatus } from '../../../src/domain/pot.js';
import { type BenchWorld, rainLitres, THIRST_ERROR_SD, THIRST_WANDER_DAYS, THIRST_WANDER_SD } from './world.js';

const HORIZON_DAYS = 60;
/**
 * Spread of the logarithm of water drawn by a lead: what the thirst is off, how far it wanders by then, and what the weather of
 * few days leaves open. The first two are the world's own; with the third, of full and half-full pots of two other seeds in
 * June to August 7 to 10 in 100 under a roof were dry before p10 (4 to 6 of them with 0.16).
 */
const THIRST_SD = THIRST_ERROR_SD;
const DAY_SD = 0.11;
const Z90 = 1.2815515655446004;
/** Hour at which the day's visits are decided. */
export const DECIDED_AT_HOUR = 6;

/**
 * What a forecast would say of a pot in the morning of a day: the true state, seen through the errors of the benchmark.
 * Every policy gets the same errors. @param litres drawable litres that are there
 */
export function statusOf(world: BenchWorld, pot: number, day: number, litres: number): PotStatus {
  const { drawableLitres, deadLitres, surfaceM2, litresPerMm, thirstError, litresError, id } = world.pots[pot]!;
  const nowMs = world.calendar.dayStartMs[day]! + DECIDED_AT_HOUR * 3_600_000;
  const seen = Math.min(drawableLitres, Math.max(0, litres + litresError[day]!));
  const thirst = litresPerMm[day]! * Math.exp(thirstError[day]!);
  const et0 = world.et0Forecast[day]!;
  const rain = world.rainForecast[day]!;
  const useOf = (lead: number) =>
    thirst * (et0[lead] ?? world.usualEt0Mm[Math.min(day + lead, world.usualEt0Mm.length - 1)]!);
  const dryAfterDays = (z: number): number | null => {
    let left = seen;
    for (let lead = 0; lead < HORIZON_DAYS; lead++) {
      const wandered = THIRST_WANDER_SD * Math.sqrt(1 - Math.exp((-2 * lead) / THIRST_WANDER_DAYS));
      const spread = Math.hypot(THIRST_SD, wandered, DAY_SD / Math.sqrt(lead + 1));
      const use = useOf(lead) * Math.exp(-z * spread);
      if (left <= use) return use <= 0 ? lead : lead + left / use;
      left -= use;
      const expected = rain[lead];
      // Only rain that is likely is counted on, and not at the cautious end.
      if (z >= 0 && expected !== undefined && expected.chance >= 0.5) {
        left = Math.min(drawableLitres, left + rainLitres(surfaceM2, expected.mm));
      }
    }
    return null;
  };
  const at = (z: number) => {
    const days = dryAfterDays(z);
    return days === null ? null : nowMs + days * DAY_MS;
  };
  const rate = useOf(0);
  return {
    containerId: id,
    atMs: nowMs,
    nodeId: null,
    lastReadingMs: nowMs,
    levelMm: null,
    litres: deadLitres + seen,
    capacityLitres: deadLitres + drawableLitres,
    deadLitres,
    moistureFraction: null,
    temperatureC: null,
    batteryV: null,
    forecast: {
      containerId: id,
      originMs: nowMs,
      knowledge: 'known',
      levelMm: null,
      litres: deadLitres + seen,
      rateLitresPerDay: rate,
      rateSdLitresPerDay: rate * THIRST_SD,
      dry: { p10Ms: at(-Z90), p50Ms: at(0), p90Ms: at(Z90) },
      stress: null,
      dataDays: 30,
      basis: [],
    },
  };
}

/** Use of each of the days to come over that of the first. */
export function useFactors(world: BenchWorld, day: number, count: number): readonly number[] {
  const et0 = world.et0Forecast[day]!;
  return Array.from({ length: count }, (_, lead) => (et0[lead] ?? world.usualEt0Mm[day + lead]!) / et0[0]!);
}
