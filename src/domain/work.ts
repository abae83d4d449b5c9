import type { ContainerId, EpochMs, LocalDay, PersonId, SiteId } from './ids.js';
import type { Message } from './message.js';

export type TaskKind =
  | 'refill'
  | 'rewet_from_above'
  | 'find_leak'
  | 'clear_overflow'
  | 'retest_wick'
  | 'repack_wick'
  | 'drain'
  | 'check_sensor'
  | 'replace_battery'
  | 'recover_node'
  | 'feed'
  | 'flush_salts'
  | 'replant'
  | 'commission'
  /** Somebody thinks the pot wants looking at, whatever the sensor says. */
  | 'inspect';

/** What asked for a task; a task that a person asked for is never withdrawn by a rule. */
export type TaskOrigin = 'forecast' | 'finding' | 'verification' | 'person';

export type TaskState = 'proposed' | 'planned' | 'on_the_way' | 'done' | 'verified' | 'reopened' | 'cancelled';

/** A task in one of these states still wants somebody to do it. */
export const OPEN_TASK_STATES = [
  'proposed',
  'planned',
  'on_the_way',
  'reopened',
] as const satisfies readonly TaskState[];

/** One thing to do at one container, with a reason and a due window. */
export interface Task {
  readonly id: string;
  readonly kind: TaskKind;
  readonly siteId: SiteId;
  readonly containerId: ContainerId;
  readonly state: TaskState;
  readonly origin: TaskOrigin;
  /** Why, with the numbers that made it so. */
  readonly reason: readonly Message[];
  readonly findingId: string | null;
  /** Planned litres; null where no water goes in. */
  readonly litres: number | null;
  readonly minutes: number;
  readonly dueFromMs: EpochMs;
  readonly dueByMs: EpochMs;
  /** Codes of the cautions to show beside the work. */
  readonly cautions: readonly string[];
  readonly createdMs: EpochMs;
  readonly changedMs: EpochMs;
  /** How the last verification went; null before the sensor has spoken. */
  readonly verification: Message | null;
}

export interface TaskTransition {
  readonly taskId: string;
  readonly atMs: EpochMs;
  readonly from: TaskState | null;
  readonly to: TaskState;
  readonly actor: string;
  readonly reason: Message;
}

/** A stop put on a technician's round: one coming to one site on one day. */
export interface RoundStop {
  readonly id: string;
  readonly technicianId: PersonId;
  /** The site's local day. */
  readonly day: LocalDay;
  readonly siteId: SiteId;
  readonly position: number;
  readonly state: 'planned' | 'on_the_way' | 'done' | 'cancelled';
}

export type WorkDone = 'refill' | 'drain' | 'wet_from_above' | 'repack_wick' | 'replant' | 'clear_overflow' | 'other';

/** What was done at one container during a visit. */
export interface VisitAction {
  readonly containerId: ContainerId;
  readonly taskId: string | null;
  readonly work: WorkDone;
  readonly litres: number | null;
  /** The work could not be done; the note says why. */
  readonly exception: 'no_access' | 'not_needed' | 'no_water' | 'damaged' | 'other' | null;
  readonly note: string | null;
}

/** A stop that took place. The client makes the id, so that sending twice records once. */
export interface Visit {
  readonly id: string;
  readonly siteId: SiteId;
  readonly technicianId: PersonId;
  readonly startedMs: EpochMs;
  readonly happenedMs: EpochMs;
  readonly recordedMs: EpochMs;
  readonly actions: readonly VisitAction[];
  readonly note: string | null;
}

/** What the level said about one action of a visit. */
export interface VisitVerification {
  readonly visitId: string;
  readonly containerId: ContainerId;
  readonly outcome: 'confirmed' | 'contradicted' | 'no_data';
  readonly measuredLitres: number | null;
  readonly atMs: EpochMs;
  readonly message: Message;
}

/** A message to one person about alarms or a stop; one a stop and person, updated in place. */
export interface Alert {
  readonly id: string;
  readonly personId: PersonId;
  /** What it is about; the same key replaces the alert. */
  readonly topic: string;
  readonly revision: number;
  readonly message: readonly Message[];
  readonly siteId: SiteId | null;
  readonly containerIds: readonly ContainerId[];
  readonly createdMs: EpochMs;
  readonly changedMs: EpochMs;
  readonly readMs: EpochMs | null;
  readonly withdrawnMs: EpochMs | null;
}
