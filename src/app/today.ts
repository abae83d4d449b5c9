import type { Principal } from '../domain/access.js';
import type { ContainerId, EpochMs, LocalDay, SiteId } from '../domain/ids.js';
import type { Message } from '../domain/message.js';
import type { App } from './context.js';
import type { AlarmView, PotGlance, StopView } from './work-views.js';

/** Something that happened since the crew went home. */
export interface OvernightChange {
  readonly atMs: EpochMs;
  readonly tone: 'bad' | 'good' | 'plain';
  readonly siteId: SiteId;
  readonly containerId: ContainerId | null;
  readonly message: Message;
}

/** A pot that needs nobody today. */
export interface WaitingPot {
  readonly pot: PotGlance;
  /** Until when it can wait; null where nothing is due within the horizon. */
  readonly untilMs: EpochMs | null;
}

/** A pot of which nobody can say how it stands. */
export interface UnknownPot {
  readonly pot: PotGlance;
  readonly why: Message;
  /** To be looked at by then: the last p10 that was known. */
  readonly visitByMs: EpochMs | null;
}

export interface TodayCounts {
  readonly containers: number;
  readonly needVisit: number;
  readonly canWait: number;
  readonly unknown: number;
  readonly stops: number;
  readonly stopsNotPlanned: number;
  readonly litres: number;
  readonly minutes: number;
  readonly alarms: number;
  readonly alarmsUnacknowledged: number;
}

/** The dispatcher's morning: what changed, what cannot wait, what can, and what nobody knows. */
export interface Today {
  readonly asOfMs: EpochMs;
  readonly day: LocalDay;
  readonly timeZone: string;
  readonly counts: TodayCounts;
  readonly overnightSinceMs: EpochMs;
  readonly overnight: readonly OvernightChange[];
  /** Stops with something that cannot wait, or that are on a round of today; by due time. */
  readonly stops: readonly StopView[];
  /** Soonest first. */
  readonly waiting: readonly WaitingPot[];
  readonly unknown: readonly UnknownPot[];
  readonly alarms: readonly AlarmView[];
}

/** @throws DomainError `not_allowed` for roles that may not read the tasks of the fleet */
export declare function today(app: App, who: Principal): Promise<Today>;
