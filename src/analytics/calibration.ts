import type { FleetCalibration } from '../domain/analysis.js';
import type { EpochMs } from '../domain/ids.js';
import { DAY_MS } from '../domain/local-day.js';
import type { Forecast } from '../domain/pot.js';
import { widened } from './forecast.js';

/** A forecast whose outcome has become known. */
export interface ResolvedForecast {
  readonly containerId: string;
  readonly originMs: EpochMs;
  /** As said, with whatever factor was in force. */
  readonly p10Ms: EpochMs | null;
  readonly p50Ms: EpochMs | null;
  readonly p90Ms: EpochMs | null;
  /** The reservoir fell dry, or was refilled before it did. */
  readonly outcome: 'dry' | 'refilled';
  readonly outcomeMs: EpochMs;
}

const LEAD_ENDS_DAYS = [1.5, 4.5, 10, 60] as const;
const TAIL = 0.1;
/** A miss moves the spread of its bin by about this; a year of a hundred pots gives thousands of steps. */
const STEP = 0.02;
const LEAST_FACTOR = 0.5;
const MOST_FACTOR = 3;

/**
 * Follows how often the truth fell outside the interval, each tail for itself, and widens or narrows the spread at that
 * lead so that each tail is missed one time in ten (adaptive conformal inference, Gibbs and Candes 2021, on the scale of
 * the spread; seen as abstract). A refill cuts the wait short: it speaks only for what had not happened by then.
 * @param resolved outcomes that became known since the calibration before, in any order
 * @param frozenMs from when on the result holds
 */
export function updateCalibration(
  before: FleetCalibration | null,
  resolved: readonly ResolvedForecast[],
  frozenMs: EpochMs,
): FleetCalibration {
  const logs = LEAD_ENDS_DAYS.map((_, bin) => Math.log(before?.spreadFactors[bin] ?? 1));
  const ordered = [...resolved].sort(
    (a, b) => a.outcomeMs - b.outcomeMs || a.originMs - b.originMs || (a.containerId < b.containerId ? -1 : 1),
  );
  for (const forecast of ordered) {
    const { originMs, p10Ms, p50Ms, p90Ms, outcomeMs } = forecast;
    if (p50Ms === null || p10Ms === null || p50Ms <= originMs) continue;
    const leadDays = (p50Ms - originMs) / DAY_MS;
    const bin = LEAD_ENDS_DAYS.findIndex((end) => leadDays <= end);
    if (bin < 0) continue;
    const endMs = p90Ms ?? Number.POSITIVE_INFINITY;
    let missed = 0;
    let expected = 0;
    if (forecast.outcome === 'dry' || outcomeMs >= p10Ms) {
      expected += TAIL;
      if (outcomeMs < p10Ms) missed += 1;
    }
    if (forecast.outcome === 'dry' || outcomeMs > endMs) {
      expected += TAIL;
      if (outcomeMs > endMs) missed += 1;
    }
    logs[bin] = logs[bin]! + STEP * (missed - expected);
  }
  return {
    frozenMs,
    leadDays: LEAD_ENDS_DAYS,
    spreadFactors: logs.map((log) => Math.min(MOST_FACTOR, Math.max(LEAST_FACTOR, Math.exp(log)))),
  };
}

/** The forecast as it would have been said with a calibration, from one made without. */
export function calibrateForecast(calibration: FleetCalibration | null, forecast: Forecast): Forecast {
  const { dry, stress, originMs } = forecast;
  return {
    ...forecast,
    dry: dry === null ? null : widened(calibration, originMs, dry),
    stress: stress === null ? null : widened(calibration, originMs, stress),
  };
}
