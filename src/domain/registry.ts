import type { AccountId, ContainerId, EpochMs, GatewayId, LocalDay, NodeId, PersonId, SiteId } from './ids.js';

export interface Account {
  readonly id: AccountId;
  readonly name: string;
  /** Accepted chance (0-1) that a container of this account is dry before its visit. */
  readonly dryRisk: number;
}

export interface Site {
  readonly id: SiteId;
  readonly accountId: AccountId;
  readonly name: string;
  readonly latitude: number;
  readonly longitude: number;
  readonly elevationM: number;
  /** IANA zone; the site's days are counted in it. */
  readonly timeZone: string;
  /** A tap on the site that the crew may draw from. */
  readonly tap: boolean;
}

/** [level mm above the reservoir floor, litres], both strictly increasing. */
export type StrappingPair = readonly [levelMm: number, litres: number];

export interface Reservoir {
  readonly strapping: readonly StrappingPair[];
  /** Invert of the overflow port above the floor. */
  readonly overflowMm: number;
  /** Foot of the wick above the floor; the water below it is dead storage. */
  readonly wickFootMm: number;
}

export interface Soil {
  readonly litres: number;
  readonly surfaceM2: number;
}

export interface Planting {
  readonly name: string;
  /** Expected thirst, used only until the pot's own drawdown is known. */
  readonly demandClass: 'low' | 'moderate' | 'high';
  readonly plantedOn: LocalDay | null;
}

export interface Container {
  readonly id: ContainerId;
  readonly siteId: SiteId;
  readonly name: string;
  /** Where on the site the pot stands, in the crew's words. */
  readonly place: string | null;
  /** True where rain cannot reach the soil. */
  readonly covered: boolean;
  readonly installedOn: LocalDay;
  readonly removedOn: LocalDay | null;
  readonly reservoir: Reservoir;
  readonly soil: Soil | null;
  readonly potKg: number | null;
  readonly plants: readonly Planting[];
}

export interface Gateway {
  readonly id: GatewayId;
  readonly siteId: SiteId;
  readonly name: string;
}

export interface SensorNode {
  readonly id: NodeId;
  readonly gatewayId: GatewayId | null;
  /** Reporting interval that the node promised (SenML `ut`) or that was set; null while unknown. */
  readonly promisedIntervalS: number | null;
}

/** A node measures a container from one instant to another; half-open, [fromMs, toMs). */
export interface Assignment {
  readonly id: string;
  readonly nodeId: NodeId;
  readonly containerId: ContainerId;
  readonly fromMs: EpochMs;
  readonly toMs: EpochMs | null;
  /** Height of the sensor's zero above the reservoir floor; water level = reading + zeroMm. */
  readonly zeroMm: number;
}

export interface Depot {
  readonly id: string;
  readonly name: string;
  readonly latitude: number;
  readonly longitude: number;
}

export interface Truck {
  readonly id: string;
  readonly name: string;
  readonly tankLitres: number;
  readonly depotId: string | null;
}

export type Role = 'owner' | 'dispatcher' | 'technician' | 'installer' | 'client';

export interface UnitPreferences {
  readonly volume: 'L' | 'US_gal';
  readonly length: 'mm' | 'in';
  readonly temperature: 'Cel' | 'degF';
}

export interface Person {
  readonly id: PersonId;
  readonly name: string;
  /** What the person logs in with. */
  readonly login: string;
  readonly role: Role;
  /** The one account that a client may see; null for the crew. */
  readonly accountId: AccountId | null;
  readonly language: 'en' | 'es';
  readonly units: UnitPreferences;
  readonly disabledAtMs: EpochMs | null;
}

/** Everything that a fleet file holds. */
export interface Fleet {
  readonly accounts: readonly Account[];
  readonly sites: readonly Site[];
  readonly containers: readonly Container[];
  readonly gateways: readonly Gateway[];
  readonly nodes: readonly SensorNode[];
  readonly assignments: readonly Assignment[];
  readonly depots: readonly Depot[];
  readonly trucks: readonly Truck[];
  readonly people: readonly Person[];
}
