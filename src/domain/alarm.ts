import type { ContainerId, EpochMs, GatewayId, NodeId, PersonId, SiteId } from './ids.js';
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

export type AlarmKind =
  | 'dry'
  | 'leak'
  | 'overflow_blocked'
  | 'wick_failed'
  | 'waterlogged'
  | 'node_silent'
  /** Every node behind one gateway, or of one site, fell silent together: one alarm in place of many. */
  | 'outage'
  /** More pots may be dry before the crew can come than are called one by one: one alarm in place of many. */
  | 'crew_full';

/** The states that say something of the condition; the other three hide one of these. */
export type UnheldAlarmState = Exclude<AlarmState, 'shelved' | 'suppressed_by_design' | 'out_of_service'>;

export type AlarmPriority = 'low' | 'medium' | 'high';

/** One alarm point: a kind at a pot, a node, a gateway or a site. It is kept for ever, and goes up and down. */
export interface Alarm {
  /** Deterministic: made from the kind and what it is about. */
  readonly id: string;
  readonly kind: AlarmKind;
  /** Null: it is about the crew as a whole. */
  readonly siteId: SiteId | null;
  readonly containerId: ContainerId | null;
  readonly nodeId: NodeId | null;
  readonly gatewayId: GatewayId | null;
  readonly priority: AlarmPriority;
  readonly state: AlarmState;
  /** The state that goes on beneath a shelved, suppressed or out-of-service alarm; equal to `state` where none hides it. */
  readonly beneath: UnheldAlarmState;
  /** The condition holds now, whatever the state shows; leaving a held state returns to what it implies. */
  readonly conditionActive: boolean;
  /** When the condition last changed, in reading time; delays count from here. */
  readonly conditionSinceMs: EpochMs;
  readonly raisedMs: EpochMs | null;
  readonly acknowledgedMs: EpochMs | null;
  readonly acknowledgedBy: PersonId | null;
  readonly shelvedUntilMs: EpochMs | null;
  readonly heldReason: string | null;
  /** Person or rule that shelved it, suppressed it or took it out of service. */
  readonly heldBy: string | null;
  readonly message: Message;
}

/**
 * What a site or one of its containers wants otherwise than the catalogue; null: as the wider place has it. A row in
 * which all is null takes the override back. Rows are added and never changed: the last one of an id counts.
 */
export interface AlarmOverride {
  /** Made from the kind and the site or container. */
  readonly id: string;
  readonly kind: AlarmKind;
  readonly siteId: SiteId;
  /** Null: for the whole site. */
  readonly containerId: ContainerId | null;
  readonly onDelayMs: number | null;
  readonly offDelayMs: number | null;
  readonly reAlarmAfterMs: number | null;
  readonly deadbandHours: number | null;
  readonly priority: AlarmPriority | null;
  readonly reason: string;
  readonly changedMs: EpochMs;
  readonly changedBy: PersonId;
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
  /** What the alarm was worth then; null in records of older programs. */
  readonly priority: AlarmPriority | null;
}
