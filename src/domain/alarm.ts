import type { ContainerId, EpochMs, NodeId, PersonId, SiteId } from './ids.js';
import type { Message } from './message.js';

/** Alarm states of ANSI/ISA-18.2 and IEC 62682. */
export type AlarmState =
  | 'normal'
  | 'unacknowledged'
  | 'acknowledged'
  | 'returned_unacknowledged'
  | 'latched_unacknowledged'
  | 'latched_acknowledged'
  | 'shelved'
  | 'suppressed_by_design'
  | 'out_of_service';

export type AlarmKind = 'dry' | 'leak' | 'overflow_blocked' | 'node_silent';

export type AlarmPriority = 'low' | 'medium' | 'high';

export interface Alarm {
  readonly id: string;
  readonly kind: AlarmKind;
  readonly siteId: SiteId;
  readonly containerId: ContainerId | null;
  readonly nodeId: NodeId | null;
  readonly priority: AlarmPriority;
  readonly state: AlarmState;
  /** The condition holds now, whatever the state shows; leaving a held state returns to what it implies. */
  readonly conditionActive: boolean;
  /** When the condition last changed, in reading time; delays count from here. */
  readonly conditionSinceMs: EpochMs;
  readonly raisedMs: EpochMs | null;
  readonly acknowledgedMs: EpochMs | null;
  readonly acknowledgedBy: PersonId | null;
  readonly shelvedUntilMs: EpochMs | null;
  readonly heldReason: string | null;
  readonly message: Message;
}

export interface AlarmTransition {
  readonly alarmId: string;
  readonly atMs: EpochMs;
  readonly from: AlarmState;
  readonly to: AlarmState;
  /** What caused it: condition_on, condition_off, acknowledge, shelve, unshelve, shelving_expired, ... */
  readonly cause: string;
  readonly actor: string;
  readonly note: string | null;
}
