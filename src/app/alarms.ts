import type { Principal } from '../domain/access.js';
import type { EpochMs } from '../domain/ids.js';
import type { App } from './context.js';
import type { AlarmHistory, AlarmView } from './work-views.js';

/** What a person may do to an alarm. */
export type AlarmAction =
  | { readonly kind: 'acknowledge'; readonly note: string | null }
  | { readonly kind: 'shelve'; readonly untilMs: EpochMs; readonly reason: string }
  | { readonly kind: 'unshelve' }
  | { readonly kind: 'suppress'; readonly reason: string }
  | { readonly kind: 'unsuppress' }
  | { readonly kind: 'take_out_of_service'; readonly reason: string }
  | { readonly kind: 'return_to_service' }
  | { readonly kind: 'reset'; readonly note: string | null };

/** Alarms that stand (all states but normal), the most pressing first; with `includeNormal` every alarm point. */
export declare function alarms(
  app: App,
  who: Principal,
  query: { readonly includeNormal: boolean },
): Promise<readonly AlarmView[]>;

/** One alarm with its history. */
export declare function alarm(app: App, who: Principal, alarmId: string): Promise<AlarmHistory>;

/**
 * Does something to an alarm.
 * @throws DomainError `conflict` where the alarm's state does not allow it, `invalid_input` for a shelving in the past or
 * longer than a week
 */
export declare function actOnAlarm(
  app: App,
  who: Principal,
  alarmId: string,
  action: AlarmAction,
): Promise<AlarmHistory>;
