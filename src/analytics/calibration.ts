import type { FleetCalibration } from '../domain/analysis.js';
import type { EpochMs } from '../domain/ids.js';
import { DAY_MS } from '../domain/local-day.js';
import type { Forecast, Quantiles } from '../domain/pot.js';

/** How a wait for the dry date ended. */
export interface Outcome {
  /** The reservoir fell dry, or was refilled before it did. */
  readonly kind: 'dry' | 'refilled';
  readonly atMs: EpochMs;
  /** In the reservoir just before a refill; null where not known. */
  readonly litres: number | null;
}

/** What the calibration has to know of a pot. */
export interface CalibratedPot {
  readonly covered: boolean;
  readonly deadLitres: number;
}

/** A forecast whose outcome has become known. */
export interface ResolvedForecast {
  readonly containerId: string;
  readonly covered: boolean;
  readonly originMs: EpochMs;
  /** As said, with whatever factor was in force. */
  readonly p10Ms: EpochMs | null;
  readonly p50Ms: EpochMs | null;
  readonly p90Ms: EpochMs | null;
  /** It was dry at `outcomeMs`, or was refilled then, with the dry date still open. */
  readonly outcome: Outcome['kind'];
  readonly outcomeMs: EpochMs;
}

/** A refill after so much of the usable water had gone tells when the rest would have. */
const TELLING_SHARE = 0.6;

/**
 * What an outcome says about a forecast. Crews come before a pot is dry, and the sooner the thirstier it is; to learn
 * only from pots that fell dry would be to learn from those that were left alone. So a refill late in the course counts
 * as the date at which the rest would have gone at the same pace; an earlier one only bounds the date from below.
 */
export function resolve(pot: CalibratedPot, forecast: Forecast, outcome: Outcome): ResolvedForecast {
  const { originMs } = forecast;
  const dryMs = dryDateOf(pot, forecast, outcome);
  return {
    containerId: forecast.containerId,
    covered: pot.covered,
    originMs,
    p10Ms: forecast.dry?.p10Ms ?? null,
    p50Ms: forecast.dry?.p50Ms ?? null,
    p90Ms: forecast.dry?.p90Ms ?? null,
    outcome: dryMs === null ? 'refilled' : 'dry',
    outcomeMs: dryMs ?? outcome.atMs,
  };
}

function dryDateOf(pot: CalibratedPot, forecast: Forecast, outcome: Outcome): EpochMs | null {
  if (outcome.kind === 'dry') return outcome.atMs;
  if (outcome.litres === null || forecast.litres === null) return null;
  const usable = forecast.litres - pot.deadLitres;
  const gone = forecast.litres - outcome.litres;
  if (usable <= 0 || gone < TELLING_SHARE * usable) return null;
  return Math.round(forecast.originMs + (outcome.atMs - forecast.originMs) * Math.max(1, usable / gone));
}

/** Between these leads the factors are interpolated over the log of the lead. */
const LEADS_DAYS = [1, 3, 7, 14, 30] as const;
/** Sides of the interval, each for covered pots and for those that rain reaches: the order of the factors. */
const SIDES = [
  { covered: true, late: false },
  { covered: true, late: true },
  { covered: false, late: false },
  { covered: false, late: true },
] as const;
/**
 * Outcomes themselves are only measured, by a noisy level or a refill that came first: where one in ten is truly outside,
 * a few more seem to be. Found on simulated fleets.
 */
const TAIL = 0.12;
/** A miss moves the spread at its lead by about this; a year of a hundred pots gives thousands of steps. */
const STEP = 0.03;
const LEAST_FACTOR = 0.5;
const MOST_FACTOR = 4;

/**
 * Follows how often the truth fell outside the interval, each side for itself, and widens or narrows it at that lead so
 * that each side is missed as often as it should (adaptive conformal inference, Gibbs and Candes 2021, on the scale of the
 * spread; seen as abstract). A refill that cut the wait short speaks only for what had not happened by then.
 * @param resolved outcomes that became known since the calibration before, in any order
 * @param frozenMs from when on the result holds
 */
