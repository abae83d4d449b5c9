import type { FleetCalibration, PotContext } from '../domain/analysis.js';
import type { EpochMs } from '../domain/ids.js';
import type { Message } from '../domain/message.js';
import type { Forecast, Quantiles } from '../domain/pot.js';
import type { WeatherDay } from '../domain/weather.js';
import { bookLitres } from './bookkeeping.js';
import { type PassageProblem, passageTimes, type UseSegment } from './first-passage.js';
import { knowledgeOf, LEARNING_DAYS } from './knowledge.js';
import { type ExpectedDay, expectDays } from './outlook.js';
import { type PotState, strappingOf } from './state.js';
import { advanceBy, dayEquivalents } from './use-profile.js';

const PROBABILITIES = [0.1, 0.5, 0.9] as const;
/** With fewer days than this not even a wide interval is honest: the rate would be the planting's class alone. */
const LEAST_DAYS = 2;
const WALK = { weather: 0.025, latitude: 0.06 } as const;
/** Readily available share of the soil's water (FAO-56 table 22 gives 0.3-0.6 for most plants). */
const READILY_AVAILABLE = 0.45;
/** Volumetric water between the settled moisture and wilting in a potting mix, where no sensor tells. */
const AVAILABLE_FRACTION = 0.25;
const STRESS_SD = 0.2;

/** The forecast of a pot at an instant, from the fold's state and the weather to come. */
export function forecastAt(ctx: PotContext, state: PotState, nowMs: EpochMs, outlook: readonly WeatherDay[]): Forecast {
  const strapping = strappingOf(ctx);
  const knowledge = knowledgeOf(state, nowMs);
  const book = bookLitres(ctx, state, nowMs);
  const bare: Forecast = {
    containerId: ctx.container.id,
    originMs: nowMs,
    knowledge,
    levelMm: null,
    litres: null,
    rateLitresPerDay: null,
    rateSdLitresPerDay: null,
    dry: null,
    stress: null,
    dataDays: state.demand.days,
    basis: [],
  };
  if (book === null) {
    return { ...bare, basis: [{ code: 'analysis.no_level', params: {} }] };
  }
  const levelMm = Math.max(0, strapping.levelAt(book.value));
  const withLevel: Forecast = { ...bare, levelMm, litres: book.value };
  if (state.demand.days < LEAST_DAYS) {
    return {
      ...withLevel,
      basis: [{ code: 'analysis.too_young', params: { haveDays: state.demand.days, needDays: LEARNING_DAYS } }],
    };
  }
  const days = expectDays(ctx, state, nowMs, outlook);
  const source = state.weather.observedDays > 0 ? 'weather' : 'latitude';
  const segments = segmentsOf(ctx, state, nowMs, days);
  const rate = rateOfNextDay(segments);
  const usable = book.value - strapping.deadLitres;
  const cumulated = state.cumulatedUse;
  const problem: PassageProblem = {
    segments,
    litres: usable,
    litresSd: book.sd,
    kappaVariance: state.demand.varKappa,
    kappaWalk: WALK[source],
    spreadFactor: (leadDays) => spreadAt(ctx.calibration, leadDays),
    locate: (segment, part) =>
      Math.round(advanceBy(cumulated, ctx.site.longitude, segment.startMs, part * segment.share)),
  };
  const dry = quantiles(passageTimes(problem, PROBABILITIES));
  const soil = ctx.container.soil;
  const reserveLitres = soil === null ? 0 : READILY_AVAILABLE * AVAILABLE_FRACTION * soil.litres;
  const toStress = Math.max(usable, 0) + reserveLitres;
  const stress =
    soil === null
      ? null
      : quantiles(
          passageTimes(
            { ...problem, litres: toStress, litresSd: Math.hypot(book.sd, STRESS_SD * reserveLitres) },
            PROBABILITIES,
          ),
        );
  return {
    ...withLevel,
    rateLitresPerDay: rate.litres,
    rateSdLitresPerDay: rate.sd * Math.hypot(Math.sqrt(state.demand.varKappa), segments[0]!.logSd),
    dry,
    stress: stress === null ? null : notBefore(stress, dry),
    basis: basisOf(state, nowMs, days, rate.litres, source),
  };
}

