import type { ContainerId, LocalDay, PersonId, SiteId } from '../domain/ids.js';
import type { RefillStop } from '../domain/plan.js';
import type { PotStatus } from '../domain/pot.js';
import type { Container, Site } from '../domain/registry.js';
import type { Task } from '../domain/work.js';
import type { Lock, TimeWindow } from './problem.js';
import type { GeoPoint } from './travel.js';

/** One person's working day with what is driven. */
export interface CrewDay {
  readonly personId: PersonId;
  readonly day: LocalDay;
  readonly start: GeoPoint;
  readonly end: GeoPoint;
  readonly openMinute: number;
  readonly closeMinute: number;
  readonly overtimeMinutes: number;
  readonly pause: { readonly fromMinute: number; readonly minutes: number } | null;
  readonly tankLitres: number;
  /** What is in the tank as the tour begins. */
  readonly tankLitresAtStart: number;
  /** Skills, tickets and keys, in the contractor's own words. */
  readonly skills: readonly string[];
  /** The only sites that this day may go to, for a round that was pinned; null: any. */
  readonly onlySites?: readonly SiteId[] | null;
}

/** One pot as it stands at a site. */
export interface PlannedPot {
  readonly container: Container;
  /** Null before there is any. */
  readonly status: PotStatus | null;
  /** Share of the reservoir (0-1) that a visit fills to. */
  readonly targetFraction: number;
}

/** A lock in the people's terms. */
export interface SiteLock {
  readonly day: LocalDay;
  readonly personId: PersonId | null;
  readonly position: Lock['position'];
}

export interface PlannedSite {
  readonly site: Site;
  /** Accepted chance (0-1) that a pot is dry before its visit. */
  readonly dryRisk: number;
  readonly pots: readonly PlannedPot[];
  /** Open tasks. */
  readonly tasks: readonly Task[];
  /** By day of the horizon; an empty list is a closed day (also by a restriction on watering days). */
  readonly windows: readonly (readonly TimeWindow[])[];
  readonly skills: readonly string[];
  readonly forbiddenPeople: readonly PersonId[];
  readonly locks: readonly SiteLock[];
  /** Last day by which an agreement asks for a visit; null for none. */
  readonly agreedBy: LocalDay | null;
  /** Expected use by day of the horizon, as a multiple of the use now. */
  readonly useFactors: readonly number[];
  /** Filled on the first day already, by a visit that the forecasts do not know of yet; nobody comes again that day. */
  readonly servedToday?: boolean;
}

/** A visit that people have been told of. */
export interface PublishedStop {
  readonly siteId: SiteId;
  readonly personId: PersonId;
  readonly day: LocalDay;
  readonly startMinute: number;
}

/** A stop of a plan that is laid out again: its place in the round, and where the tank is filled around it. */
export interface LaidStop {
  readonly siteId: SiteId;
  readonly personId: PersonId;
  readonly day: LocalDay;
  readonly refillBefore: RefillStop | null;
  readonly refillAfter: RefillStop | null;
}

/** A container's litres within a planned stop. */
export interface PlannedFill {
  readonly containerId: ContainerId;
  readonly litres: number;
}

/** What the plan weighs, in one currency (say euros); ours, no source, for the contractor to set. */
export interface PlanSettings {
  readonly costPerKm: number;
  readonly costPerDriveMinute: number;
  readonly costPerTruckDay: number;
  /** Of a stop's usual minutes at the site, so that coming early has its price where the truck is out anyway. */
  readonly costPerSiteMinute: number;
  /** On top of what the minute costs anyway. */
  readonly costPerOvertimeMinute: number;
  /** For each day past the latest one that keeps the risk. */
  readonly lateCostPerDay: number;
  /**
   * What the way to a visit usually costs. With its minutes, over the days that a site's full pots last it is the worth of a day of cover past the
   * horizon: so a visit before its time pays exactly where it costs less than the share of a fill that it brings.
   */
  readonly visitWorth: number;
  readonly creditedDays: number;
  readonly minutesPerStop: number;
  readonly minutesPerPot: number;
  readonly pumpLitresPerMinute: number;
  readonly refillMinutes: number;
  /** Cost of telling somebody of another day or another technician, today; it fades with `firmnessPerDay`. */
  readonly otherDayCost: number;
  readonly otherTechnicianCost: number;
  readonly firmnessPerDay: number;
  /**
   * Hour of the local day until which a pot that draws evenly has drawn what it really draws before its visit. A round's middle
   * is late in the morning, and more than half of a day's use comes after it; ours, no source.
   */
  readonly visitedByHour: number;
  /** Relative standard deviation of the weather's part in the use after a fill; ours, no source. */
  readonly weatherSpread: number;
  /** A pot of which nothing is known is due within this many days. */
  readonly unknownWithinDays: number;
}

export const PLAN_SETTINGS: PlanSettings = {
  costPerKm: 0.4,
  costPerDriveMinute: 0.5,
  costPerTruckDay: 120,
  costPerSiteMinute: 0.5,
  costPerOvertimeMinute: 0.5,
  lateCostPerDay: 400,
  visitWorth: 12,
  creditedDays: 60,
  minutesPerStop: 10,
  minutesPerPot: 4,
  pumpLitresPerMinute: 12,
  refillMinutes: 12,
  otherDayCost: 12,
  otherTechnicianCost: 6,
  firmnessPerDay: 0.8,
  visitedByHour: 14,
  weatherSpread: 0.15,
  unknownWithinDays: 2,
};
