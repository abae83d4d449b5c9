/** One day as it was forecast and as it came. */
export interface ForecastPair {
  /** Days from the issue to the day. */
  readonly leadDays: number;
  readonly forecastEt0Mm: number;
  readonly observedEt0Mm: number;
  /** What the season alone would have said. */
  readonly usualEt0Mm: number;
  readonly forecastRainMm: number | null;
  readonly rainProbability: number | null;
  readonly observedRainMm: number | null;
}

export interface LeadSkill {
  readonly leadDays: number;
  readonly pairs: number;
  /** Correlation of the logs' departures from the season, forecast against observed, 0-1. */
  readonly correlation: number;
  /** Sd of the observed log departures. */
  readonly usualSd: number;
  /** Sd of ln(observed) about the forecast brought towards the season by the correlation. */
  readonly errorSd: number;
  /** Days of more than 1 mm against the sum of the probabilities; null without rain forecasts. */
  readonly rainReliability: number | null;
}

/** Skill expected before any was seen (Medina and Tian 2020, HESS 24:1011, and judgement beyond five days). */
const EXPECTED_CORRELATION = [0.92, 0.88, 0.83, 0.77, 0.7, 0.62, 0.53, 0.45, 0.38, 0.3] as const;
const EXPECTED_SD = 0.3;
/** The expectation counts as so many pairs. */
const EXPECTATION_WEIGHT = 20;
const RAIN_MM = 1;
const MOST_LEAD = EXPECTED_CORRELATION.length - 1;

/**
 * Skill of a forecast provider by lead, from its archive: how much of a day's departure from the season it foresees.
 * With few pairs the expected skill holds; each pair moves it. A constant factor between forecast and observation does
 * not count as skill or lack of it: the pots' own coefficients absorb it.
 */
export function forecastSkill(pairs: readonly ForecastPair[]): readonly LeadSkill[] {
  return Array.from({ length: MOST_LEAD + 1 }, (_, lead) =>
    skillAt(
      lead,
      pairs.filter((pair) => Math.round(pair.leadDays) === lead && pair.forecastEt0Mm > 0 && pair.observedEt0Mm > 0),
    ),
  );
}

function skillAt(leadDays: number, pairs: readonly ForecastPair[]): LeadSkill {
  const expected = EXPECTED_CORRELATION[leadDays] ?? 0;
  const said = pairs.map((pair) => Math.log(pair.forecastEt0Mm / pair.usualEt0Mm));
  const came = pairs.map((pair) => Math.log(pair.observedEt0Mm / pair.usualEt0Mm));
  const meanSaid = mean(said);
  const meanCame = mean(came);
  let crossed = EXPECTATION_WEIGHT * expected * EXPECTED_SD ** 2;
  let squareSaid = EXPECTATION_WEIGHT * EXPECTED_SD ** 2;
  let squareCame = EXPECTATION_WEIGHT * EXPECTED_SD ** 2;
  for (let i = 0; i < pairs.length; i++) {
    crossed += (said[i]! - meanSaid) * (came[i]! - meanCame);
    squareSaid += (said[i]! - meanSaid) ** 2;
    squareCame += (came[i]! - meanCame) ** 2;
  }
  const correlation = Math.min(0.99, Math.max(0, crossed / Math.sqrt(squareSaid * squareCame)));
  const usualSd = Math.sqrt(squareCame / (pairs.length + EXPECTATION_WEIGHT));
  return {
    leadDays,
    pairs: pairs.length,
    correlation,
    usualSd,
    errorSd: usualSd * Math.sqrt(1 - correlation ** 2),
    rainReliability: reliability(pairs),
  };
}

function mean(values: readonly number[]): number {
  return values.length === 0 ? 0 : values.reduce((sum, value) => sum + value, 0) / values.length;
}

function reliability(pairs: readonly ForecastPair[]): number | null {
  let promised = 0;
  let came = 0;
  for (const { rainProbability, observedRainMm } of pairs) {
    if (rainProbability === null || observedRainMm === null) continue;
    promised += rainProbability;
    if (observedRainMm > RAIN_MM) came++;
  }
  return promised > 0 ? came / promised : null;
}
