import type { Principal } from '../domain/access.js';
import type { ContainerId, EpochMs, SiteId } from '../domain/ids.js';
import type { TaskKind } from '../domain/work.js';
import type { App } from './context.js';
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

export declare function tasks(
  app: App,
  who: Principal,
  query: { readonly openOnly: boolean; readonly siteId: SiteId | null; readonly containerId: ContainerId | null },
): Promise<readonly TaskView[]>;

export declare function task(app: App, who: Principal, taskId: string): Promise<TaskHistory>;

/**
 * Adds a task that a person asks for. Where one of that kind is open at the pot, the request joins it.
 */
export declare function addTask(app: App, who: Principal, input: NewTask): Promise<TaskHistory>;

/** @throws DomainError `conflict` where the task is no longer open */
export declare function cancelTask(app: App, who: Principal, taskId: string, reason: string): Promise<TaskHistory>;
