import type { PotContext } from '../domain/analysis.js';
import type { EpochMs } from '../domain/ids.js';
import { HOUR_MS } from '../domain/local-day.js';
import { BLOCK_FLAGS } from './block.js';
import { bookLitres } from './bookkeeping.js';
import { type DayRecord, packDay } from './day-record.js';
import { stepDemand } from './demand-filter.js';
import { calendarOf, dayNumberOf } from './marks.js';
import { type PotState, strappingOf } from './state.js';
import { driverOf } from './weather-memory.js';

const KEPT_DAYS = 120;
/** Water this close to the wick foot no longer follows the plants' use. */
const NEAR_FOOT_MM = 4;
const DAY_SD = { weather: 0.2, latitude: 0.33 } as const;
const WALK = { weather: 0.025, latitude: 0.06 } as const;
const GAIN_ERROR = 0.04;

/** The work of a dawn: one step of the demand filter with the day that ends here, and the day's record. */
export function stepDay(ctx: PotContext, state: PotState, dawnMs: EpochMs): Partial<PotState> {
  const strapping = strappingOf(ctx);
  const dayNumber = dayNumberOf(calendarOf(ctx).dayOf(dawnMs)) - 1;
  const startMs = state.dawnMs;
  const driver = driverOf(ctx, state.weather, dayNumber);
  const fresh = state.cleaning.levelMm !== null && state.cleaning.levelMs > dawnMs - 6 * HOUR_MS;
  const dawn = fresh ? bookLitres(ctx, state, dawnMs) : null;
  let refills = 0;
  let refillLitres = 0;
  let rainLitres = 0;
  let lossLitres = 0;
  for (const { event } of state.events.records) {
    if (startMs === null || event.startMs < startMs || event.startMs >= dawnMs) continue;
    if (event.kind === 'refill') {
      refills++;
      refillLitres += event.litres;
    } else if (event.kind === 'rain') rainLitres += event.litres;
    else if (event.kind === 'drained' || event.kind === 'sudden_loss') lossLitres += event.litres;
  }
  const footMm = ctx.container.reservoir.wickFootMm;
  const lowMm = state.day?.levelMin ?? state.cleaning.levelMm ?? 0;
  const dry = lowMm < footMm + NEAR_FOOT_MM || (state.cleaning.levelMm ?? 0) < footMm + NEAR_FOOT_MM;
  const step = stepDemand(
    state.demand,
    {
      et0Mm: driver.et0Mm,
      daySd: DAY_SD[driver.source],
      walk: WALK[driver.source],
      gainLitres: refillLitres + rainLitres - lossLitres,
      gainSdLitres: GAIN_ERROR * (refillLitres + rainLitres + lossLitres),
      rainUseLitres: 0,
      soilLitres: 0,
      soilSdLitres: 0,
      leakLitres: 0,
      levelOnly: dry || refills > 1,
    },
    dawn === null ? null : { litres: dawn.value, sd: dawn.sd },
  );
  const netUseLitres =
    dawn === null || !state.demand.started
      ? null
      : state.demand.litres + refillLitres + rainLitres - lossLitres - dawn.value;
  const record: DayRecord = {
    dayNumber,
    startMs: startMs ?? dawnMs - 24 * HOUR_MS,
    endMs: dawnMs,
    readings: state.day?.readings ?? 0,
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
    dawnMoisture: state.latest.moistureFraction,
    moistureReference: null,
    levelMinMm: state.day === null || state.day.levels === 0 ? null : state.day.levelMin,
    levelMaxMm: state.day === null || state.day.levels === 0 ? null : state.day.levelMax,
    refills,
    refillLitres,
    rainLitres,
    hoursDry: 0,
    hoursFull: 0,
    noiseMm: state.cleaning.noiseMm,
    temperatureMinC: null,
    temperatureMaxC: null,
    batteryV: state.latest.batteryV,
    batteryFraction: null,
    batteryTemperatureC: state.latest.temperatureC,
    outliers: 0,
    flags: (dry ? BLOCK_FLAGS.dry : 0) | (driver.source === 'latitude' ? BLOCK_FLAGS.demandGuessed : 0),
  };
  return {
    demand: step.filter,
    dawnMs,
    days: [...state.days.slice(-(KEPT_DAYS - 1)), packDay(record)],
  };
}
