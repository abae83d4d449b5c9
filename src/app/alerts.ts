import type { Principal } from '../domain/access.js';
import type { Alert } from '../domain/work.js';
import type { App } from './context.js';

/** The person's own alerts, newest first. */
export declare function alerts(
  app: App,
  who: Principal,
  query: { readonly includeWithdrawn: boolean },
): Promise<readonly Alert[]>;

/** Marks an own alert as read; reading it twice changes nothing. */
export declare function markAlertRead(app: App, who: Principal, alertId: string): Promise<Alert>;
