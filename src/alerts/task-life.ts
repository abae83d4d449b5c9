import type { EpochMs } from '../domain/ids.js';
import type { Message } from '../domain/message.js';
import { OPEN_TASK_STATES, type Task, type TaskState, type TaskTransition } from '../domain/work.js';

export type TaskEvent =
  /** It was put on a round. */
  | { readonly kind: 'plan' }
  /** It was taken off a round. */
  | { readonly kind: 'unplan' }
  | { readonly kind: 'set_out' }
  /** A visit says that it was done. */
  | { readonly kind: 'done' }
  /** The sensor agrees. */
  | { readonly kind: 'verify'; readonly message: Message }
  /** The sensor disagrees, or what it was to mend goes on. */
  | { readonly kind: 'reopen'; readonly message: Message }
  | { readonly kind: 'cancel' };

export interface TaskStep {
  readonly task: Task;
  /** Null where the event changes nothing. */
  readonly transition: TaskTransition | null;
  /** The event does not fit the state. */
  readonly refused: boolean;
}

/** What was mended may need this long to show in the readings; only then was it done in vain. */
export const SHOWS_WITHIN_MS = 3 * 86_400_000;

/** A refill that was done is not asked for again before the readings have had this long to speak. */
export const REFILL_SHOWS_WITHIN_MS = 86_400_000;

const OPEN: ReadonlySet<TaskState> = new Set(OPEN_TASK_STATES);

export function isOpen(task: Pick<Task, 'state'>): boolean {
  return OPEN.has(task.state);
}

/** States from which each event leads on, and where to. */
const MOVES: Readonly<Record<TaskEvent['kind'], Partial<Record<TaskState, TaskState>>>> = {
  plan: { proposed: 'planned', reopened: 'planned', planned: 'planned', on_the_way: 'on_the_way' },
  unplan: { planned: 'proposed', on_the_way: 'proposed', proposed: 'proposed', reopened: 'reopened' },
  set_out: { planned: 'on_the_way', on_the_way: 'on_the_way' },
  done: { proposed: 'done', planned: 'done', on_the_way: 'done', reopened: 'done', done: 'done' },
  verify: { done: 'verified', verified: 'verified' },
  reopen: { done: 'reopened', verified: 'reopened', reopened: 'reopened' },
  cancel: {
    proposed: 'cancelled',
    planned: 'cancelled',
    on_the_way: 'cancelled',
    reopened: 'cancelled',
    cancelled: 'cancelled',
  },
};

/** The life of a task as a pure function. `reason` goes on record with the transition. */
export function stepTask(task: Task, event: TaskEvent, nowMs: EpochMs, actor: string, reason: Message): TaskStep {
  const to = MOVES[event.kind][task.state];
  if (to === undefined) return { task, transition: null, refused: true };
  const verification = event.kind === 'verify' || event.kind === 'reopen' ? event.message : task.verification;
  if (to === task.state) return { task, transition: null, refused: false };
  return {
    task: { ...task, state: to, verification, changedMs: nowMs },
    transition: { taskId: task.id, atMs: nowMs, from: task.state, to, actor, reason },
    refused: false,
  };
}
