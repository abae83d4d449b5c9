import type { ContainerId, EpochMs, NodeId } from './ids.js';
import type { StrappingPair, UnitPreferences } from './registry.js';

/** The contractor that uses the program: what stands on a client's page, and what water costs. */
export interface Firm {
  readonly name: string;
  /** ISO 4217, such as EUR. */
  readonly currency: string;
  /** What a cubic metre of water costs in that currency; null: no tariff was set, so no cost is shown. */
  readonly waterPricePerM3: number | null;
  /** What new people start with. */
  readonly language: 'en' | 'es';
  readonly units: UnitPreferences;
}

/** Litres poured into the empty or part-filled reservoir, one jug after the other, and the level that settled. */
export interface MeasuredPour {
  readonly litres: number;
  readonly levelMm: number;
}

export interface TableBandPoint {
  readonly levelMm: number;
  readonly litres: number;
  /** Nine times in ten the true volume lies between these. */
  readonly lowLitres: number;
  readonly highLitres: number;
}

/** A strapping table that was made by pouring, with what it was made from. */
export interface PourRecord {
  readonly id: string;
  readonly containerId: ContainerId;
  readonly atMs: EpochMs;
  /** Who poured. */
  readonly actorId: string;
  readonly pours: readonly MeasuredPour[];
  readonly strapping: readonly StrappingPair[];
  readonly band: readonly TableBandPoint[];
  /** Null where the pours did not reach the port. */
  readonly overflowMm: number | null;
}

/** A node is asked to report as fast as it can, until an instant. */
export interface FastReport {
  readonly nodeId: NodeId;
  readonly untilMs: EpochMs;
}

/** How long the water of a container stood at the wick foot or below. */
export interface DryHours {
  readonly containerId: ContainerId;
  readonly hours: number;
}
