import type { PotContext } from '../domain/analysis.js';
import type { EpochMs } from '../domain/ids.js';
import type { Message } from '../domain/message.js';
import type { Forecast, Quantiles } from '../domain/pot.js';
import type { WeatherDay } from '../domain/weather.js';
import { widened } from './calibration.js';
import { DAY_SD, WALK } from './daily-step.js';
import { AT } from './day-record.js';
import { knownLeak } from './findings/state.js';
import { drainedBySoilMs, type PassageProblem, passageTimes, type UseSegment } from './first-passage.js';
import { knowledgeOf, LEARNING_DAYS } from './knowledge.js';
import { leakFlow } from './leak-flow.js';
import { type ExpectedDay, expectDays } from './outlook.js';
import { probeGain } from './probe-gain.js';
import { rainPassageTimes } from './rain-paths.js';
import { bucketMostLitres, infiltrationLitres, soilDeficitLitres } from './soil.js';
import { type PotState, strappingOf } from './state.js';
import { quantile } from './stats/order.js';
import { type Supply, supplyAt } from './supply.js';
import { advanceBy, dayEquivalents } from './use-profile.js';

/** With fewer days than this not even a wide interval is honest: the rate would be the planting's class alone. */
const LEAST_DAYS = 2;
/** Readily available share of the soil's available water (FAO-56 table 22 gives 0.3-0.6 for most plants). */
const READILY_AVAILABLE = 0.4;
/** Volumetric water at wilting in a potting mix; common practice, no source. */
const WILTING_FRACTION = 0.12;
/**
 * Moisture that a mix settles at above a wick; common practice, no source. Not the probe's: its offset and gain err by more
 * than mixes differ.
 */
const SETTLED_FRACTION = 0.45;
const RESERVE_SD = 0.2;

/** The forecast of a pot at an instant, from the fold's state and the weather to come. */
export function forecastAt(ctx: PotContext, state: PotState, nowMs: EpochMs, outlook: readonly WeatherDay[]): Forecast {
  const supply = supplyAt(ctx, state, nowMs);
  const bare: Forecast = {
    containerId: ctx.container.id,
    originMs: nowMs,
    knowledge: knowledgeOf(state, nowMs),
    levelMm: null,
    litres: null,
    rateLitresPerDay: null,
    rateSdLitresPerDay: null,
    dry: null,
    stress: null,
    dataDays: state.demand.days,
    basis: [],
  };
  if (supply === null) return { ...bare, basis: [{ code: 'analysis.no_level', params: {} }] };
  const levelMm = Math.max(0, strappingOf(ctx).levelAt(supply.litres));
  const withLevel: Forecast = { ...bare, levelMm, litres: supply.litres };
  if (state.demand.days < LEAST_DAYS) {
    const params = { haveDays: state.demand.days, needDays: LEARNING_DAYS };
    return { ...withLevel, basis: [{ code: 'analysis.too_young', params }] };
  }
  const days = expectDays(ctx, state, nowMs, outlook);
  const source = state.weather.observedDays > 0 ? 'weather' : 'latitude';
  const segments = segmentsOf(ctx, state, nowMs, days, levelMm, source);
  const problem: PassageProblem = {
    segments,
    litres: supply.usableLitres - supply.debtLitres,
    litresSd: supply.usableSd,
    kappaVariance: state.demand.varKappa,
    kappaWalk: WALK[source],
    locate: (segment, part) =>
      Math.round(advanceBy(state.cumulatedUse, ctx.site.longitude, segment.startMs, part * segment.share)),
  };
  const rate = rateOfNextDay(segments);
  const { covered } = ctx.container;
  const dry = widened(ctx.calibration, covered, nowMs, dryTimes(ctx, problem, supply, nowMs, rate.litres));
  const stress = stressTimes(ctx, state, problem, supply, nowMs);
  return {
    ...withLevel,
    rateLitresPerDay: rate.litres,
    rateSdLitresPerDay: rate.litres * Math.hypot(Math.sqrt(state.demand.varKappa), rate.logSd),
    dry,
    stress: stress === null ? null : notBefore(widened(ctx.calibration, covered, nowMs, stress), dry),
    basis: basisOf(ctx, state, nowMs, days, rate.litres, source, supply),
  };
}

