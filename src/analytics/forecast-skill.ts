import type { EpochMs } from '../domain/ids.js';
import { DAY_MS } from '../domain/local-day.js';

/** One day as it was forecast and as it came. */
export interface ForecastPair {
  /** Days from the issue to the day, see {@link leadOfIssue}. */
  readonly leadDays: number;
  readonly forecastEt0Mm: number;
  readonly observedEt0Mm: number;
  /** What the season alone said when the forecast was issued. */
  readonly usualEt0Mm: number;
}

/** How far a provider's forecasts of one lead are to be followed. */
export interface LeadSkill {
  readonly leadDays: number;
  readonly pairs: number;
  /**
   * ln(observed / usual) = offset + slope ln(forecast / usual): a slope near 1 means that the provider has brought its
   * forecasts towards the season itself, a small one that they depart from it more than is borne out.
   */
  readonly slope: number;
  readonly offset: number;
  /** Sd of ln(observed / usual), and what of it remains about that line. */
  readonly usualSd: number;
  readonly errorSd: number;
}

/**
 * Correlation expected before any was seen (Medina and Tian 2020, Hydrol. Earth Syst. Sci. 24:1011-1030, seen as
 * abstract, and judgement beyond five days).
 */
const EXPECTED_CORRELATION = [0.92, 0.88, 0.83, 0.77, 0.7, 0.62, 0.53, 0.45, 0.38, 0.3] as const;
/** Services publish the expected value, which far ahead is near the normals: what departure is left is meant. Judgement. */
const EXPECTED_SLOPE = 0.9;
const EXPECTED_SD = 0.3;
/** The expectation counts as so many pairs. */
const EXPECTATION_WEIGHT = 20;
export const MOST_LEAD_DAYS = EXPECTED_CORRELATION.length - 1;

/** Days from the issue of a forecast to the hydrological day that it speaks of, 0 for the day under way. */
export function leadOfIssue(issuedMs: EpochMs, dawnMs: EpochMs): number {
  return Math.max(0, Math.round((dawnMs - issuedMs) / DAY_MS));
}

/**
 * Skill of a forecast provider by lead, from its archive: least squares of what came on what was said, both as log
 * departures from the season, with the expected skill as so many pairs more. O(pairs).
 * @returns one entry for each lead from 0 to {@link MOST_LEAD_DAYS}
 */
export function forecastSkill(pairs: readonly ForecastPair[]): readonly LeadSkill[] {
  const byLead: ForecastPair[][] = Array.from({ length: MOST_LEAD_DAYS + 1 }, () => []);
  for (const pair of pairs) {
    if (pair.forecastEt0Mm > 0 && pair.observedEt0Mm > 0) byLead[pair.leadDays]?.push(pair);
  }
  return byLead.map((own, lead) => skillAt(lead, own));
}

function skillAt(leadDays: number, pairs: readonly ForecastPair[]): LeadSkill {
  const correlation = EXPECTED_CORRELATION[leadDays] ?? 0;
  const n = pairs.length;
  let sumSaid = 0;
  let sumCame = 0;
  const said: number[] = [];
  const came: number[] = [];
  for (const pair of pairs) {
    said.push(Math.log(pair.forecastEt0Mm / pair.usualEt0Mm));
    came.push(Math.log(pair.observedEt0Mm / pair.usualEt0Mm));
    sumSaid += said[said.length - 1]!;
    sumCame += came[came.length - 1]!;
  }
  const weight = n + EXPECTATION_WEIGHT;
  const meanSaid = sumSaid / weight;
  const meanCame = sumCame / weight;
  // The expected pairs: departures of sd `EXPECTED_SD` that were forecast with the expected correlation and slope.
  const priorSaid = EXPECTATION_WEIGHT * ((correlation * EXPECTED_SD) / EXPECTED_SLOPE) ** 2;
  let squareSaid = priorSaid;
  let crossed = EXPECTED_SLOPE * priorSaid;
  let squareCame = EXPECTATION_WEIGHT * EXPECTED_SD ** 2;
  for (let i = 0; i < n; i++) {
    squareSaid += (said[i]! - meanSaid) ** 2;
    crossed += (said[i]! - meanSaid) * (came[i]! - meanCame);
    squareCame += (came[i]! - meanCame) ** 2;
  }
  const slope = Math.min(MOST_SLOPE, Math.max(0, crossed / squareSaid));
  const unexplained = squareCame - 2 * slope * crossed + slope ** 2 * squareSaid;
  return {
    leadDays,
    pairs: n,
    slope,
    offset: meanCame - slope * meanSaid,
    usualSd: Math.sqrt(squareCame / weight),
    errorSd: Math.sqrt(Math.max(0, unexplained) / weight),
  };
}

/** A provider that understates departures by more than this has not been seen: it would be noise. */
const MOST_SLOPE = 1.3;
