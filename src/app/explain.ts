import { advance, explain, isUsableState, type PotState, startAnalysis } from '../analytics/analysis.js';
import type { Checkpoint } from '../domain/analysis.js';
import type { ContainerId, EpochMs } from '../domain/ids.js';
import type { Message } from '../domain/message.js';
import type { Store } from '../domain/ports/store.js';
import { contextOf, loadAnalysisRegistry } from './analysis-registry.js';
import type { App } from './context.js';
import { localDaysOf } from './fleet-view.js';
import { allInputs } from './pot-inputs.js';
import { outlookOrShared } from './weather-observations.js';

/**
 * How a container's numbers came about: the sentence that a dispatcher reads, the data used, the rate and its parts,
 * the assumptions. Folds from the last checkpoint on, a copy of what the live stage does, so that looking at a page
 * never waits for it.
 * @param atMs as it was known at this instant; past ones only
 * @returns nothing for a container that is not there
 */
export async function explainContainer(
  app: App,
  containerId: ContainerId,
  atMs: EpochMs = app.clock.nowMs(),
): Promise<readonly Message[]> {
  const { store } = app;
  const registry = await loadAnalysisRegistry(store);
  const ctx = contextOf(registry, await store.pots.calibration(), containerId);
  if (ctx === null) return [];
  const checkpoint = await usableCheckpoint(store, containerId, atMs);
  const inputs = await allInputs({ store, assignments: registry.assignments }, ctx, checkpoint?.atMs ?? 0);
  const known = inputs.filter(
    (input) => input.timeMs <= atMs && (input.kind !== 'reading' || input.reading.receivedMs <= atMs),
  );
  const { state } = advance(ctx, checkpoint?.state ?? startAnalysis(ctx), known);
  const outlook = await outlookOrShared(store, ctx.site, localDaysOf(ctx.site.timeZone).dayOf(atMs), atMs);
  return explain(ctx, state, atMs, outlook);
}

async function usableCheckpoint(
  store: Store,
  containerId: ContainerId,
  atMs: EpochMs,
): Promise<Checkpoint<PotState> | null> {
  const stored = await store.pots.checkpoint(containerId, atMs);
  if (stored === null) return null;
  const state = JSON.parse(stored.stateJson) as PotState;
  return isUsableState(state) ? { atMs: stored.atMs, state } : null;
}