function dryTimes(
  ctx: PotContext,
  problem: PassageProblem,
  supply: Supply,
  nowMs: EpochMs,
  rateLitresPerDay: number,
): Quantiles {
  if (supply.debtLitres > 0 && supply.debtLitres >= supply.usableLitres - supply.usableSd) {
    // The soil drinks it all, or nearly: within hours, and the moisture probe's scale decides whether at all.
    const quickMs = nowMs + drainedBySoilMs(supply.usableLitres, supply.debtLitres, rateLitresPerDay);
    if (problem.litres <= 0) {
      const afterMs = nowMs + (2 * (quickMs - nowMs) || 0);
      return {
        p10Ms: Math.round(nowMs + 0.6 * (quickMs - nowMs)),
        p50Ms: Math.round(quickMs),
        p90Ms: Math.round(afterMs),
      };
    }
  }
  return quantiles(soilPassage(ctx, problem, supply, RAIN_WEIGHT.dry));
}

/**
 * Without rain in closed form; the soil's surplus goes first. Where rain can come, the early end of the interval is that
 * of no more rain, the late end that of paths through the rain to come, and the median lies between the two: rain that is
 * counted on and does not reach the wick makes the worse error.
 */
function soilPassage(
  ctx: PotContext,
  problem: PassageProblem,
  supply: Supply,
  rainWeight: number,
): readonly (EpochMs | null)[] {
  const withoutRain = passageTimes({ ...problem, litres: problem.litres + supply.surplusLitres });
  if (ctx.container.covered) return withoutRain;
  const strapping = strappingOf(ctx);
  const withRain = rainPassageTimes({
    ...problem,
    bucketLitres: supply.surplusLitres,
    bucketMost: bucketMostLitres(ctx),
    capacityLitres: Math.max(problem.litres, strapping.capacityLitres - strapping.deadLitres),
  });
  const [early = null, dryMiddle = null] = withoutRain;
  const [, wetMiddle = null, late = null] = withRain;
  const endMs = problem.segments[problem.segments.length - 1]!.endMs;
  const middle =
    dryMiddle === null ? wetMiddle : Math.round((1 - rainWeight) * dryMiddle + rainWeight * (wetMiddle ?? endMs));
  return [early, middle, late === null || middle === null ? late : Math.max(late, middle)];
}

/**
 * How far the median goes from the date without rain towards the one with rain: tuned on simulated fleets. Rain that the
 * soil takes up puts off the plants' stress although it never reaches the reservoir.
 */
const RAIN_WEIGHT = { dry: 0.3, stress: 0.9 } as const;

/** The soil's readily available water comes on top; what it lacks already is off. Null where no soil is described. */
function stressTimes(
  ctx: PotContext,
  state: PotState,
  problem: PassageProblem,
  supply: Supply,
  nowMs: EpochMs,
): Quantiles | null {
  const { soil } = ctx.container;
  if (soil === null) return null;
  const reserve = READILY_AVAILABLE * (SETTLED_FRACTION - WILTING_FRACTION) * soil.litres;
  const lacking = Math.max(0, soilDeficitLitres(ctx, state.soil, nowMs) ?? 0) / probeGain(ctx, state.days);
  const litres = Math.max(0, supply.usableLitres) + reserve - lacking;
  const litresSd = Math.hypot(problem.litresSd, RESERVE_SD * reserve);
  return quantiles(soilPassage(ctx, { ...problem, litres, litresSd }, supply, RAIN_WEIGHT.stress));
}

/** A leak that is held to exist takes its share of each day, as much as at the level of now for as long as it lasts. */
function leakOf(ctx: PotContext, state: PotState, levelMm: number): number {
  const leak = knownLeak(state.findings);
  if (leak === null) return 0;
  const footMm = ctx.container.reservoir.wickFootMm;
  // Mean of the root law between the level of now and the lowest level that the leak or the plants reach.
  const flow = leakFlow(ctx, leak, levelMm);
  return leak.heightMm <= footMm ? 0.75 * flow : 0.5 * flow;
}

