import {
  advance,
  type CleanedLevel,
  cleanedLevels,
  isUsableState,
  type PotState,
  SETTLING_MS,
  startAnalysis,
} from '../../analytics/analysis.js';
import { WHOLE_FLEET } from '../../domain/access.js';
import type { Checkpoint, PotContext, PotInput } from '../../domain/analysis.js';
import type { ContainerId, EpochMs } from '../../domain/ids.js';
import { DAY_MS } from '../../domain/local-day.js';
import type { Store } from '../../domain/ports/store.js';
import type { App } from '../context.js';
import { breathe } from '../turns.js';
import { contextOf, loadAnalysisRegistry } from './analysis-registry.js';
import { allInputs, correctionMs } from './pot-inputs.js';

/** Readings are looked through this far back for ones that came late. */
const LATE_AT_MOST_MS = 60 * DAY_MS;
/** Inputs folded before other requests get the thread. */
const CHUNK_INPUTS = 300;

export interface PastPot {
  readonly ctx: PotContext;
  readonly state: PotState;
}

/**
 * The analysis of a container as it stood at an instant: with the readings, visits and corrections that had been received
 * by then, in a copy of what the live stage does, so that looking at a page never waits for it. Observed weather counts
 * as known from the end of its day; the store does not keep when it came.
 * @returns null for a container that is not there
 */
export async function potAsKnown(app: App, containerId: ContainerId, atMs: EpochMs): Promise<PastPot | null> {
  const { store } = app;
  const registry = await loadAnalysisRegistry(store);
  const calibration = await store.pots.calibration();
  const then = calibration !== null && calibration.frozenMs <= atMs ? calibration : null;
  const ctx = contextOf(registry, then, containerId);
  if (ctx === null) return null;
  const sources = { store, assignments: registry.assignments };
  const cleanMs = atMs < app.clock.nowMs() ? await unknownSince(store, containerId, atMs) : atMs;
  const checkpoint = await usableCheckpoint(store, containerId, Math.min(atMs, cleanMs - SETTLING_MS));
  const inputs = await allInputs(sources, ctx, checkpoint?.atMs ?? 0, atMs);
  const state = await foldAll(ctx, checkpoint?.state ?? startAnalysis(ctx), inputs);
  return { ctx, state };
}

/** Folds in pieces, so that nobody waits long. */
export async function foldAll(ctx: PotContext, start: PotState, inputs: readonly PotInput[]): Promise<PotState> {
  let state = start;
  for (let at = 0; at < inputs.length; at += CHUNK_INPUTS) {
    state = advance(ctx, state, inputs.slice(at, at + CHUNK_INPUTS), false).state;
    await breathe();
  }
  return state;
}

/** What became of the levels of [fromMs, toMs) and of some before them, as all that is known now judges it. */
export async function cleanedBetween(
  app: App,
  containerId: ContainerId,
  fromMs: EpochMs,
  toMs: EpochMs,
): Promise<readonly CleanedLevel[]> {
  const { store } = app;
  const registry = await loadAnalysisRegistry(store);
  const ctx = contextOf(registry, null, containerId);
  if (ctx === null) return [];
  const checkpoint = await usableCheckpoint(store, containerId, fromMs - SETTLING_MS);
  const sources = { store, assignments: registry.assignments };
  const all = await allInputs(sources, ctx, checkpoint?.atMs ?? 0);
  const inputs = all.filter((input) => input.timeMs < toMs);
  let levels: readonly CleanedLevel[] = [];
  let state = checkpoint?.state ?? startAnalysis(ctx);
  for (let at = 0; at < inputs.length; at += CHUNK_INPUTS) {
    const step = cleanedLevels(ctx, state, inputs.slice(at, at + CHUNK_INPUTS), levels);
    ({ state, levels } = step);
    await breathe();
  }
  return levels;
}

/** The latest checkpoint at or before an instant; null where there is none that this program can read. */
export async function usableCheckpoint(
  store: Store,
  containerId: ContainerId,
  atMs: EpochMs,
): Promise<Checkpoint<PotState> | null> {
  const stored = await store.pots.checkpoint(containerId, atMs);
  if (stored === null) return null;
  const state = JSON.parse(stored.stateJson) as PotState;
  return isUsableState(state) ? { atMs: stored.atMs, state } : null;
}

/** The earliest instant about which something was learnt only after `atMs`: checkpoints past it know more than was known. */
async function unknownSince(store: Store, containerId: ContainerId, atMs: EpochMs): Promise<EpochMs> {
  const fromMs = atMs - LATE_AT_MOST_MS;
  const [readings, corrections, visits] = await Promise.all([
    store.readings.ofContainer(WHOLE_FLEET, containerId, fromMs, atMs),
    store.pots.eventCorrections(containerId),
    store.work.visits(WHOLE_FLEET, { containerId, siteId: null, fromMs, toMs: atMs }),
  ]);
  return Math.min(
    atMs,
    ...readings.filter((reading) => reading.receivedMs > atMs).map((reading) => reading.timeMs),
    ...corrections.filter((one) => one.atMs > atMs).map((one) => correctionMs(one.eventId, one.startMs)),
    ...visits.filter((visit) => visit.recordedMs > atMs).map((visit) => visit.happenedMs),
  );
}