function segmentsOf(
  ctx: PotContext,
  state: PotState,
  nowMs: EpochMs,
  days: readonly ExpectedDay[],
): readonly UseSegment[] {
  const cumulated = state.cumulatedUse;
  const litresPerMm = Math.exp(state.demand.kappa);
  const from = Math.max(nowMs, days[0]!.startMs);
  return days.map((day, index) => {
    const startMs = index === 0 ? from : day.startMs;
    return {
      startMs,
      endMs: day.endMs,
      share: Math.max(1e-6, dayEquivalents(cumulated, ctx.site.longitude, startMs, day.endMs)),
      medianLitresPerDay: litresPerMm * day.et0Mm,
      logSd: day.logSd,
    };
  });
}

function rateOfNextDay(segments: readonly UseSegment[]): { readonly litres: number; readonly sd: number } {
  const first = segments[0]!;
  const second = segments[1]!;
  const share = Math.min(1, first.share);
  const litres = share * first.medianLitresPerDay + (1 - share) * second.medianLitresPerDay;
  return { litres, sd: litres };
}

function quantiles(times: readonly (EpochMs | null)[]): Quantiles {
  return { p10Ms: times[0] ?? null, p50Ms: times[1] ?? null, p90Ms: times[2] ?? null };
}

/** The plants do not lack water while the reservoir has some. */
function notBefore(stress: Quantiles, dry: Quantiles): Quantiles {
  const later = (a: EpochMs | null, b: EpochMs | null): EpochMs | null =>
    a === null || b === null ? null : Math.max(a, b);
  return {
    p10Ms: later(stress.p10Ms, dry.p10Ms),
    p50Ms: later(stress.p50Ms, dry.p50Ms),
    p90Ms: later(stress.p90Ms, dry.p90Ms),
  };
}

/** Factor on the spread at a lead, linear between the bins' upper ends. */
export function spreadAt(calibration: FleetCalibration | null, leadDays: number): number {
  if (calibration === null) return 1;
  const { leadDays: ends, spreadFactors } = calibration;
  for (let i = 0; i < ends.length; i++) {
    if (leadDays <= ends[i]!) {
      if (i === 0) return spreadFactors[0] ?? 1;
      const part = (leadDays - ends[i - 1]!) / (ends[i]! - ends[i - 1]!);
      return spreadFactors[i - 1]! + part * (spreadFactors[i]! - spreadFactors[i - 1]!);
    }
  }
  return spreadFactors[spreadFactors.length - 1] ?? 1;
}

function basisOf(
  state: PotState,
  nowMs: EpochMs,
  days: readonly ExpectedDay[],
  rateLitresPerDay: number,
  source: 'weather' | 'latitude',
): readonly Message[] {
  const basis: Message[] = [
    {
      code: 'analysis.rate',
      params: {
        rateLitresPerDay,
        dataDays: state.demand.days,
        litresPerMm: Math.exp(state.demand.kappa),
        et0Mm: days[0]!.et0Mm,
      },
    },
  ];
  const forecastDays = days.filter((day) => day.fromForecast).length;
  if (source === 'latitude') basis.push({ code: 'analysis.no_weather', params: {} });
  else if (forecastDays > 0) basis.push({ code: 'analysis.weather_forecast', params: { forecastDays } });
  else basis.push({ code: 'analysis.weather_season', params: {} });
  const ageMs = nowMs - state.cleaning.levelMs;
  if (ageMs > 6 * 3_600_000) {
    basis.push({ code: 'analysis.stale', params: { ageHours: ageMs / 3_600_000, lastMs: state.cleaning.levelMs } });
  }
  return basis;
}
