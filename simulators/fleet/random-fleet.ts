import { addDays, Calendar, DAY_MS, HOUR_MS } from '../calendar.js';
import { USUAL_HABITS } from '../crew/site-crew.js';
import { Draw } from '../rng.js';
import { drawSensor } from '../sensor/node.js';
import { CLIMATE_IDS, CLIMATES, type ClimateId } from '../weather/climates.js';
import { type DrawnFaults, drawFault, drawLeak, NO_FAULTS } from './draw-faults.js';
import { NO_POT_FAULTS } from './pot-spec.js';
import type { FleetPlan, NodePlan, PotPlan, SitePlan, TrueFault } from './world.js';

export type Profile = 'healthy' | 'leaks' | 'faults' | 'mixed';
export const PROFILES: readonly Profile[] = ['healthy', 'leaks', 'faults', 'mixed'];

export interface RandomFleetOptions {
  readonly seed: string;
  readonly profile: Profile;
  readonly containers: number;
  readonly days: number;
  readonly firstDay: string;
  /** `mixed` gives each site one of all climates. */
  readonly climate: ClimateId | 'mixed';
  /** Share of nodes with a moisture probe. */
  readonly moistureShare: number;
  /** Share of the pots that leak (`leaks`) or have a fault (`faults`), where it is not the profile's own. */
  readonly faultyShare?: number | undefined;
}

const LEAKY_SHARE = 0.25;
const FAULTY_SHARE = 0.6;
const NODE_REPLACED_SHARE = 0.05;

/** Draws a fleet of unrelated sites for scoring; nothing in it is made to look pretty. */
export function planRandomFleet(options: RandomFleetOptions): FleetPlan {
  const draw = new Draw(options.seed, 'fleet', options.profile);
  const sites: SitePlan[] = [];
  const accounts: { id: string; name: string }[] = [];
  const faults: TrueFault[] = [];
  const assignments: FleetPlan['statedAssignments'][number][] = [];
  let made = 0;
  for (let s = 0; made < options.containers; s++) {
    const siteId = `S${s + 1}`;
    const siteDraw = new Draw(options.seed, 'site', siteId);
    if (s % 2 === 0) accounts.push({ id: `A${accounts.length + 1}`, name: `Account ${accounts.length + 1}` });
    const climateId = options.climate === 'mixed' ? CLIMATE_IDS[s % CLIMATE_IDS.length]! : options.climate;
    const climate = CLIMATES[climateId];
    const calendar = new Calendar(climate.timeZone, options.firstDay, options.days);
    const count = Math.min(options.containers - made, siteDraw.integer(1, 7));
    const pots: PotPlan[] = [];
    const nodes: NodePlan[] = [];
    for (let p = 0; p < count; p++) {
      made++;
      const containerId = `C${made}`;
      const nodeId = `N${made}`;
      const potDraw = new Draw(options.seed, 'plan', containerId);
      const span = { containerId, nodeId, calendar, historyDays: options.days, draw: potDraw };
      const drawn = drawFaultsOf(options, span);
      faults.push(...drawn.truth);
      pots.push({ id: containerId, wishes: {}, faults: drawn.pot });

      const sensor = drawSensor(new Draw(options.seed, 'sensor', nodeId), {
        moistureShare: options.moistureShare,
        rangeMm: 500,
      });
      const zeroMm = potDraw.chance(0.25) ? potDraw.pick([3, 5, 8]) : 0;
      const startMs = calendar.startMs + Math.floor(potDraw.uniform(0, 6)) * HOUR_MS;
      const traits =
        drawn.cellAgeShare === null
          ? sensor
          : { ...sensor, cellLifeDays: 1100, cellAgeDays: Math.round(1100 * 0.93 - drawn.cellAgeShare * options.days) };
      nodes.push({
        id: nodeId,
        traits,
        faults: drawn.sensor,
        places: [{ potIndex: p, fromMs: calendar.startMs, zeroMm }],
        startMs,
        keepHours: potDraw.chance(0.85) ? 72 : 0,
      });
      if (options.profile !== 'leaks' && drawn === NO_FAULTS && potDraw.chance(NODE_REPLACED_SHARE)) {
        replaceNode(nodes, assignments, options, containerId, p, potDraw, calendar);
      } else {
        assignments.push({ nodeId, containerId, fromMs: calendar.startMs, toMs: null, zeroMm });
      }
    }
    if ((options.profile === 'faults' || options.profile === 'mixed') && count >= 2 && siteDraw.chance(0.7)) {
      swapTwo(nodes, pots, faults, options, siteDraw, calendar);
    }
    const columns = new Set<'humidity' | 'wind' | 'solar' | 'et0'>(['humidity', 'wind', 'solar']);
    if (siteDraw.chance(0.15)) columns.delete(siteDraw.pick(['humidity', 'wind', 'solar'] as const));
    if (siteDraw.chance(0.2)) columns.add('et0');
    sites.push({
      id: siteId,
      accountId: accounts[accounts.length - 1]!.id,
      name: `Site ${s + 1}`,
      latitude: climate.latitude + siteDraw.uniform(-0.1, 0.1),
      longitude: climate.longitude + siteDraw.uniform(-0.1, 0.1),
      elevationM: climate.elevationM,
      tap: siteDraw.chance(0.6),
      climateId,
      ownStation: siteDraw.chance(0.4),
      weatherColumns: columns,
      gatewayId: `G${s + 1}`,
      outages: null,
      habits:
        options.profile === 'faults' || options.profile === 'mixed'
          ? { ...USUAL_HABITS, suddenLossesPerYear: 0.4 }
          : USUAL_HABITS,
      pots,
      nodes,
    });
  }
  draw.next();
  return {
    seed: options.seed,
    profile: options.profile,
    firstDay: options.firstDay,
    historyDays: options.days,
    endMs: null,
    accounts,
    sites,
    statedAssignments: assignments,
    faults,
    rainScript: [],
    waterScript: [],
    extras: {
      gateways: sites.map((site) => ({ id: site.gatewayId, siteId: site.id, name: `Gateway of ${site.name}` })),
    },
    technicianIds: [],
  };
}

