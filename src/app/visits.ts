import type { Principal } from '../domain/access.js';
import type { ContainerId, EpochMs, PersonId, SiteId } from '../domain/ids.js';
import type { VisitAction } from '../domain/work.js';
import type { App } from './context.js';
import type { VisitView } from './work-views.js';

export interface VisitInput {
  /** Made by the client; sending the same id again changes nothing. */
  readonly id: string;
  readonly siteId: SiteId;
  /** Whose visit it was; a technician records only the own ones. */
  readonly technicianId: PersonId;
  readonly startedMs: EpochMs;
  /** When the work was done, which may be hours before it reaches us. */
  readonly happenedMs: EpochMs;
  readonly actions: readonly VisitAction[];
  readonly note: string | null;
}

export interface VisitReceipt {
  readonly view: VisitView;
  /** False where this id had been recorded before. */
  readonly recorded: boolean;
}

/**
 * Records a visit at the time it happened, and closes the tasks that it served.
 * @throws DomainError `conflict` where the id is known with other contents, `invalid_input` with a fault for each field
 */
export declare function recordVisit(app: App, who: Principal, input: VisitInput): Promise<VisitReceipt>;

/** Visits by the time they happened, newest first. */
export declare function visits(
  app: App,
  who: Principal,
  query: {
    readonly containerId: ContainerId | null;
    readonly siteId: SiteId | null;
    readonly fromMs: EpochMs;
    readonly toMs: EpochMs;
  },
): Promise<readonly VisitView[]>;

export declare function visit(app: App, who: Principal, id: string): Promise<VisitView>;
