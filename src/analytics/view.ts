import type { PotContext } from '../domain/analysis.js';
import { expectedRate } from './bookkeeping.js';
import type { PotView } from './pot-view.js';
import { soilDebtLitres } from './soil.js';
import { type PotState, strappingOf } from './state.js';

/** The state as the findings see it. Made for every reading: what costs time is worked out only when asked for. */
export function viewOf(ctx: PotContext, state: PotState): PotView {
  const { cleaning, assignment, demand, latest } = state;
  const strapping = strappingOf(ctx);
  const demandLitresPerDay = expectedRate(ctx, state);
  return {
    ctx,
    strapping,
    atMs: state.atMs,
    nodeId: assignment.ended ? null : (assignment.nodeId ?? latest.nodeId),
    assignedMs: assignment.sinceMs ?? latest.firstReadingMs,
    promisedIntervalS: assignment.promisedIntervalS,
    learntIntervalS: cleaning.intervalS,
    lastReadingMs: latest.readingMs,
    lastLevelMs: cleaning.levelMm === null ? null : cleaning.levelMs,
    levelMm: cleaning.levelMm,
    litres: cleaning.levelMm === null ? null : Math.max(0, strapping.litresAt(cleaning.levelMm)),
    moistureFraction: latest.moistureFraction,
    noiseMm: cleaning.noiseMm,
    temperatureMmPerK: state.temperature?.mmPerK ?? 0,
    temperatureSdMmPerK: state.temperature?.sdMmPerK ?? null,
    demandLitresPerDay,
    et0Mm: state.weather.days.at(-1)?.[1] ?? demandLitresPerDay / Math.exp(demand.kappa),
    kappa: demand.kappa,
    kappaSd: Math.sqrt(demand.varKappa),
    demandDays: demand.days,
    moistureReference: state.soil.reference,
    get debtLitres() {
      return soilDebtLitres(ctx, state.soil, state.atMs, demandLitresPerDay);
    },
    rainBucketLitres: state.soil.bucketLitres,
    get recentEvents() {
      return state.events.records.map((record) => record.event);
    },
    blocks: state.blocks,
    days: state.days,
  };
}
