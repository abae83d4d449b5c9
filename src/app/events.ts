import type { Principal } from '../domain/access.js';
import type { ContainerId } from '../domain/ids.js';
import type { EventKind } from '../domain/pot.js';
import type { App } from './context.js';

/**
 * A person says what an event really was (`none`: nothing happened); what follows from it is computed anew.
 * @throws DomainError `not_found` where the pot has no such event
 */
export declare function correctEvent(
  app: App,
  who: Principal,
  input: {
    readonly containerId: ContainerId;
    readonly eventId: string;
    readonly correctedKind: EventKind | 'none';
    readonly litres: number | null;
  },
): Promise<void>;
