import { WHOLE_FLEET } from '../../domain/access.js';
import type { Write } from '../../domain/change-set.js';
import type { ContainerId, EpochMs, NodeId } from '../../domain/ids.js';
import { DAY_MS } from '../../domain/local-day.js';
import type { App } from '../context.js';

/** How long what grows the most is kept; null: for ever. All else is kept for ever. */
export interface RetentionRules {
  readonly readingsDays: number | null;
  readonly changesDays: number | null;
}

export interface RetentionReport {
  readonly nodes: number;
  readonly changesThroughSeq: number | null;
}

/** Other writers wait while a commit lasts: one holds so many node-weeks, or lines of the change log. */
const NODE_WEEKS_A_COMMIT = 20;
const LINES_A_COMMIT = 20_000;
const WEEK_MS = 7 * DAY_MS;

/**
 * Lets raw readings and lines of the change log go that are older than the rules say. Rollups, ledger, events, forecasts
 * and the audit trail are never touched. Of each container the last checkpoint before the limit stays, with every reading
 * since, so that the analysis can still go back to it; before it nothing is derived anew.
 */
export async function applyRetention(app: App, rules: RetentionRules): Promise<RetentionReport> {
  const nowMs = app.clock.nowMs();
  const nodes = rules.readingsDays === null ? 0 : await expireReadings(app, nowMs - rules.readingsDays * DAY_MS);
  const throughSeq = rules.changesDays === null ? null : await expireChanges(app, nowMs - rules.changesDays * DAY_MS);
  return { nodes, changesThroughSeq: throughSeq };
}

async function expireReadings(app: App, limitMs: EpochMs): Promise<number> {
  const { registry, pots, readings } = app.store;
  const horizons = new Map<ContainerId, EpochMs | null>();
  for (const { id } of await registry.containers(WHOLE_FLEET)) {
    horizons.set(id, (await pots.checkpoint(id, limitMs))?.atMs ?? null);
  }
  const beforeOf = await limitsOfNodes(app, horizons, limitMs);
  // First the horizons: a late reading in between must not have the analysis go back to what is being let go.
  await commit(
    app,
    [...horizons].flatMap(([containerId, fromMs]): Write[] =>
      fromMs === null ? [] : [{ kind: 'reading_horizon', containerId, fromMs }],
    ),
  );
  let touched = 0;
  let writes: Write[] = [];
  for (const [nodeId, beforeMs] of beforeOf) {
    const oldestMs = await readings.oldestMs(nodeId);
    if (oldestMs === null || oldestMs >= beforeMs) continue;
    touched += 1;
    for (let toMs = Math.min(oldestMs + WEEK_MS, beforeMs); ; toMs = Math.min(toMs + WEEK_MS, beforeMs)) {
      writes.push({ kind: 'readings_expired', nodeId, beforeMs: toMs });
      if (writes.length >= NODE_WEEKS_A_COMMIT) {
        await commit(app, writes);
        writes = [];
      }
      if (toMs >= beforeMs) break;
    }
  }
  await commit(app, writes);
  return touched;
}

/** Before when each node's readings may go: as far as every container allows that it ever was on. */
async function limitsOfNodes(
  app: App,
  horizons: ReadonlyMap<ContainerId, EpochMs | null>,
  limitMs: EpochMs,
): Promise<ReadonlyMap<NodeId, EpochMs>> {
  const limits = new Map<NodeId, EpochMs>();
  for (const { id } of await app.store.registry.nodes(WHOLE_FLEET)) limits.set(id, limitMs);
  for (const { nodeId, containerId } of await app.store.registry.assignments(WHOLE_FLEET)) {
    const horizonMs = horizons.get(containerId) ?? Number.NEGATIVE_INFINITY;
    limits.set(nodeId, Math.min(limits.get(nodeId) ?? limitMs, horizonMs));
  }
  return limits;
}

async function expireChanges(app: App, limitMs: EpochMs): Promise<number> {
  const { changes } = app.store;
  const throughSeq = await changes.lastSeqBefore(limitMs);
  let doneSeq = 0;
  // What people did stays, so that the log begins with lines that are far apart: counted are lines, not numbers.
  while (doneSeq < throughSeq) {
    const toSeq = Math.min((await changes.seqAfter(doneSeq, LINES_A_COMMIT)) ?? throughSeq, throughSeq);
    await commit(app, [{ kind: 'changes_expired', fromSeq: doneSeq, throughSeq: toSeq }]);
    doneSeq = toSeq;
  }
  return throughSeq;
}

async function commit(app: App, writes: readonly Write[]): Promise<void> {
  if (writes.length === 0) return;
  await app.store.commit({
    atMs: app.clock.nowMs(),
    actor: { kind: 'stage', id: 'retention' },
    writes,
    cursor: null,
  });
}
