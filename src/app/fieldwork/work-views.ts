import type { Alarm, AlarmKind, AlarmTransition } from '../../domain/alarm.js';
import type { AccountId, ContainerId, EpochMs, LocalDay, PersonId, SiteId } from '../../domain/ids.js';
import type { Message } from '../../domain/message.js';
import type { PublishedVisit } from '../../domain/plan.js';
import type { Knowledge, Quantiles } from '../../domain/pot.js';
import type { SiteAccess } from '../../domain/site-access.js';
import type { RoundStop, Task, TaskTransition, Visit, VisitVerification } from '../../domain/work.js';

/** One pot at a glance: enough for a line on a list. */
export interface PotGlance {
  readonly containerId: ContainerId;
  readonly name: string;
  /** Where on the site it stands. */
  readonly place: string | null;
  readonly siteId: SiteId;
  readonly siteName: string;
  readonly accountId: AccountId;
  readonly accountName: string;
  readonly knowledge: Knowledge;
  readonly levelMm: number | null;
  readonly litres: number | null;
  readonly capacityLitres: number;
  /** Share of the litres up to the overflow, 0-1; null while unknown. */
  readonly fillFraction: number | null;
  readonly rateLitresPerDay: number | null;
  readonly dry: Quantiles | null;
  readonly lastReadingMs: EpochMs | null;
  /** Kinds of the alarms that stand at this pot. */
  readonly alarms: readonly AlarmKind[];
}

export interface TaskView extends Task {
  readonly pot: PotGlance;
  /** Things to have on the truck besides water. */
  readonly bring: readonly Message[];
  /** What the sensor should show after the work. */
  readonly expect: Message | null;
}

/** Where a stop stands on a round. */
export interface StopPlan {
  readonly stopId: string;
  readonly technicianId: PersonId;
  readonly technicianName: string;
  readonly day: LocalDay;
  readonly position: number;
  readonly state: RoundStop['state'];
}

/** The open tasks of one site, done in one coming. */
export interface StopView {
  readonly siteId: SiteId;
  readonly siteName: string;
  readonly accountId: AccountId;
  readonly accountName: string;
  readonly latitude: number;
  readonly longitude: number;
  readonly timeZone: string;
  readonly tap: boolean;
  readonly litres: number;
  readonly minutes: number;
  readonly dueFromMs: EpochMs;
  readonly dueByMs: EpochMs;
  /** Why it cannot wait; empty where it can. */
  readonly why: readonly Message[];
  readonly tasks: readonly TaskView[];
  readonly cautions: readonly string[];
  /** Null: on nobody's round yet. */
  readonly plan: StopPlan | null;
}

/** A stop on a round, with what there is to know on the way to it. */
export interface RoundStopView {
  readonly stop: RoundStop;
  readonly site: Omit<StopView, 'tasks' | 'plan' | 'why'>;
  /** How to get in: on the day, to the technician whose stop it is; null for all others, who ask for it by itself. */
  readonly access: Pick<SiteAccess, 'notes' | 'contacts'> | null;
  /** Open tasks of the site, and those done by a visit on that day. */
  readonly tasks: readonly TaskView[];
  readonly visit: Visit | null;
  /** What the plan says of it: times, litres by pot, the tank; null for a stop that a person put there. */
  readonly planned: PublishedVisit | null;
}

/** One technician's stops of one day, in order. */
export interface RoundView {
  readonly technicianId: PersonId;
  readonly technicianName: string;
  readonly day: LocalDay;
  readonly stops: readonly RoundStopView[];
  readonly litres: number;
  readonly minutes: number;
  /** Codes of the cautions for the whole round: water on the road, heat, lightning. */
  readonly cautions: readonly string[];
  /** What comes after this day; null where nothing is planned yet. */
  readonly nextRound: NextRound | null;
}

export interface NextRound {
  readonly day: LocalDay;
  readonly stops: number;
  /** Where it begins. */
  readonly firstSiteName: string;
}

export interface AlarmView {
  readonly alarm: Alarm;
  /** Null, as the account: about the crew as a whole. */
  readonly siteName: string | null;
  readonly accountId: AccountId | null;
  readonly accountName: string | null;
  readonly containerName: string | null;
  /** What to make of it, out of the catalogue. */
  readonly cause: Message;
  readonly consequence: Message;
  readonly action: Message;
  /** The rule that hides it; null where none does. */
  readonly suppressedBecause: Message | null;
  readonly respondByMs: EpochMs | null;
  readonly cautions: readonly string[];
}

export interface AlarmHistory extends AlarmView {
  readonly transitions: readonly AlarmTransition[];
}

export interface TaskHistory extends TaskView {
  readonly transitions: readonly TaskTransition[];
}

export interface VisitView {
  readonly visit: Visit;
  readonly technicianName: string;
  readonly siteName: string;
  readonly verifications: readonly VisitVerification[];
}
