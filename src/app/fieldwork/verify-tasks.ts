import { stepTask } from '../../alerts/task-life.js';
import { judgeWork, PROVED_BY_READINGS, type ProvedKind, type WorkEvidence } from '../../alerts/task-proof.js';
import { WHOLE_FLEET } from '../../domain/access.js';
import type { Write } from '../../domain/change-set.js';
import type { EpochMs, SiteId } from '../../domain/ids.js';
import { DAY_MS } from '../../domain/local-day.js';
import type { Task } from '../../domain/work.js';
import type { App } from '../context.js';
import { inTurn } from '../turns.js';
import { settleSite } from './alarm-stage.js';
import { usualMoistureOf } from './usual-moisture.js';

const STAGE_ACTOR = { kind: 'stage', id: 'verification' } as const;
const RULE = 'rule';

/** Work is judged while the readings that speak of it may still come in. */
const JUDGED_FOR_MS = 14 * DAY_MS;
const READ_BEFORE_MS = DAY_MS;
const READ_AFTER_MS = 2 * DAY_MS;

const isProved = (task: Task): task is Task & { readonly kind: ProvedKind } =>
  task.state === 'done' && (PROVED_BY_READINGS as readonly string[]).includes(task.kind);

/**
 * Asks the readings about work other than refills that was reported done: an overflow that runs again, a level that
 * fell, soil that is wetter, a fresh cell, a node that is heard. What they contradict is opened again, and says why.
 * @returns how many tasks were judged
 */
export function verifyTasks(app: App): Promise<number> {
  return inTurn(app.store, async () => {
    const nowMs = app.clock.nowMs();
    const recent = await app.store.work.tasks(WHOLE_FLEET, {
      openOnly: true,
      settledSinceMs: nowMs - JUDGED_FOR_MS,
      siteId: null,
      containerId: null,
    });
    const writes: Write[] = [];
    const sites = new Set<SiteId>();
    for (const task of recent.filter(isProved)) {
      const mine = await judged(app, task, nowMs);
      if (mine.length === 0) continue;
      writes.push(...mine);
      sites.add(task.siteId);
    }
    if (writes.length === 0) return 0;
    await app.store.commit({ atMs: nowMs, actor: STAGE_ACTOR, writes, cursor: null });
    for (const siteId of sites) await settleSite(app, siteId);
    return writes.filter(({ kind }) => kind === 'task').length;
  });
}

async function judged(app: App, task: Task & { readonly kind: ProvedKind }, nowMs: EpochMs): Promise<readonly Write[]> {
  const evidence = await evidenceOf(app, task);
  const verdict = evidence === null ? null : judgeWork(evidence, nowMs);
  if (verdict === null) return [];
  const { outcome, message } = verdict;
  if (outcome === 'no_data') {
    return task.verification === null ? [{ kind: 'task', row: { ...task, verification: message } }] : [];
  }
  const isBorneOut = outcome === 'confirmed';
  const event = { kind: isBorneOut ? 'verify' : 'reopen', message } as const;
  const step = stepTask(task, event, nowMs, RULE, message);
  if (step.transition === null) return [];
  const reopened = isBorneOut ? {} : { origin: 'verification' as const, reason: [message, ...task.reason] };
  return [
    { kind: 'task', row: { ...step.task, ...reopened } },
    { kind: 'task_transition', row: step.transition },
  ];
}

async function evidenceOf(app: App, task: Task & { readonly kind: ProvedKind }): Promise<WorkEvidence | null> {
  const { store } = app;
  const container = await store.registry.container(WHOLE_FLEET, task.containerId);
  if (container === null) return null;
  const doneMs = task.changedMs;
  const [readings, usualMoisture] = await Promise.all([
    store.readings.ofContainer(WHOLE_FLEET, container.id, doneMs - READ_BEFORE_MS, doneMs + READ_AFTER_MS),
    usualMoistureOf(store, container, doneMs),
  ]);
  return { kind: task.kind, doneMs, readings, overflowMm: container.reservoir.overflowMm, usualMoisture };
}
