import { judgeRefill, type RefillEvidence } from '../../alerts/refill-proof.js';
import { minutesFor, TASK_CATALOGUE } from '../../alerts/task-catalogue.js';
import { stepTask } from '../../alerts/task-life.js';
import { WHOLE_FLEET } from '../../domain/access.js';
import type { Write } from '../../domain/change-set.js';
import type { ContainerId, EpochMs, SiteId } from '../../domain/ids.js';
import { DAY_MS, HOUR_MS } from '../../domain/local-day.js';
import type { FindingKind } from '../../domain/pot.js';
import type { Container } from '../../domain/registry.js';
import type { Task, Visit, VisitAction, VisitVerification } from '../../domain/work.js';
import type { App } from '../context.js';
import { inTurn } from '../turns.js';
import { settleSite } from './alarm-stage.js';
import { usualMoistureOf } from './usual-moisture.js';

const STAGE_ACTOR = { kind: 'stage', id: 'verification' } as const;
const RULE = 'rule';

/** Visits are judged while the readings that speak of them may still come in. */
const JUDGED_FOR_MS = 14 * DAY_MS;
/** What was poured in shows within this time around the visit. */
const WINDOW_BEFORE_MS = HOUR_MS;
const WINDOW_AFTER_MS = 3 * HOUR_MS;
/** After a longer time the soil has had other visits, and the finding of another day decides. */
const REWET_WITHIN_MS = 3 * DAY_MS;
/** An event begins at the reading before it, which may be this much earlier. */
const LONGEST_INTERVAL_MS = 6 * HOUR_MS;

/** With one of these open the level proves nothing. */
const DOUBTFUL: ReadonlySet<FindingKind> = new Set([
  'sensor_stuck',
  'sensor_unplugged',
  'sensor_drift',
  'sensor_fouled',
  'nodes_swapped',
]);

/**
 * Asks the readings about every refill that was reported and not yet judged: borne out, contradicted, or, after a day
 * without readings, not to be known. What is contradicted opens its task again.
 * @returns how many were judged
 */
export function verifyVisits(app: App): Promise<number> {
  return inTurn(app.store, async () => {
    const nowMs = app.clock.nowMs();
    const writes: Write[] = [];
    const sites = new Set<SiteId>();
    let judged = 0;
    for (const [visit, containerId, actions] of await refillsToJudge(app, nowMs)) {
      const mine = await judge(app, visit, containerId, actions, nowMs);
      if (mine.length === 0) continue;
      judged += 1;
      sites.add(visit.siteId);
      writes.push(...mine);
    }
    if (writes.length === 0) return 0;
    await app.store.commit({ atMs: nowMs, actor: STAGE_ACTOR, writes, cursor: null });
    for (const siteId of sites) await settleSite(app, siteId);
    return judged;
  });
}

type Judgement = readonly [Visit, ContainerId, readonly VisitAction[]];

async function refillsToJudge(app: App, nowMs: EpochMs): Promise<readonly Judgement[]> {
  const open = await app.store.work.unverifiedActions(nowMs - JUDGED_FOR_MS);
  const groups = new Map<string, [Visit, ContainerId, VisitAction[]]>();
  for (const { visit, action } of open) {
    if (action.work !== 'refill' || action.exception !== null) continue;
    const key = `${visit.id} ${action.containerId}`;
    const group = groups.get(key) ?? [visit, action.containerId, []];
    group[2].push(action);
    groups.set(key, group);
  }
  return [...groups.values()];
}

async function judge(
  app: App,
  visit: Visit,
  containerId: ContainerId,
  actions: readonly VisitAction[],
  nowMs: EpochMs,
): Promise<readonly Write[]> {
  const container = await app.store.registry.container(WHOLE_FLEET, containerId);
  if (container === null) return [];
  const before = (await app.store.work.verifications(visit.id)).find((one) => one.containerId === containerId) ?? null;
  const verdict = judgeRefill(await evidence(app, visit, container, actions), nowMs);
  if (verdict === null) return [];
  // Still nobody can say; only a backlog that has come in since makes it worth saying something again.
  if (before !== null && verdict.outcome === 'no_data') return [];
  const verification: VisitVerification = {
    visitId: visit.id,
    containerId,
    outcome: verdict.outcome,
    measuredLitres: verdict.measuredLitres,
    atMs: nowMs,
    message: verdict.message,
  };
  const task = await refillTaskOf(app, containerId, actions, visit);
  return [
    { kind: 'visit_verification', row: verification },
    ...(task === null ? [] : taskWrites(task, verification, nowMs)),
    ...(verdict.stillDrySoil && nowMs - visit.happenedMs < REWET_WITHIN_MS
      ? await rewetWrites(app, container, nowMs)
      : []),
  ];
}

