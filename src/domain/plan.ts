import type { ContainerId, EpochMs, LocalDay, PersonId, SiteId } from './ids.js';
import type { Message } from './message.js';

/** What the dispatcher wants of every plan, until it is taken back. */
export type PlanWish =
  | {
      readonly kind: 'lock';
      readonly siteId: SiteId;
      readonly day: LocalDay;
      /** Null: whoever suits. */
      readonly personId: PersonId | null;
      readonly position: 'first' | 'last' | null;
    }
  /** This person does not come to this site. */
  | { readonly kind: 'forbid'; readonly siteId: SiteId; readonly personId: PersonId }
  /** Nobody comes before that day: a locked gate, a street that is dug up. */
  | { readonly kind: 'not_before'; readonly siteId: SiteId; readonly day: LocalDay }
  /** The round stays as it is: nothing leaves it, nothing is added. */
  | { readonly kind: 'pin'; readonly personId: PersonId; readonly day: LocalDay };

/** Where a tank is filled on the way. */
export interface RefillStop {
  readonly kind: 'depot' | 'site';
  readonly id: string;
}

export type StopReason =
  | 'locked'
  | 'alarm'
  | 'client_call'
  | 'must'
  | 'agreement'
  | 'carry_over'
  | 'care'
  | 'top_up'
  /** Under way or next when the plan was made. */
  | 'frozen';

/** What the plan says of one stop; minutes are of the local day. */
export interface PlannedVisit {
  readonly arrivalMinute: number;
  readonly startMinute: number;
  readonly endMinute: number;
  /** From the stop before, with the way by a refill stop where there is one. */
  readonly driveMinutes: number;
  readonly km: number;
  readonly litres: number;
  readonly fills: readonly { readonly containerId: ContainerId; readonly litres: number }[];
  /** Left in the tank after the stop; below zero where it runs dry. */
  readonly tankLitres: number;
  /** Where the tank is filled right before and right after the stop; null for nowhere. */
  readonly refillBefore: RefillStop | null;
  readonly refillAfter: RefillStop | null;
  readonly missesWindow: boolean;
  readonly reason: StopReason;
  /** The reason with its numbers. */
  readonly why: Message;
}

/** What the plan says of a stop that is on a round. */
export interface PublishedVisit extends PlannedVisit {
  readonly stopId: string;
  readonly publishedMs: EpochMs;
}

export interface DraftStop extends PlannedVisit {
  readonly siteId: SiteId;
  /** Held to its day by a wish. */
  readonly locked: boolean;
}

export interface DraftRound {
  readonly personId: PersonId;
  readonly day: LocalDay;
  readonly startMinute: number;
  readonly finishMinute: number;
  readonly driveMinutes: number;
  readonly km: number;
  readonly litres: number;
  readonly overtimeMinutes: number;
  /** Past the last minute of overtime. */
  readonly exceedsShift: boolean;
  readonly runsDry: boolean;
  readonly stops: readonly DraftStop[];
}

/** A pot whose risk the plan does not keep. */
export interface RiskNotKept {
  readonly siteId: SiteId;
  readonly containerId: ContainerId;
  /** Day of the visit that comes too late; null where none comes within the plan. */
  readonly visitDay: LocalDay | null;
  readonly lastSafeDay: LocalDay;
  readonly chanceDryFraction: number;
  readonly why: Message;
}

export interface PlanTotals {
  readonly truckDays: number;
  readonly stops: number;
  readonly km: number;
  readonly driveMinutes: number;
  readonly workMinutes: number;
  readonly overtimeMinutes: number;
  readonly litres: number;
  /** The objective in the contractor's currency, with the credit for cover past the horizon taken off. */
  readonly cost: number;
}

/** Rounds for the days to come, as they would be if they were published. */
export interface PlanContent {
  readonly asOfMs: EpochMs;
  readonly firstDay: LocalDay;
  readonly dayCount: number;
  readonly timeZone: string;
  readonly wishes: readonly PlanWish[];
  readonly rounds: readonly DraftRound[];
  readonly risks: readonly RiskNotKept[];
  readonly totals: PlanTotals;
  /** Wishes that the plan does not keep. */
  readonly brokenWishes: readonly PlanWish[];
  /** What was taken for granted where nothing is entered. */
  readonly assumptions: readonly Message[];
}

export type PlanCause = 'night' | 'asked' | 'event' | 'change' | 'undo';

/** One state of the draft. A new one is added with each run, change and undo; the last one counts. */
export interface PlanVersion {
  readonly seq: number;
  readonly madeMs: EpochMs;
  readonly madeBy: string;
  readonly cause: PlanCause;
  /** What undo goes back to; null where there is nothing before it. */
  readonly previousSeq: number | null;
  readonly content: PlanContent;
}

/** What visits have taught about the crew's pace; each null until enough of them are on record. */
export interface LearnedPace {
  readonly learnedMs: EpochMs;
  readonly visits: number;
  readonly legs: number;
  readonly minutesPerStop: number | null;
  readonly minutesPerPot: number | null;
  readonly pumpLitresPerMinute: number | null;
  /** Actual over estimated driving minutes. */
  readonly travelFactor: number | null;
}
