import { minutesFor, TASK_CATALOGUE } from '../../alerts/task-catalogue.js';
import { isOpen, stepTask } from '../../alerts/task-life.js';
import type { Principal, Scope } from '../../domain/access.js';
import { DomainError } from '../../domain/errors.js';
import type { ContainerId, EpochMs, SiteId } from '../../domain/ids.js';
import { DAY_MS } from '../../domain/local-day.js';
import type { Message } from '../../domain/message.js';
import type { Task, TaskKind, TaskTransition } from '../../domain/work.js';
import { type App, allowed } from '../context.js';
import { inTurn } from '../turns.js';
import { settleSite } from './alarm-stage.js';
import { ViewBuilder } from './view-builder.js';
import type { TaskHistory, TaskView } from './work-views.js';

export interface NewTask {
  readonly containerId: ContainerId;
  readonly kind: TaskKind;
  /** Who asked and why, in their words; for instance a client's call. */
  readonly note: string;
  /** Null: as the kind usually wants it. */
  readonly litres: number | null;
  readonly dueByMs: EpochMs | null;
}

export async function tasks(
  app: App,
  who: Principal,
  query: { readonly openOnly: boolean; readonly siteId: SiteId | null; readonly containerId: ContainerId | null },
): Promise<readonly TaskView[]> {
  const scope = allowed(who, 'tasks.read');
  const rows = await app.store.work.tasks(scope, { ...query, settledSinceMs: null });
  const views = await ViewBuilder.load(app.store, scope, app.clock.nowMs());
  return views.tasks(rows);
}

export async function task(app: App, who: Principal, taskId: string): Promise<TaskHistory> {
  const scope = allowed(who, 'tasks.read');
  return historyOf(app, scope, await find(app, scope, taskId));
}

/**
 * Adds a task that a person asks for. Where one of that kind is open at the pot, the request joins it.
 */
export async function addTask(app: App, who: Principal, input: NewTask): Promise<TaskHistory> {
  const scope = allowed(who, 'tasks.write');
  const container = await app.store.registry.container(scope, input.containerId);
  if (container === null) throw new DomainError('not_found', `There is no container ${input.containerId}.`);
  const person = (await app.store.people.person(who.personId))?.name ?? who.personId;
  const asked: Message = { code: 'task.reason.asked', params: { person, note: input.note } };
  const id = await inTurn(app.store, async () => {
    const nowMs = app.clock.nowMs();
    const open = await app.store.work.tasks(scope, {
      openOnly: true,
      settledSinceMs: null,
      siteId: null,
      containerId: input.containerId,
    });
    const standing = open.find((one) => one.kind === input.kind && isOpen(one));
    const row =
      standing === undefined ? newTask(input, container.siteId, asked, nowMs) : joined(standing, input, asked, nowMs);
    const transition: TaskTransition = {
      taskId: row.id,
      atMs: nowMs,
      from: standing?.state ?? null,
      to: row.state,
      actor: who.personId,
      reason: { code: standing === undefined ? 'task.asked' : 'task.joined', params: { person } },
    };
    await commitTask(app, who, row, transition, nowMs);
    await settleSite(app, container.siteId);
    return row.id;
  });
  return historyOf(app, scope, await find(app, scope, id));
}

/** @throws DomainError `conflict` where the task is no longer open */
export async function cancelTask(app: App, who: Principal, taskId: string, reason: string): Promise<TaskHistory> {
  const scope = allowed(who, 'tasks.write');
  const person = (await app.store.people.person(who.personId))?.name ?? who.personId;
  await inTurn(app.store, async () => {
    const nowMs = app.clock.nowMs();
    const before = await find(app, scope, taskId);
    const message: Message = { code: 'task.cancelled_by', params: { person, note: reason } };
    const result = stepTask(before, { kind: 'cancel' }, nowMs, who.personId, message);
    if (result.refused || result.transition === null) {
      throw new DomainError(
        'conflict',
        `Task ${taskId} is ${before.state.replaceAll('_', ' ')} and cannot be cancelled.`,
      );
    }
    // Kept on the task, so that the rules do not ask for the same thing again at once.
    await commitTask(app, who, { ...result.task, verification: message }, result.transition, nowMs);
    await settleSite(app, before.siteId);
  });
  return historyOf(app, scope, await find(app, scope, taskId));
}

function newTask(input: NewTask, siteId: SiteId, asked: Message, nowMs: EpochMs): Task {
  const entry = TASK_CATALOGUE[input.kind];
  return {
    id: `${input.containerId}:${input.kind}:${nowMs}`,
    kind: input.kind,
    siteId,
    containerId: input.containerId,
    state: 'proposed',
    origin: 'person',
    reason: [asked],
    findingId: null,
    litres: input.litres,
    minutes: minutesFor(input.kind, input.litres),
    dueFromMs: nowMs,
    dueByMs: input.dueByMs ?? nowMs + entry.withinDays * DAY_MS,
    cautions: entry.cautions,
    createdMs: nowMs,
    changedMs: nowMs,
    verification: null,
  };
}

function joined(standing: Task, input: NewTask, asked: Message, nowMs: EpochMs): Task {
  return {
    ...standing,
    origin: 'person',
    reason: [asked, ...standing.reason],
    litres: input.litres ?? standing.litres,
    dueByMs: Math.min(standing.dueByMs, input.dueByMs ?? standing.dueByMs),
    changedMs: nowMs,
  };
}

async function find(app: App, scope: Scope, taskId: string): Promise<Task> {
  const row = await app.store.work.task(scope, taskId);
  if (row === null) throw new DomainError('not_found', `There is no task ${taskId}.`);
  return row;
}

async function commitTask(
  app: App,
  who: Principal,
  row: Task,
  transition: TaskTransition,
  nowMs: EpochMs,
): Promise<void> {
  await app.store.commit({
    atMs: nowMs,
    actor: { kind: 'person', id: who.personId },
    writes: [
      { kind: 'task', row },
      { kind: 'task_transition', row: transition },
    ],
    cursor: null,
  });
}

async function historyOf(app: App, scope: Scope, row: Task): Promise<TaskHistory> {
  const views = await ViewBuilder.load(app.store, scope, app.clock.nowMs());
  const view = views.task(row);
  if (view === null) throw new DomainError('not_found', `The pot of task ${row.id} no longer stands there.`);
  return { ...view, transitions: await app.store.work.taskTransitions(row.id) };
}