function segmentsOf(
  ctx: PotContext,
  state: PotState,
  nowMs: EpochMs,
  days: readonly ExpectedDay[],
  levelMm: number,
  source: 'weather' | 'latitude',
): readonly UseSegment[] {
  const litresPerMm = Math.exp(state.demand.kappa);
  const leakLitresPerDay = leakOf(ctx, state, levelMm);
  const from = Math.max(nowMs, days[0]!.startMs);
  const best = bestKappa(state);
  return days.map((day, index) => {
    const startMs = index === 0 ? from : day.startMs;
    const share = dayEquivalents(state.cumulatedUse, ctx.site.longitude, startMs, day.endMs);
    return {
      startMs,
      endMs: day.endMs,
      share: Math.max(1e-6, share),
      medianLitresPerDay: litresPerMm * recovery(state, best, index) * day.et0Mm + leakLitresPerDay,
      logSd: Math.hypot(day.logSd, USE_SD_SHARE * DAY_SD[source]),
      rainChance: day.rainChance,
      rainLitres: infiltrationLitres(ctx, day.rainMm),
    };
  });
}

/** A planting that was cut back, rested or had a cold week comes back towards the best of its last two months. */
const BEST_DAYS = 60;
const BEST_QUANTILE = 0.9;
/** Part of the way that it comes, and days in which most of that is done: tuned on simulated fleets. */
const RECOVERED_SHARE = 0.5;
const RECOVERY_DAYS = 8;

function bestKappa(state: PotState): number {
  const kappas: number[] = [];
  for (const packed of state.days.slice(-BEST_DAYS)) kappas.push(packed[AT.kappa]!);
  return Math.max(state.demand.kappa, quantile(kappas, BEST_QUANTILE) ?? state.demand.kappa);
}

/** Factor on the use of a day some days ahead. */
function recovery(state: PotState, best: number, daysAhead: number): number {
  const share = RECOVERED_SHARE * (1 - Math.exp(-daysAhead / RECOVERY_DAYS));
  return Math.exp(share * (best - state.demand.kappa));
}

/** Of a day's departure from the model, about this share is the plants' and not the level's. */
const USE_SD_SHARE = 0.7;

function rateOfNextDay(segments: readonly UseSegment[]): { readonly litres: number; readonly logSd: number } {
  const first = segments[0]!;
  const second = segments[1]!;
  const share = Math.min(1, first.share);
  const litres = share * first.medianLitresPerDay + (1 - share) * second.medianLitresPerDay;
  return { litres, logSd: share * first.logSd + (1 - share) * second.logSd };
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

function basisOf(
  ctx: PotContext,
  state: PotState,
  nowMs: EpochMs,
  days: readonly ExpectedDay[],
  rateLitresPerDay: number,
  source: 'weather' | 'latitude',
  supply: Supply,
): readonly Message[] {
  const { demand } = state;
  const basis: Message[] = [
    {
      code: 'analysis.rate',
      params: {
        rateLitresPerDay,
        dataDays: demand.days,
        litresPerMm: Math.exp(demand.kappa),
        et0Mm: days[0]!.et0Mm,
      },
    },
  ];
  const forecastDays = days.filter((day) => day.fromForecast).length;
  if (source === 'latitude') basis.push({ code: 'analysis.no_weather', params: {} });
  else if (forecastDays > 0) basis.push({ code: 'analysis.weather_forecast', params: { forecastDays } });
  else basis.push({ code: 'analysis.weather_season', params: {} });
  if (supply.debtLitres > 0) basis.push({ code: 'analysis.debt', params: { debtLitres: supply.debtLitres } });
  if (supply.surplusLitres > 0.1 * rateLitresPerDay) {
    basis.push({ code: 'analysis.surplus', params: { surplusLitres: supply.surplusLitres } });
  }
  const leak = knownLeak(state.findings);
  if (leak !== null) {
    basis.push({
      code: 'analysis.leak',
      params: { leakLitresPerDay: leakOf(ctx, state, strappingOf(ctx).levelAt(supply.litres)) },
    });
  }
  if (state.soil.reference === null) basis.push({ code: 'analysis.no_moisture', params: {} });
  const ageMs = nowMs - state.cleaning.levelMs;
  if (ageMs > 6 * 3_600_000) {
    basis.push({ code: 'analysis.stale', params: { ageHours: ageMs / 3_600_000, lastMs: state.cleaning.levelMs } });
  }
  return basis;
}