async function evidence(
  app: App,
  visit: Visit,
  container: Container,
  actions: readonly VisitAction[],
): Promise<RefillEvidence> {
  const fromMs = visit.startedMs - WINDOW_BEFORE_MS;
  const toMs = visit.happenedMs + WINDOW_AFTER_MS;
  const [usualMoisture, findings, events, readings, status] = await Promise.all([
    usualMoistureOf(app.store, container, visit.happenedMs),
    app.store.pots.findings(WHOLE_FLEET, { containerId: container.id, openOnly: true, fromMs: null }),
    app.store.pots.events(WHOLE_FLEET, container.id, fromMs - LONGEST_INTERVAL_MS, toMs),
    app.store.readings.ofContainer(
      WHOLE_FLEET,
      container.id,
      fromMs - LONGEST_INTERVAL_MS,
      visit.happenedMs + 30 * HOUR_MS,
    ),
    app.store.pots.status(WHOLE_FLEET, container.id),
  ]);
  const reported = actions.flatMap((action) => (action.litres === null ? [] : [action.litres]));
  return {
    happenedMs: visit.happenedMs,
    reportedLitres: reported.length === 0 ? null : reported.reduce((sum, litres) => sum + litres, 0),
    gains: events.filter((event) => (event.kind === 'refill' || event.kind === 'rain') && event.endMs >= fromMs),
    readings,
    lastReadingMs: status?.lastReadingMs ?? null,
    overflowMm: container.reservoir.overflowMm,
    wickFootMm: container.reservoir.wickFootMm,
    usualMoisture,
    sensorInDoubt: findings.some((finding) => DOUBTFUL.has(finding.kind)),
  };
}

async function refillTaskOf(
  app: App,
  containerId: ContainerId,
  actions: readonly VisitAction[],
  visit: Visit,
): Promise<Task | null> {
  for (const action of actions) {
    const named = action.taskId === null ? null : await app.store.work.task(WHOLE_FLEET, action.taskId);
    if (named !== null && named.kind === 'refill') return named;
  }
  const recent = await app.store.work.tasks(WHOLE_FLEET, {
    openOnly: true,
    settledSinceMs: visit.recordedMs,
    siteId: null,
    containerId,
  });
  // The one that this very visit closed, and not one that another visit did since.
  return recent.find((task) => isDoneBy(task, visit)) ?? null;
}

function isDoneBy(task: Task, visit: Visit): boolean {
  return task.kind === 'refill' && task.state === 'done' && task.changedMs === visit.recordedMs;
}

function taskWrites(task: Task, { outcome, message }: VisitVerification, nowMs: EpochMs): readonly Write[] {
  switch (outcome) {
    case 'confirmed':
      return stepWrites(stepTask(task, { kind: 'verify', message }, nowMs, RULE, message), null);
    case 'contradicted': {
      const reason = { code: 'task.reopened.contradicted', params: message.params } as const;
      const step = stepTask(task, { kind: 'reopen', message }, nowMs, RULE, reason);
      return stepWrites(step, { origin: 'verification', reason: [reason, ...task.reason], dueFromMs: nowMs });
    }
    case 'no_data':
      return [{ kind: 'task', row: { ...task, verification: message } }];
  }
}

function stepWrites(step: ReturnType<typeof stepTask>, change: Partial<Task> | null): readonly Write[] {
  if (step.transition === null) return [];
  return [
    { kind: 'task', row: { ...step.task, ...change } },
    { kind: 'task_transition', row: step.transition },
  ];
}

/** Dried-out peat repels water: the reservoir is full, and the soil above it stays dry. */
async function rewetWrites(app: App, container: Container, nowMs: EpochMs): Promise<readonly Write[]> {
  const kind = 'rewet_from_above';
  const known = await app.store.work.tasks(WHOLE_FLEET, {
    openOnly: true,
    settledSinceMs: null,
    siteId: null,
    containerId: container.id,
  });
  if (known.some((task) => task.kind === kind)) return [];
  const entry = TASK_CATALOGUE[kind];
  const row: Task = {
    id: `${container.id}:${kind}:${nowMs}`,
    kind,
    siteId: container.siteId,
    containerId: container.id,
    state: 'proposed',
    origin: 'verification',
    reason: [{ code: 'task.reason.soil_still_dry', params: {} }],
    findingId: null,
    litres: null,
    minutes: minutesFor(kind, null),
    dueFromMs: nowMs,
    dueByMs: nowMs + entry.withinDays * DAY_MS,
    cautions: entry.cautions,
    createdMs: nowMs,
    changedMs: nowMs,
    verification: null,
  };
  const transition = { taskId: row.id, atMs: nowMs, from: null, to: row.state, actor: RULE, reason: row.reason[0]! };
  return [
    { kind: 'task', row },
    { kind: 'task_transition', row: transition },
  ];
}
