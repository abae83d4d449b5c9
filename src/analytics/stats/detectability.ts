import { normalQuantile } from './normal.js';

/**
 * What a leak test can see. The arithmetic of release detection for tanks (US 40 CFR 280.40: a leak at the stated rate
 * is found with probability 0.95, a tight tank alarms with 0.05; EPA/530/UST-90/006): errors normal, threshold halfway.
 */

/** Standard deviation that a test of a rate may have at most. */
export function largestSd(rate: number, detection: number, falseAlarm: number): number {
  return rate / (normalQuantile(detection) + normalQuantile(1 - falseAlarm));
}

/** Least rate that a test of known sd finds at the stated probabilities. */
export function leastDetectableRate(sd: number, detection: number, falseAlarm: number): number {
  return sd * (normalQuantile(detection) + normalQuantile(1 - falseAlarm));
}

/** Tests without a false alarm that show a false-alarm rate to be at most `rate` at this confidence. */
export function testsWithoutFalseAlarm(rate: number, confidence: number): number {
  return Math.ceil(Math.log(1 - confidence) / Math.log(1 - rate));
}

/**
 * Standard error, L/d, of the slope of a straight line through equally spaced levels with white noise and quantisation.
 * @param areaLitresPerMm 1 L/mm is 1 m²
 */
export function slopeErrorLitresPerDay(
  areaLitresPerMm: number,
  noiseMm: number,
  intervalMinutes: number,
  windowHours: number,
): number {
  const readings = (windowHours * 60) / intervalMinutes;
  const spread = (windowHours / 24) * Math.sqrt(readings / 12);
  return (areaLitresPerMm * noiseMm) / spread;
}
