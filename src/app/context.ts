import type { Action, Principal, Scope, Subject } from '../domain/access.js';
import { authorize } from '../domain/access.js';
import { DomainError } from '../domain/errors.js';
import type { Clock } from '../domain/ports/clock.js';
import type { Log } from '../domain/ports/log.js';
import type { Store } from '../domain/ports/store.js';

/** What every use case needs from the outside. */
export interface App {
  readonly store: Store;
  /** The business clock. */
  readonly clock: Clock;
  readonly log: Log;
}

const NOBODY_IN_PARTICULAR: Subject = { accountId: null, personId: null };

/**
 * The rows that a person may touch for an action.
 * @throws DomainError `not_allowed` where the person may not do it
 */
export function allowed(who: Principal, action: Action, subject: Subject = NOBODY_IN_PARTICULAR): Scope {
  const decision = authorize(who, action, subject);
  if (!decision.allowed) {
    throw new DomainError(
      'not_allowed',
      `A ${who.role} may not do this (${action}). Ask an owner for another role, or log in as somebody who may.`,
    );
  }
  return decision.scope;
}