export function updateCalibration(
  before: FleetCalibration | null,
  resolved: readonly ResolvedForecast[],
  frozenMs: EpochMs,
): FleetCalibration {
  const factors = usableFactors(before);
  const logs = SIDES.flatMap((_, side) =>
    LEADS_DAYS.map((_lead, knot) => Math.log(factors?.[side * LEADS_DAYS.length + knot] ?? 1)),
  );
  const ordered = [...resolved].sort(
    (a, b) => a.outcomeMs - b.outcomeMs || a.originMs - b.originMs || (a.containerId < b.containerId ? -1 : 1),
  );
  for (const forecast of ordered) {
    const { originMs, p10Ms, p50Ms, outcomeMs } = forecast;
    if (p50Ms === null || p10Ms === null || p50Ms <= originMs) continue;
    const endMs = forecast.p90Ms ?? Number.POSITIVE_INFINITY;
    const { knot, part } = placeOf((p50Ms - originMs) / DAY_MS);
    const move = (late: boolean, missed: boolean): void => {
      const side = SIDES.findIndex((s) => s.covered === forecast.covered && s.late === late);
      const at = side * LEADS_DAYS.length + knot;
      const step = STEP * ((missed ? 1 : 0) - TAIL);
      logs[at] = logs[at]! + (1 - part) * step;
      if (part > 0) logs[at + 1] = logs[at + 1]! + part * step;
    };
    if (forecast.outcome === 'dry' || outcomeMs >= p10Ms) move(false, outcomeMs < p10Ms);
    if (forecast.outcome === 'dry' || outcomeMs > endMs) move(true, outcomeMs > endMs);
  }
  return {
    frozenMs,
    leadDays: LEADS_DAYS,
    spreadFactors: logs.map((log) => Math.min(MOST_FACTOR, Math.max(LEAST_FACTOR, Math.exp(log)))),
  };
}

/** Null too for a calibration that an older program froze over other leads: learning then begins anew. */
function usableFactors(calibration: FleetCalibration | null): readonly number[] | null {
  if (calibration === null || calibration.spreadFactors.length !== SIDES.length * LEADS_DAYS.length) return null;
  return calibration.spreadFactors;
}

/** The knot at or before a lead, and how far it is towards the next. */
function placeOf(leadDays: number): { readonly knot: number; readonly part: number } {
  let knot = 0;
  while (knot + 1 < LEADS_DAYS.length && LEADS_DAYS[knot + 1]! <= leadDays) knot++;
  const from = LEADS_DAYS[knot]!;
  const to = LEADS_DAYS[knot + 1];
  if (to === undefined || leadDays <= from) return { knot, part: 0 };
  return { knot, part: Math.log(leadDays / from) / Math.log(to / from) };
}

/** Factor on one side of the interval of a forecast whose median lies `leadDays` ahead. */
export function spreadAt(
  calibration: FleetCalibration | null,
  covered: boolean,
  late: boolean,
  leadDays: number,
): number {
  const factors = usableFactors(calibration);
  if (factors === null) return 1;
  const side = SIDES.findIndex((s) => s.covered === covered && s.late === late);
  const { knot, part } = placeOf(leadDays);
  const at = side * LEADS_DAYS.length + knot;
  return part > 0 ? (1 - part) * factors[at]! + part * factors[at + 1]! : factors[at]!;
}

/** Widens or narrows each side of the interval about its median by what earlier forecasts of the fleet have shown. */
export function widened(
  calibration: FleetCalibration | null,
  covered: boolean,
  nowMs: EpochMs,
  times: Quantiles,
): Quantiles {
  const { p10Ms, p50Ms, p90Ms } = times;
  if (calibration === null || p50Ms === null) return times;
  const leadDays = (p50Ms - nowMs) / DAY_MS;
  const early = spreadAt(calibration, covered, false, leadDays);
  const late = spreadAt(calibration, covered, true, leadDays);
  return {
    p10Ms: p10Ms === null ? null : Math.round(Math.max(Math.min(nowMs, p10Ms), p50Ms - early * (p50Ms - p10Ms))),
    p50Ms,
    p90Ms: p90Ms === null ? null : Math.round(p50Ms + late * (p90Ms - p50Ms)),
  };
}

/** The forecast as it would have been said with a calibration, from one made without. */
export function calibrateForecast(
  calibration: FleetCalibration | null,
  covered: boolean,
  forecast: Forecast,
): Forecast {
  const { dry, stress, originMs } = forecast;
  return {
    ...forecast,
    dry: dry === null ? null : widened(calibration, covered, originMs, dry),
    stress: stress === null ? null : widened(calibration, covered, originMs, stress),
  };
}
