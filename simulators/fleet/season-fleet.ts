import { Calendar } from '../calendar.js';
import { type CrewHabits, USUAL_HABITS } from '../crew/site-crew.js';
import { Draw } from '../rng.js';
import { CLIMATES } from '../weather/climates.js';
import { type DrawnFaults, FAULT_KINDS, faultOf, leakOf } from './draw-faults.js';
import { planRandomFleet } from './random-fleet.js';
import type { FleetPlan, NodePlan, SitePlan, TrueFault } from './world.js';

export interface SeasonFleetOptions {
  readonly seed: string;
  readonly containers: number;
  readonly days: number;
  readonly firstDay: string;
  /** Every node reports so often; null: each as it was drawn, every 15 to 60 minutes. */
  readonly intervalS: number | null;
}

/** Faults of all kinds that befall a pot or its node in a year; a guess, no source. */
const FAULTS_PER_POT_YEAR = 0.35;
const LEAK_SHARE = 0.35;
/** The first weeks are for learning what each pot draws. */
const FIRST_FAULT_DAY = 15;
const FOR_EVER_DAYS = 4000;

/** Nobody of the firm comes by habit: who comes is sent. Strangers do as they do elsewhere. */
const SENT_ONLY: CrewHabits = { ...USUAL_HABITS, dueFrom: -90, dueTo: -90, suddenLossesPerYear: 0.15 };

/**
 * A fleet for living through seasons with a crew that is sent: everything goes wrong now and then, at any time of the
 * year, and stays so until somebody mends it.
 */
export function planSeasonFleet(options: SeasonFleetOptions): FleetPlan {
  const { seed, days, firstDay } = options;
  const plan = planRandomFleet({
    seed,
    profile: 'healthy',
    containers: options.containers,
    days,
    firstDay,
    climate: 'coast',
    moistureShare: 0.94,
  });
  const calendar = new Calendar(CLIMATES.coast.timeZone, firstDay, days);
  const faults: TrueFault[] = [];
  const sites = plan.sites.map((site): SitePlan => {
    const drawn = site.pots.map((pot, index) => {
      const node = site.nodes[index]!;
      const draw = new Draw(seed, 'season-fault', pot.id);
      return draw.chance(1 - Math.exp((-FAULTS_PER_POT_YEAR * days) / 365))
        ? faultAt({ containerId: pot.id, nodeId: node.id, calendar, historyDays: days, draw })
        : null;
    });
    for (const one of drawn) faults.push(...(one?.truth ?? []));
    const nodes = site.nodes.map((node, index): NodePlan => {
      const fault = drawn[index];
      const interval = options.intervalS ?? node.traits.intervalS;
      const traits = { ...node.traits, intervalS: interval, phaseS: node.traits.phaseS % interval };
      if (fault?.cellAgeShare == null) return { ...node, traits, faults: fault?.sensor ?? node.faults };
      const cellAgeDays = Math.round(traits.cellLifeDays * 0.93 - fault.cellAgeShare * days);
      return { ...node, traits: { ...traits, cellAgeDays } };
    });
    return {
      ...site,
      habits: SENT_ONLY,
      pots: site.pots.map((pot, index) => ({ ...pot, faults: drawn[index]?.pot ?? pot.faults })),
      nodes,
    };
  });
  return { ...plan, profile: 'season', sites, faults };
}

function faultAt(span: Parameters<typeof faultOf>[0] & { draw: Draw }): DrawnFaults {
  const { draw } = span;
  const fromDay = draw.uniform(FIRST_FAULT_DAY, Math.max(FIRST_FAULT_DAY + 1, span.historyDays - 5));
  if (draw.chance(LEAK_SHARE)) {
    return leakOf(span, {
      size: Math.exp(draw.uniform(Math.log(0.3), Math.log(8))),
      crackShare: draw.chance(0.4) ? draw.uniform(0, 0.12) : draw.uniform(0.1, 0.8),
      fromDay,
      toDay: null,
      exponent: draw.chance(0.35) ? draw.uniform(0.85, 1) : 0.5,
    });
  }
  return faultOf(span, draw.pick(FAULT_KINDS), fromDay, FOR_EVER_DAYS);
}
