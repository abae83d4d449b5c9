import type { PotContext } from '../domain/analysis.js';
import type { EpochMs } from '../domain/ids.js';
import { DAY_MS, HOUR_MS } from '../domain/local-day.js';
import { BLOCK_FLAGS, type Block, packBlock, unpackBlock } from './block.js';
import { bookLitres } from './bookkeeping.js';
import { AT, type DayRecord, type PackedDay, packDay } from './day-record.js';
import { NO_STATS } from './day-stats.js';
import { stepDemand } from './demand-filter.js';
import { calendarOf } from './marks.js';
import { nominalKappa } from './nominal-kappa.js';
import { learnProfile, profileOf } from './profile-learning.js';
import { isSettled, moistureNow, rainSupplyLitres, settledMoisture, soilAnomalyLitres, stepBucket } from './soil.js';
import { type PotState, strappingOf } from './state.js';
import { temperatureCoefficient } from './temperature-coefficient.js';
import { cumulate, dayEquivalents } from './use-profile.js';
import { driverOf, RAINY_DAY_MM } from './weather-memory.js';

const KEPT_DAYS = 120;
const KEPT_BLOCKS = 360;
const KEPT_BLOCK_DAYS = 92;
/** Relative sd of a day's use about the coefficient, with observed weather and without. */
export const DAY_SD = { weather: 0.2, latitude: 0.33 } as const;
export const WALK = { weather: 0.025, latitude: 0.06 } as const;
const GAIN_ERROR = 0.04;
/** More than this share of a day's use from above, and the day is not the reservoir's alone. */
const WATERED_SHARE = 0.1;
const LEAST_DEBT_SHARE = 0.15;
/** The last level may be so old at dawn and still speak for it. */
const FRESH_MS = 6 * HOUR_MS;

export interface DayOutcome {
  readonly changes: Partial<PotState>;
  readonly record: DayRecord;
  readonly blocks: readonly Block[];
}

