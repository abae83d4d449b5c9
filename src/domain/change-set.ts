import type { Alarm, AlarmOverride, AlarmTransition } from './alarm.js';
import type { DerivedRecords, FleetCalibration } from './analysis.js';
import type { FastReport, Firm, PourRecord } from './commissioning.js';
import type { Credential, PersonSecret, Session } from './credential.js';
import type { Absence, CrewTerms, SiteTerms } from './crew.js';
import type { ApiToken, Invitation, SecondFactor } from './doors.js';
import type { ContainerId, EpochMs, LocalDay, PersonId, SiteId } from './ids.js';
import type { Address, CalendarFeed, ContactRules, OutboxEntry } from './notify.js';
import type { LearnedPace, PlanVersion, PublishedVisit } from './plan.js';
import type { CorrectedKind, EventStanding, Finding, Forecast, PotStatus } from './pot.js';
import type { QuarantinedRecord, Reading } from './reading.js';
import type { Account, Assignment, Container, Depot, Gateway, Person, SensorNode, Site, Truck } from './registry.js';
import type { AccessLook, SiteAccess } from './site-access.js';
import type { WeatherDay, WeatherSample } from './weather.js';
import type { Alert, RoundStop, Task, TaskTransition, Visit, VisitVerification } from './work.js';

/** One thing to write. The store has one function for each kind, and applies them in order. */
export type Write =
  | { readonly kind: 'account'; readonly row: Account }
  | { readonly kind: 'account_erased'; readonly accountId: string; readonly atMs: EpochMs }
  | { readonly kind: 'site'; readonly row: Site }
  | { readonly kind: 'site_access'; readonly row: SiteAccess }
  | { readonly kind: 'access_look'; readonly row: AccessLook }
  | { readonly kind: 'container'; readonly row: Container }
  | { readonly kind: 'gateway'; readonly row: Gateway }
  | { readonly kind: 'node'; readonly row: SensorNode }
  | { readonly kind: 'assignment'; readonly row: Assignment }
  | { readonly kind: 'assignment_removed'; readonly id: string }
  | { readonly kind: 'depot'; readonly row: Depot }
  | { readonly kind: 'truck'; readonly row: Truck }
  | { readonly kind: 'crew_terms'; readonly row: CrewTerms }
  | { readonly kind: 'site_terms'; readonly row: SiteTerms }
  | { readonly kind: 'absence'; readonly row: Absence }
  | { readonly kind: 'person'; readonly row: Person }
  | { readonly kind: 'person_secret'; readonly row: PersonSecret }
  | { readonly kind: 'session'; readonly row: Session }
  | { readonly kind: 'session_ended'; readonly tokenHash: string }
  /** Every session of a person: signed out everywhere. */
  | { readonly kind: 'sessions_ended'; readonly personId: PersonId }
  | { readonly kind: 'invitation'; readonly row: Invitation }
  | { readonly kind: 'invitation_used'; readonly tokenHash: string; readonly atMs: EpochMs }
  | { readonly kind: 'second_factor'; readonly row: SecondFactor }
  | { readonly kind: 'second_factor_removed'; readonly personId: PersonId }
  | { readonly kind: 'second_factor_used'; readonly personId: PersonId; readonly step: number }
  | { readonly kind: 'recovery_codes'; readonly personId: PersonId; readonly codeHashes: readonly string[] }
  | {
      readonly kind: 'recovery_code_used';
      readonly personId: PersonId;
      readonly codeHash: string;
      readonly atMs: EpochMs;
    }
  | { readonly kind: 'api_token'; readonly row: ApiToken }
  | { readonly kind: 'credential'; readonly row: Credential }
  | { readonly kind: 'readings'; readonly rows: readonly Reading[] }
  | { readonly kind: 'quarantined'; readonly rows: readonly QuarantinedRecord[] }
  | { readonly kind: 'quarantine_resolved'; readonly id: string; readonly atMs: EpochMs }
  | { readonly kind: 'weather_days'; readonly rows: readonly WeatherDay[] }
  | { readonly kind: 'weather_samples'; readonly rows: readonly WeatherSample[] }
  | {
      readonly kind: 'event_correction';
      readonly eventId: string;
      readonly containerId: ContainerId;
      readonly correctedKind: CorrectedKind;
      readonly litres: number | null;
      readonly startMs: EpochMs | null;
      readonly before: EventStanding | null;
    }
  | { readonly kind: 'derived'; readonly containerId: ContainerId; readonly derived: DerivedRecords }
  | {
      readonly kind: 'checkpoints';
      readonly containerId: ContainerId;
      /** Checkpoints after this instant are void and go. */
      readonly validUntilMs: EpochMs;
      readonly rows: readonly { readonly atMs: EpochMs; readonly stateJson: string }[];
    }
  /** Before this instant nothing of the container is derived anew: the readings are let go. */
  | { readonly kind: 'reading_horizon'; readonly containerId: ContainerId; readonly fromMs: EpochMs }
  | { readonly kind: 'readings_expired'; readonly nodeId: string; readonly beforeMs: EpochMs }
  | { readonly kind: 'changes_expired'; readonly fromSeq: number; readonly throughSeq: number }
  | { readonly kind: 'status'; readonly row: PotStatus }
  | { readonly kind: 'forecast'; readonly row: Forecast }
  | { readonly kind: 'finding'; readonly row: Finding }
  | { readonly kind: 'calibration'; readonly row: FleetCalibration }
  | { readonly kind: 'alarm'; readonly row: Alarm }
  | { readonly kind: 'alarm_transition'; readonly row: AlarmTransition }
  | { readonly kind: 'alarm_override'; readonly row: AlarmOverride }
  | { readonly kind: 'task'; readonly row: Task }
  | { readonly kind: 'task_transition'; readonly row: TaskTransition }
  | { readonly kind: 'round_stop'; readonly row: RoundStop }
  | { readonly kind: 'published_visit'; readonly day: LocalDay; readonly row: PublishedVisit }
  /** The store numbers it, and lets go of those that are too old to be gone back to. */
  | { readonly kind: 'plan_version'; readonly row: Omit<PlanVersion, 'seq'> }
  | { readonly kind: 'learned_pace'; readonly row: LearnedPace }
  | { readonly kind: 'visit'; readonly row: Visit }
  | { readonly kind: 'visit_verification'; readonly row: VisitVerification }
  | { readonly kind: 'alert'; readonly row: Alert }
  | { readonly kind: 'address'; readonly row: Address }
  | { readonly kind: 'contact_rules'; readonly row: ContactRules }
  | { readonly kind: 'outbox'; readonly row: OutboxEntry }
  | { readonly kind: 'calendar_feed'; readonly row: CalendarFeed }
  | { readonly kind: 'firm'; readonly row: Firm }
  | { readonly kind: 'pour_record'; readonly row: PourRecord }
  | { readonly kind: 'fast_report'; readonly row: FastReport }
  | { readonly kind: 'job_ran'; readonly job: string; readonly atMs: EpochMs };

