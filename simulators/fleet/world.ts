import { Calendar } from '../calendar.js';
import { type CrewHabits, SiteCrew } from '../crew/site-crew.js';
import { Delivery, drawOutages, type Outage } from '../sensor/delivery.js';
import { NodeSimulator, type SensorFault, type SensorTraits } from '../sensor/node.js';
import { CLIMATES, type ClimateId } from '../weather/climates.js';
import { type DayOfWeather, observeDays } from '../weather/daily.js';
import { drawRegion, type RegionWeather, type ScriptedRain } from '../weather/region.js';
import { drawSiteWeather, type SiteWeather } from '../weather/site.js';
import { drawPot, type PotFaults, type PotSpec, type PotWishes } from './pot-spec.js';
import { SiteSimulation } from './site-simulation.js';

/** Days of weather beyond the history's end: what forecasts and counterfactuals need, and what live running uses up. */
export const DAYS_AFTER_END = 75;

/** What a fault really is, for the truth files. */
export interface TrueFault {
  readonly containerId: string;
  readonly nodeId: string | null;
  readonly kind: string;
  readonly fromMs: number;
  /** Null where it lasts past the end. */
  readonly toMs: number | null;
  readonly size: number | null;
  readonly unit: string;
  readonly heightMm: number | null;
}

export interface PotPlan {
  readonly id: string;
  readonly wishes: PotWishes;
  readonly faults: PotFaults;
}

export interface NodePlan {
  readonly id: string;
  readonly traits: SensorTraits;
  readonly faults: readonly SensorFault[];
  /** Which pot of the site the node truly stands in, from when. The first entry is the installation. */
  readonly places: readonly { readonly potIndex: number; readonly fromMs: number; readonly zeroMm: number }[];
  /** From when on the node reports. */
  readonly startMs: number;
  readonly keepHours: number;
}

export interface SitePlan {
  readonly id: string;
  readonly accountId: string;
  readonly name: string;
  readonly latitude: number;
  readonly longitude: number;
  readonly elevationM: number;
  readonly tap: boolean;
  readonly climateId: ClimateId;
  readonly ownStation: boolean;
  /** Which columns the weather service gives; the others stay empty. */
  readonly weatherColumns: ReadonlySet<'humidity' | 'wind' | 'solar' | 'et0'>;
  /** Null where the nodes speak for themselves. */
  readonly gatewayId: string | null;
  readonly outages: readonly Outage[] | null;
  readonly habits: CrewHabits;
  readonly pots: readonly PotPlan[];
  readonly nodes: readonly NodePlan[];
}

export interface ScriptedWatering {
  readonly containerId: string;
  readonly atMs: number;
  readonly by: 'crew' | 'unknown';
  /** Share of what is missing to the overflow; 1 and more fills it. */
  readonly shareOfMissing: number;
}

export interface FleetPlan {
  readonly seed: string;
  readonly profile: string;
  readonly firstDay: string;
  readonly historyDays: number;
  /** The instant at which the history ends; null for the end of its last day. */
  readonly endMs: number | null;
  readonly accounts: readonly { readonly id: string; readonly name: string; readonly dryRisk?: number }[];
  readonly sites: readonly SitePlan[];
  /** As fleet.json says, which may differ from where a node truly stands. */
  readonly statedAssignments: readonly {
    readonly nodeId: string;
    readonly containerId: string;
    readonly fromMs: number;
    readonly toMs: number | null;
    readonly zeroMm: number;
  }[];
  readonly faults: readonly TrueFault[];
  readonly rainScript: readonly ScriptedRain[];
  /** Water that certain people bring at certain times, by container. */
  readonly waterScript: readonly ScriptedWatering[];
  /** Optional lists of fleet.json: people, gateways, depots, trucks. */
  readonly extras: Readonly<Record<string, readonly unknown[]>>;
  /** Who the crew's visits are reported by, in turns over the sites; none: the product hears of no visit. */
  readonly technicianIds: readonly string[];
}

export interface NodeWorld {
  readonly plan: NodePlan;
  readonly node: NodeSimulator;
  readonly delivery: Delivery;
}

export interface SiteWorld {
  readonly plan: SitePlan;
  readonly calendar: Calendar;
  readonly weather: SiteWeather;
  readonly observed: readonly DayOfWeather[];
  readonly pots: readonly PotSpec[];
  readonly simulation: SiteSimulation;
  readonly outages: readonly Outage[];
  readonly nodes: readonly NodeWorld[];
}

/** Regions shared by the sites of one climate. */
export class Regions {
  readonly #plan: Pick<FleetPlan, 'seed' | 'firstDay' | 'historyDays' | 'rainScript'>;
  readonly #made = new Map<ClimateId, RegionWeather>();

  constructor(plan: Pick<FleetPlan, 'seed' | 'firstDay' | 'historyDays' | 'rainScript'>) {
    this.#plan = plan;
  }

  of(climateId: ClimateId): RegionWeather {
    let region = this.#made.get(climateId);
    if (region === undefined) {
      const climate = CLIMATES[climateId];
      const calendar = new Calendar(climate.timeZone, this.#plan.firstDay, this.#plan.historyDays + DAYS_AFTER_END);
      region = drawRegion(climate, calendar, this.#plan.seed, this.#plan.rainScript);
      this.#made.set(climateId, region);
    }
    return region;
  }
}

/** Makes one site ready to run from the first day on. */
export function buildSite(plan: SitePlan, fleet: Pick<FleetPlan, 'seed' | 'waterScript'>, regions: Regions): SiteWorld {
  const { seed } = fleet;
  const region = regions.of(plan.climateId);
  const { calendar } = region;
  const weather = drawSiteWeather(region, seed, plan.id);
  const observed = observeDays(weather, calendar, seed, plan.id, plan.ownStation);
  const pots = plan.pots.map((pot) => drawPot(pot.id, weather, calendar, seed, pot.wishes, pot.faults));
  const crew = new SiteCrew(pots, calendar, plan.habits, seed, plan.id, fleet.waterScript);
  const outages = plan.outages ?? drawOutages(region, calendar, seed, plan.gatewayId ?? plan.id);
  const nodes = plan.nodes.map((node) => ({
    plan: node,
    node: new NodeSimulator(node.id, node.traits, node.faults, seed, calendar.startMs),
    delivery: new Delivery(outages, node.keepHours, node.traits.repeatShare, seed, node.id),
  }));
  return {
    plan,
    calendar,
    weather,
    observed,
    pots,
    simulation: new SiteSimulation(pots, calendar, crew),
    outages,
    nodes,
  };
}

/** The pot in which the node stands at an instant, and how high its zero is. */
export function placeOf(plan: NodePlan, ms: number): { readonly potIndex: number; readonly zeroMm: number } {
  let place = plan.places[0]!;
  for (const candidate of plan.places) if (candidate.fromMs <= ms) place = candidate;
  return place;
}