/** The work of a dawn: one step of the demand filter with the day that ends here, its record and its blocks. */
export function stepDay(ctx: PotContext, state: PotState, dawnMs: EpochMs): DayOutcome {
  const strapping = strappingOf(ctx);
  const dayNumber = calendarOf(ctx).at(dawnMs).number - 1;
  const startMs = state.dawnMs;
  const driver = driverOf(ctx, state.weather, dayNumber);
  const fresh = state.cleaning.levelMm !== null && state.cleaning.levelMs > dawnMs - FRESH_MS;
  const dawn = fresh ? bookLitres(ctx, state, dawnMs) : null;
  const flows = flowsOf(state, startMs, dawnMs);
  const { stats, soil } = state;
  const dry = stats.hoursDry > 0;
  const rewetting = soil.rewettingUntilMs > (startMs ?? dawnMs);
  const use = Math.exp(state.demand.kappa) * driver.et0Mm;

  const moisture = moistureNow(soil, dawnMs);
  const rainMm = driver.rainMm ?? 0;
  const change = soilChange(ctx, state, moisture, use);
  const rainUseLitres = rainSupplyLitres(ctx, soil.bucketLitres, rainMm, use);
  const netUseLitres =
    dawn === null || !state.demand.started || startMs === null
      ? null
      : state.demand.litres + flows.refillLitres + flows.rainLitres - flows.lossLitres - dawn.value;
  const bucket = stepBucket(ctx, soil.bucketLitres, rainMm, use, netUseLitres);
  // While rain feeds the soil a reservoir that does not fall says nothing about the planting's thirst.
  const rainHides =
    !ctx.container.covered &&
    (rainUseLitres > 0.3 * use || rainMm > RAINY_DAY_MM) &&
    (netUseLitres === null || netUseLitres < 0.5 * use);
  const percolation = flows.rainLitres > 0 ? 0 : bucket.percolationLitres;
  const step = stepDemand(
    state.demand,
    {
      et0Mm: driver.et0Mm,
      daySd: DAY_SD[driver.source],
      walk: WALK[driver.source],
      gainLitres: flows.refillLitres + flows.rainLitres - flows.lossLitres + percolation,
      gainSdLitres: Math.hypot(
        GAIN_ERROR * (flows.refillLitres + flows.rainLitres + flows.lossLitres),
        0.5 * percolation,
      ),
      rainUseLitres,
      soilLitres: change?.litres ?? 0,
      soilSdLitres: change?.sd ?? 0,
      leakLitres: 0,
      levelOnly:
        rainHides ||
        dry ||
        flows.refills > 1 ||
        (rewetting && change === null) ||
        (change?.wateredLitres ?? 0) > WATERED_SHARE * use,
    },
    dawn === null ? null : { litres: dawn.value, sd: dawn.sd },
  );
  const rained = !ctx.container.covered && (rainMm > RAINY_DAY_MM || rainYesterday(state, dayNumber));
  const flags =
    stats.flags |
    (dry ? BLOCK_FLAGS.dry : 0) |
    (rewetting ? BLOCK_FLAGS.rewetting : 0) |
    (rained ? BLOCK_FLAGS.rain : 0) |
    (change !== null && change.litres > LEAST_DEBT_SHARE * use ? BLOCK_FLAGS.debt : 0) |
    (isWet(ctx, state, rainUseLitres, moisture, use) ? BLOCK_FLAGS.wetSoil : 0) |
    (flows.lossLitres > 0 ? BLOCK_FLAGS.disturbed : 0) |
    (driver.source === 'latitude' ? BLOCK_FLAGS.demandGuessed : 0);
  const record: DayRecord = {
    dayNumber,
    startMs: startMs ?? dawnMs - DAY_MS,
    endMs: dawnMs,
    readings: stats.readings,
    dawnLevelMm: dawn === null ? null : strapping.levelAt(dawn.value),
    dawnLitres: dawn?.value ?? null,
    netUseLitres,
    expectedLitres: state.demand.started ? step.expectedUseLitres : null,
    innovation: step.innovation,
    kappa: step.filter.kappa,
    kappaSd: Math.sqrt(step.filter.varKappa),
    et0Mm: driver.et0Mm,
    et0Source: driver.source,
    rainMm: driver.rainMm,
    dawnMoisture: moisture,
    moistureReference: soil.reference,
    levelMinMm: stats.levelMinMm,
    levelMaxMm: stats.levelMaxMm,
    refills: flows.refills,
    refillLitres: flows.refillLitres,
    rainLitres: flows.rainLitres,
    hoursDry: stats.hoursDry,
    hoursFull: stats.hoursFull,
    noiseMm: state.cleaning.noiseMm,
    temperatureMinC: stats.temperatureMinC,
    temperatureMaxC: stats.temperatureMaxC,
    batteryV: stats.batteryV,
    batteryFraction: stats.batteryFraction,
    batteryTemperatureC: stats.batteryTemperatureC,
    outliers: stats.outliers,
    flags,
  };
  const days = [...state.days.slice(-(KEPT_DAYS - 1)), packDay(record)];
  const kappa = nominalKappa(state.days, dayNumber, state.demand.kappa);
  const finished = state.newBlocks.map((packed) =>
    finishBlock(ctx, state, kappa, unpackBlock(packed), driver.et0Mm, flags),
  );
  const blocks = [...state.blocks, ...finished.map(packBlock)]
    .filter((packed) => packed[3]! > dayNumber - KEPT_BLOCK_DAYS)
    .slice(-KEPT_BLOCKS);
  const profileLearning = learn(ctx, state, startMs, dawnMs, flags, flows.refills + flows.rainLitres);
  return {
    record,
    blocks: finished,
    changes: {
      demand: step.filter,
      dawnMs,
      days,
      blocks,
      newBlocks: [],
      stats: NO_STATS,
      profileLearning,
      cumulatedUse:
        profileLearning === state.profileLearning ? state.cumulatedUse : cumulate(profileOf(profileLearning)),
      temperature: temperatureCoefficient(blocks),
      soil: {
        ...soil,
        atDawn: moisture,
        // Another probe has another scale: what the one before it saw says nothing of this one's.
        reference: settledMoisture(ctx, sinceAssigned(days, state.assignment.sinceMs)),
        bucketLitres: bucket.bucketLitres,
      },
    },
  };
}

interface Flows {
  readonly refills: number;
  readonly refillLitres: number;
  readonly rainLitres: number;
  readonly lossLitres: number;
}

function flowsOf(state: PotState, startMs: EpochMs | null, endMs: EpochMs): Flows {
  let refills = 0;
  let refillLitres = 0;
  let rainLitres = 0;
  let lossLitres = 0;
  for (const { event } of state.events.records) {
    if (startMs === null || event.startMs < startMs || event.startMs >= endMs) continue;
    if (event.kind === 'refill') {
      refills++;
      refillLitres += event.litres;
    } else if (event.kind === 'rain') rainLitres += event.litres;
    else if (event.kind === 'drained' || event.kind === 'sudden_loss') lossLitres += event.litres;
  }
  return { refills, refillLitres, rainLitres, lossLitres };
}

/** What the probe's change stands for in the whole soil is known to about this share. */
const MOISTURE_SCALE_ERROR = 0.3;
/** Changes under this share of the soil's volume, or of a day's use, are the probe's own. */
const LEAST_CHANGE_SHARE = 0.006;
const LEAST_CHANGE_DAYS = 0.3;