export type WriteKind = Write['kind'];

/** Who made a change: a person, a node or gateway, a stage of the program, or a command. */
export interface Actor {
  readonly kind: 'person' | 'principal' | 'stage' | 'command';
  readonly id: string;
}

/** What a person or a command changed in one row: the columns that differ, as they are called in the store. */
export interface Edit {
  readonly seq: number;
  readonly atMs: EpochMs;
  readonly actor: Actor;
  readonly kind: WriteKind;
  readonly key: string;
  /** Null where the row was new, or where the entry was erased. */
  readonly before: Readonly<Record<string, unknown>> | null;
  /** Null where the row was removed, or where the entry was erased. */
  readonly after: Readonly<Record<string, unknown>> | null;
  /** When a person's data was taken out of the entry. */
  readonly erasedMs: EpochMs | null;
}

export interface CursorMove {
  readonly stage: string;
  /** Where the stage stood when it read; the commit is refused with `cursor_moved` if it stands elsewhere. */
  readonly expectedSeq: number;
  readonly nextSeq: number;
}

/** What one commit writes: all of it or nothing, in one transaction, with one line in the change log per key. */
export interface ChangeSet {
  readonly atMs: EpochMs;
  readonly actor: Actor;
  readonly writes: readonly Write[];
  readonly cursor: CursorMove | null;
}

/** A line of the change log. */
export interface Change {
  readonly seq: number;
  readonly atMs: EpochMs;
  readonly kind: WriteKind;
  /** Id of what changed: the container for all that is derived, the node for readings. */
  readonly key: string;
  readonly actor: Actor;
  /** Where it can be said: what the change belongs to, for scoping and for finding what to recompute. */
  readonly siteId: SiteId | null;
  readonly containerId: ContainerId | null;
  /** Earliest and latest instant of the data written, for readings and weather. */
  readonly fromMs: EpochMs | null;
  readonly toMs: EpochMs | null;
}

export interface CommitResult {
  /** The last line of the change log after the commit. */
  readonly seq: number;
  /** How the readings of the change set fared. */
  readonly readings: {
    readonly added: number;
    readonly completed: number;
    readonly corrected: number;
    readonly repeated: number;
  };
}
