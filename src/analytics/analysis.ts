import type { Assessment, FoldResult, PotContext, PotInput } from '../domain/analysis.js';
import type { EpochMs } from '../domain/ids.js';
import type { Message } from '../domain/message.js';
import type { PotStatus } from '../domain/pot.js';
import type { WeatherDay } from '../domain/weather.js';
import { explainForecast } from './explain.js';
import { currentFindings } from './findings/state.js';
import { Fold } from './fold.js';
import { forecastAt } from './forecast.js';
import { type PotState, STATE_VERSION, startState, strappingOf } from './state.js';
import { viewOf } from './view.js';

export { type CleanedLevel, type CleaningReason, cleanedLevels } from './cleaned-levels.js';
export type { PotState } from './state.js';

/** The state of a pot of which nothing has been heard. */
export function startAnalysis(ctx: PotContext): PotState {
  return startState(ctx);
}

/** False for a checkpoint that an older program wrote: the fold has to start anew. */
export function isUsableState(state: PotState): boolean {
  return state.version === STATE_VERSION;
}

/**
 * Folds inputs into the state of a pot. Pure: the same state and inputs give the same bytes, however the inputs are
 * split into calls.
 *
 * A checkpoint at T holds everything dated before T and nothing dated at T or later; to restart from it, fold all
 * inputs from T on. Corrections are dated at the start of the event that they correct, weather days at the end of
 * their local day. `derived` is complete for hours, days and events from `derived.fromMs` on, and revises single rows
 * before it (the account of the day before, an event that the weather made clearer): write it by deleting what begins
 * at or after `fromMs` and then putting every row given, by key. A late input must restart from a checkpoint at least
 * {@link SETTLING_MS} before it, so that every event that it may unmake lies after the restart.
 * @param inputs in order of (timeMs, kind, receivedMs), none before the state's instant
 * @param openRows false leaves out of `derived` the rows of the hour and day in course, for callers that have no use for
 *   them; the state is the same
 * @throws Error where an input is earlier than the state
 */
export function advance(
  ctx: PotContext,
  state: PotState,
  inputs: readonly PotInput[],
  openRows = true,
): FoldResult<PotState> {
  const fold = new Fold(ctx, state);
  for (const input of inputs) fold.take(input);
  return fold.result(openRows);
}

/** Within this time after its start an event may still be merged, re-measured or taken back. */
export const SETTLING_MS = 12 * 3_600_000;

/** What seems wrong at an instant; the part of {@link assess} that needs no weather to come. Cheap. */
export function findingsAt(ctx: PotContext, state: PotState, nowMs: EpochMs): Assessment['findings'] {
  return currentFindings(viewOf(ctx, state), state.findings, nowMs);
}

/** What can be said of the pot at an instant. Pure. */
export function assess(ctx: PotContext, state: PotState, nowMs: EpochMs, outlook: readonly WeatherDay[]): Assessment {
  const strapping = strappingOf(ctx);
  const forecast = forecastAt(ctx, state, nowMs, outlook);
  const status: PotStatus = {
    containerId: ctx.container.id,
    atMs: nowMs,
    nodeId: state.assignment.ended ? null : (state.assignment.nodeId ?? state.latest.nodeId),
    lastReadingMs: state.latest.readingMs,
    levelMm: forecast.levelMm,
    litres: forecast.litres,
    capacityLitres: strapping.capacityLitres,
    deadLitres: strapping.deadLitres,
    moistureFraction: state.latest.moistureFraction,
    temperatureC: state.latest.temperatureC,
    batteryV: state.latest.batteryV,
    forecast,
  };
  return { status, findings: findingsAt(ctx, state, nowMs) };
}

/** Data used, the rate and its parts, the assumptions, and first the sentence that a dispatcher reads. */
export function explain(
  ctx: PotContext,
  state: PotState,
  nowMs: EpochMs,
  outlook: readonly WeatherDay[],
): readonly Message[] {
  return explainForecast(ctx, state, forecastAt(ctx, state, nowMs, outlook));
}