interface SoilChange {
  /** Litres that the soil took from the reservoir beyond the plants' use; negative where the plants used its surplus. */
  readonly litres: number;
  readonly sd: number;
  /** Water came into the soil from above: the day says nothing about the plants. */
  readonly wateredLitres: number;
}

const NO_CHANGE: SoilChange = { litres: 0, sd: 0, wateredLitres: 0 };

/**
 * What the moisture probe says about the day's balance. A deficit that shrinks was filled by the wick; a surplus that
 * shrinks was used by the plants in place of reservoir water; a surplus that grows came from above. On pots that rain
 * reaches only the deficit counts: the probe sees too little of the rain's surplus, and the rain store stands for it.
 * Null without a probe.
 */
function soilChange(ctx: PotContext, state: PotState, moisture: number | null, useLitres: number): SoilChange | null {
  const { reference, atDawn } = state.soil;
  const before = soilAnomalyLitres(ctx, reference, atDawn);
  const after = soilAnomalyLitres(ctx, reference, moisture);
  if (before === null || after === null) return moisture === null ? null : NO_CHANGE;
  const least = Math.max(LEAST_CHANGE_SHARE * (ctx.container.soil?.litres ?? 0), LEAST_CHANGE_DAYS * useLitres);
  if (Math.abs(after - before) < least) return NO_CHANGE;
  const filled = Math.min(0, after) - Math.min(0, before);
  const surplus = ctx.container.covered ? Math.max(0, after) - Math.max(0, before) : 0;
  const litres = filled + Math.min(0, surplus);
  return {
    litres,
    sd: MOISTURE_SCALE_ERROR * (Math.abs(filled) + Math.abs(surplus)),
    wateredLitres: Math.max(0, surplus),
  };
}

/** The plants had water in the soil that they use before the wick brings more. */
function isWet(
  ctx: PotContext,
  state: PotState,
  rainUseLitres: number,
  moisture: number | null,
  useLitres: number,
): boolean {
  if (rainUseLitres > 0.1 * useLitres) return true;
  const surplus = soilAnomalyLitres(ctx, state.soil.reference, moisture) ?? 0;
  return surplus > 0.1 * useLitres;
}

function rainYesterday(state: PotState, dayNumber: number): boolean {
  const known = state.weather.days.find((entry) => entry[0] === dayNumber - 1);
  return (known?.[2] ?? 0) > RAINY_DAY_MM;
}

function finishBlock(
  ctx: PotContext,
  state: PotState,
  kappa: number,
  block: Block,
  et0Mm: number,
  dayFlags: number,
): Block {
  const share = dayEquivalents(state.cumulatedUse, ctx.site.longitude, block.startMs, block.endMs);
  const spanDays = (block.endMs - block.startMs) / DAY_MS;
  const underFoot = block.startLevelMm < ctx.container.reservoir.wickFootMm;
  const nominal = underFoot ? 0 : (Math.exp(kappa) * et0Mm * share) / spanDays;
  return { ...block, nominalLitresPerDay: nominal, flags: block.flags | (dayFlags & ~BLOCK_FLAGS.dry) };
}

const UNFIT_FOR_PROFILE =
  BLOCK_FLAGS.dry |
  BLOCK_FLAGS.rewetting |
  BLOCK_FLAGS.rain |
  BLOCK_FLAGS.debt |
  BLOCK_FLAGS.wetSoil |
  BLOCK_FLAGS.disturbed;

function learn(
  ctx: PotContext,
  state: PotState,
  startMs: EpochMs | null,
  dawnMs: EpochMs,
  flags: number,
  gains: number,
): PotState['profileLearning'] {
  if (startMs === null || gains > 0 || (flags & UNFIT_FOR_PROFILE) !== 0 || !isSettled(state.soil, dawnMs)) {
    return state.profileLearning;
  }
  const strapping = strappingOf(ctx);
  const times: EpochMs[] = [];
  const litres: number[] = [];
  let area = 0;
  for (let i = 0; i < state.recent.timeMs.length; i++) {
    const timeMs = state.recent.timeMs[i]!;
    if (timeMs < startMs || timeMs > dawnMs) continue;
    times.push(timeMs);
    litres.push(strapping.litresAt(state.recent.levelMm[i]!));
    area = strapping.areaLitresPerMm(state.recent.levelMm[i]!);
  }
  return learnProfile(
    state.profileLearning,
    ctx.site.longitude,
    times,
    litres,
    area * Math.hypot(state.cleaning.noiseMm, 0.3),
  );
}

function sinceAssigned(days: readonly PackedDay[], sinceMs: EpochMs | null): readonly PackedDay[] {
  return sinceMs === null ? days : days.filter((day) => day[AT.startMs]! + day[AT.spanMs]! > sinceMs);
}