function drawFaultsOf(
  { profile, faultyShare }: RandomFleetOptions,
  span: Parameters<typeof drawFault>[0],
): DrawnFaults {
  const luck = span.draw.next();
  switch (profile) {
    case 'healthy':
      return NO_FAULTS;
    case 'leaks':
      return luck < (faultyShare ?? LEAKY_SHARE) ? drawLeak(span) : NO_FAULTS;
    case 'faults':
      return luck < (faultyShare ?? FAULTY_SHARE) ? drawFault(span) : NO_FAULTS;
    case 'mixed':
      return luck < 0.2 ? drawLeak(span) : luck < 0.45 ? drawFault(span) : NO_FAULTS;
  }
}

/** A node gives up its place to a new one, and the fleet file knows. */
function replaceNode(
  nodes: NodePlan[],
  assignments: FleetPlan['statedAssignments'][number][],
  options: RandomFleetOptions,
  containerId: string,
  potIndex: number,
  draw: Draw,
  calendar: Calendar,
): void {
  const old = nodes[nodes.length - 1]!;
  const atMs = calendar.startMs + Math.round(draw.uniform(0.2, 0.8) * options.days) * DAY_MS + 10 * HOUR_MS;
  const newId = `${old.id}b`;
  nodes[nodes.length - 1] = {
    ...old,
    faults: [{ kind: 'silent', fromMs: atMs, toMs: Number.MAX_SAFE_INTEGER, size: Number.NaN }],
  };
  const sensor = drawSensor(new Draw(options.seed, 'sensor', newId), {
    moistureShare: options.moistureShare,
    rangeMm: 500,
  });
  nodes.push({
    id: newId,
    traits: { ...sensor, cellAgeDays: 0 },
    faults: [],
    places: [{ potIndex, fromMs: atMs, zeroMm: 0 }],
    startMs: atMs,
    keepHours: 72,
  });
  assignments.push(
    { nodeId: old.id, containerId, fromMs: calendar.startMs, toMs: atMs, zeroMm: old.places[0]!.zeroMm },
    { nodeId: newId, containerId, fromMs: atMs, toMs: null, zeroMm: 0 },
  );
}

/** Two nodes of a site change places by mistake; the fleet file keeps saying the old thing for some weeks. */
function swapTwo(
  nodes: NodePlan[],
  pots: readonly PotPlan[],
  faults: TrueFault[],
  options: RandomFleetOptions,
  draw: Draw,
  calendar: Calendar,
): void {
  const healthy = nodes
    .map((node, index) => ({ node, index }))
    .filter(
      ({ node }) => node.places.length === 1 && node.faults.length === 0 && node.startMs < calendar.startMs + DAY_MS,
    )
    .filter(({ node }) => pots[node.places[0]!.potIndex]!.faults === NO_POT_FAULTS);
  if (healthy.length < 2) return;
  const [a, b] = [healthy[0]!, healthy[1]!];
  const atMs = calendar.startMs + Math.round(draw.uniform(0.3, 0.7) * options.days) * DAY_MS + 11 * HOUR_MS;
  const backMs = atMs + draw.integer(14, 35) * DAY_MS;
  const move = (from: NodePlan, to: NodePlan): NodePlan => ({
    ...from,
    places: [
      ...from.places,
      { potIndex: to.places[0]!.potIndex, fromMs: atMs, zeroMm: to.places[0]!.zeroMm },
      { potIndex: from.places[0]!.potIndex, fromMs: backMs, zeroMm: from.places[0]!.zeroMm },
    ],
  });
  nodes[a.index] = move(a.node, b.node);
  nodes[b.index] = move(b.node, a.node);
  for (const { node } of [a, b]) {
    faults.push({
      containerId: pots[node.places[0]!.potIndex]!.id,
      nodeId: node.id,
      kind: 'nodes_swapped',
      fromMs: atMs,
      toMs: backMs,
      size: null,
      unit: '',
      heightMm: null,
    });
  }
}

/** The first day of scoring fleets: late winter, so that a year holds one whole season of growth. */
export const DEFAULT_FIRST_DAY = '2025-03-01';

export function lastDayOf(plan: Pick<FleetPlan, 'firstDay' | 'historyDays'>): string {
  return addDays(plan.firstDay, plan.historyDays - 1);
}
