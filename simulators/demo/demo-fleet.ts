import { Calendar, DAY_MS, HOUR_MS } from '../calendar.js';
import type { CrewHabits } from '../crew/site-crew.js';
import { type DrawnFaults, faultOf, leakOf, NO_FAULTS } from '../fleet/draw-faults.js';
import type { PotWishes } from '../fleet/pot-spec.js';
import type { FleetPlan, NodePlan, PotPlan, ScriptedWatering, SitePlan, TrueFault } from '../fleet/world.js';
import type { PlantKind } from '../pot/planting.js';
import { SHAPE_KINDS } from '../pot/shapes.js';
import { Draw } from '../rng.js';
import { drawSensor, type SensorTraits } from '../sensor/node.js';
import { CLIMATES } from '../weather/climates.js';
import { DEMO_ACCOUNTS, DEMO_DEPOTS, DEMO_PEOPLE, DEMO_TRUCKS, TOWN } from './places.js';

/** Half past six on the last Monday of August, site-local: the moment at which the demo's dispatcher sits down. */
export const DEMO_START_MS = Date.UTC(2026, 7, 31, 4, 30);
export const DEMO_FIRST_DAY = '2026-07-17';
/** Whole local days from the first one to the one on which the demo starts. */
const SPAN_DAYS = 46;

const HABITS: CrewHabits = {
  dueFrom: 0.03,
  dueTo: 0.36,
  forgetShare: 0.04,
  reportShare: 1,
  unknownRefillsPerYear: 0.5,
  unknownTopWateringsPerYear: 1,
  skipShare: 0.03,
  suddenLossesPerYear: 0,
};

/** Nobody of the firm comes: the client is away and wants no calls. */
const AWAY: CrewHabits = { ...HABITS, dueFrom: -90, dueTo: -90, unknownRefillsPerYear: 0 };

const NAMES: Readonly<Record<PlantKind, readonly string[]>> = {
  annuals: ['Geraniums', 'Petunias', 'Marigolds', 'Coleus', 'Verbena'],
  evergreen: ['Olive', 'Box ball', 'Laurel', 'Rosemary', 'Oleander'],
  perennial: ['Lavender', 'Salvia', 'Gaura', 'Catmint'],
  grass: ['Feather grass', 'Blue fescue', 'Fountain grass'],
  fern: ['Ferns', 'Shade mix', 'Ivy and ferns'],
  succulent: ['Agave', 'Aloe', 'Stonecrop mix'],
  citrus: ['Lemon', 'Kumquat', 'Bitter orange'],
};
const SUNNY: readonly PlantKind[] = ['annuals', 'evergreen', 'perennial', 'grass', 'citrus', 'annuals', 'succulent'];
const SHADY: readonly PlantKind[] = ['fern', 'annuals', 'evergreen', 'fern'];

/** One thing of the story, tied to a pot by site and position. */
interface Story {
  readonly site: string;
  readonly pot: number;
  readonly wishes?: PotWishes;
  readonly sensor?: Partial<SensorTraits>;
  readonly faults?: (span: { containerId: string; nodeId: string; calendar: Calendar; draw: Draw }) => DrawnFaults;
}

const spanOf = (span: { containerId: string; nodeId: string; calendar: Calendar; draw: Draw }) => ({
  ...span,
  historyDays: SPAN_DAYS,
});
const FOR_EVER_DAYS = 400;

/** What the brief calls for, by day since 17 July. */
const STORIES: readonly Story[] = [
  {
    // A slow seep, old enough to be found.
    site: 'Ortolan Court, garden',
    pot: 0,
    wishes: { plant: 'evergreen', covered: false, shape: 'square_taper', autonomyDays: 14 },
    sensor: { noiseMm: 0.7, intervalS: 900, mmPerKelvin: 0.03 },
    faults: (s) => leakOf(s, { size: 1.6, crackShare: 0.06, fromDay: 11, toDay: null, exponent: 0.92 }),
  },
  {
    // A cracked bowl: it falls to the same height after every refill.
    site: 'Marram Terrace, pool deck',
    pot: 2,
    wishes: { plant: 'succulent', shape: 'bowl', autonomyDays: 20, name: 'Agave bowl' },
    sensor: { noiseMm: 0.8, intervalS: 900 },
    faults: (s) => leakOf(s, { size: 6, crackShare: 0.42, fromDay: 29.6, toDay: null, exponent: 0.5 }),
  },
  {
    // A plugged port, shown by the thunderstorm of 27 August.
    site: 'Cinder Lane, roof',
    pot: 1,
    wishes: { plant: 'grass', covered: false, autonomyDays: 12 },
    sensor: { noiseMm: 0.8, intervalS: 900 },
    faults: (s) => faultOf(spanOf(s), 'overflow_blocked', 18, FOR_EVER_DAYS),
  },
  {
    // A wick that was filled loosely when the pot was replanted.
    site: 'Quillfeather, roof garden',
    pot: 3,
    wishes: { plant: 'perennial', autonomyDays: 9 },
    sensor: { noiseMm: 0.8, intervalS: 900, hasMoisture: true },
    faults: (s) => faultOf(spanOf(s), 'wick_failed', 33, FOR_EVER_DAYS),
  },
  {
    site: 'Bluebarrow, shop front',
    pot: 1,
    wishes: { plant: 'annuals', autonomyDays: 8, name: 'Hydrangea that suffered' },
    sensor: { intervalS: 900, noiseMm: 0.8 },
    faults: (s) => faultOf(spanOf(s), 'demand_collapsed', 30, FOR_EVER_DAYS),
  },
  {
    site: 'Pebble & Vine, terrace',
    pot: 2,
    wishes: { autonomyDays: 9 },
    sensor: { intervalS: 900, noiseMm: 1.2 },
    faults: (s) => faultOf(spanOf(s), 'sensor_stuck', 42.3, FOR_EVER_DAYS),
  },
  {
    site: 'Gannet Quay, fuel dock',
    pot: 1,
    faults: (s) => faultOf(spanOf(s), 'node_silent', 43.4, FOR_EVER_DAYS),
  },
  {
    site: 'Heron Court, main entrance',
    pot: 0,
    sensor: { cell: 'alkaline', cellLifeDays: 260, cellAgeDays: 201, intervalS: 900 },
    faults: (s) => ({
      ...NO_FAULTS,
      truth: [
        {
          containerId: s.containerId,
          nodeId: s.nodeId,
          kind: 'battery_low',
          fromMs: s.calendar.startMs + 35 * DAY_MS,
          toMs: null,
          size: null,
          unit: '',
          heightMm: null,
        },
      ],
    }),
  },
  {
    site: 'Villa Sorrel, pool house',
    pot: 0,
    wishes: { plant: 'citrus', plantedDay: 39, autonomyDays: 12, name: 'New lemon' },
  },
  {
    site: 'Lantern Rooms, front steps',
    pot: 0,
    wishes: { plant: 'succulent', covered: false, autonomyDays: 13, name: 'Agave by the steps' },
  },
  { site: 'Customs House, forecourt', pot: 0, wishes: { plant: 'evergreen', autonomyDays: 8 } },
  { site: 'Customs House, forecourt', pot: 3, wishes: { plant: 'succulent', autonomyDays: 24 } },
];

/** Which two nodes of which site a technician mixed up, and when. */
const SWAP = { site: 'Customs House, forecourt', pots: [0, 3] as const, day: 40, hour: 10.5 };
const OUTAGE_SITE = 'Gannet Quay, clubhouse deck';
const HOLIDAY_SITE = 'Villa Tamarix, patio';
/** Sites whose nodes speak for themselves; elsewhere a gateway passes on what they say. */
const DIRECT_EVERY = 3;
const STATION_SITES = ['Marram Terrace, roof bar', 'Gannet Quay, harbour office', 'Ortolan Court, roof A'];

export interface DemoPlan extends FleetPlan {
  readonly stationSiteIds: readonly string[];
}

/** The fleet of the demo: the same for the same seed. */
export function planDemoFleet(seed: string): DemoPlan {
  const climate = CLIMATES.coast;
  const calendar = new Calendar(climate.timeZone, DEMO_FIRST_DAY, SPAN_DAYS);
  const atDay = (day: number, hour: number): number => calendar.startMs + day * DAY_MS + hour * HOUR_MS;
  const sites: SitePlan[] = [];
  const faults: TrueFault[] = [];
  const assignments: FleetPlan['statedAssignments'][number][] = [];
  const waterScript: ScriptedWatering[] = [];
  const stationSiteIds: string[] = [];
  let made = 0;
  DEMO_ACCOUNTS.forEach((account, accountIndex) => {
    for (const place of account.sites) {
      const number = sites.length + 1;
      const siteId = `S${String(number).padStart(2, '0')}`;
      const draw = new Draw(seed, 'demo-site', siteId);
      const pots: PotPlan[] = [];
      const nodes: NodePlan[] = [];
      for (let p = 0; p < place.pots; p++) {
        made++;
        const containerId = `C${String(made).padStart(3, '0')}`;
        const nodeId = `N${String(made).padStart(3, '0')}`;
        const story = STORIES.find((s) => s.site === place.name && s.pot === p);
        const own = new Draw(seed, 'demo-pot', containerId);
        const drawn = story?.faults?.({ containerId, nodeId, calendar, draw: own }) ?? NO_FAULTS;
        faults.push(...drawn.truth);
        const exposure = place.exposures[p % place.exposures.length]!;
        const shady = exposure === 'porch' || exposure === 'dappled';
        const plant = story?.wishes?.plant ?? own.pick(shady ? SHADY : SUNNY);
        const covered = p < Math.round(place.pots * place.coveredShare);
        const wishes: PotWishes = {
          shape: SHAPE_KINDS[(made - 1) % SHAPE_KINDS.length]!,
          plant,
          covered,
          exposure,
          plantedDay: -own.integer(70, 800),
          autonomyDays: Math.min(26, Math.max(6, 10.5 * own.spread(0.35))),
          place: `${place.name.split(', ')[1] ?? place.name}, ${POSITIONS[p % POSITIONS.length]}`,
          name: own.pick(NAMES[plant]),
          ...story?.wishes,
        };
        pots.push({ id: containerId, wishes, faults: drawn.pot });
        const sensor = drawSensor(new Draw(seed, 'sensor', nodeId), { moistureShare: 0.9, rangeMm: 500 });
        nodes.push({
          id: nodeId,
          traits: { ...sensor, noiseMm: Math.min(1.8, sensor.noiseMm), ...story?.sensor },
          faults: drawn.sensor,
          places: [{ potIndex: p, fromMs: calendar.startMs, zeroMm: 0 }],
          startMs:
            wishes.plantedDay !== undefined && wishes.plantedDay > 0 ? atDay(wishes.plantedDay, 11) : calendar.startMs,
          keepHours: 96,
        });
        const firstMs = nodes[p]!.startMs;
        assignments.push({ nodeId, containerId, fromMs: firstMs, toMs: null, zeroMm: 0 });
      }
      if (place.name === SWAP.site) swap(nodes, pots, faults, atDay(SWAP.day, SWAP.hour));
      if (place.name === HOLIDAY_SITE) waterScript.push(...holidayWaterings(pots, atDay));
      const outageToMs = atDay(45, 9.2);
      sites.push({
        id: siteId,
        accountId: `A${String(accountIndex + 1).padStart(2, '0')}`,
        name: place.name,
        latitude: TOWN.latitude + draw.uniform(0, 0.035),
        longitude: TOWN.longitude + draw.uniform(-0.04, 0.04),
        elevationM: Math.round(draw.uniform(3, 45)),
        tap: place.tap,
        climateId: 'coast',
        ownStation: STATION_SITES.includes(place.name),
        weatherColumns: new Set(['humidity', 'wind', 'solar'] as const),
        gatewayId:
          number % DIRECT_EVERY === 0 && place.name !== OUTAGE_SITE ? null : `G${String(number).padStart(2, '0')}`,
        outages: place.name === OUTAGE_SITE ? [{ fromMs: atDay(44, 20.4), toMs: outageToMs }] : null,
        habits: place.name === HOLIDAY_SITE ? AWAY : HABITS,
        pots,
        nodes,
      });
      if (STATION_SITES.includes(place.name)) stationSiteIds.push(siteId);
      if (place.name === 'Cinder Lane, roof') {
        waterScript.push({ containerId: pots[1]!.id, atMs: atDay(41, 10), by: 'crew', shareOfMissing: 1.2 });
      }
      if (place.name === 'Ortolan Court, garden') {
        // Kept full, since a leak shows only while water stands above it.
        for (const day of [5, 11, 17, 22, 27, 32, 37, 42]) {
          waterScript.push({ containerId: pots[0]!.id, atMs: atDay(day, 10.2), by: 'crew', shareOfMissing: 1.2 });
        }
      }
      if (place.name === 'Villa Sorrel, pool house') {
        waterScript.push({ containerId: pots[0]!.id, atMs: atDay(39, 11.2), by: 'crew', shareOfMissing: 1.2 });
      }
      if (place.name === 'Marram Terrace, pool deck') {
        for (const day of [30, 33, 36, 39, 42, 44]) {
          waterScript.push({ containerId: pots[2]!.id, atMs: atDay(day, 9.5), by: 'crew', shareOfMissing: 1.2 });
        }
      }
    }
  });
  const gateways = sites.flatMap((s) =>
    s.gatewayId === null ? [] : [{ id: s.gatewayId, siteId: s.id, name: `Gateway, ${s.name}` }],
  );
  return {
    seed,
    profile: 'demo',
    firstDay: DEMO_FIRST_DAY,
    historyDays: SPAN_DAYS,
    endMs: DEMO_START_MS,
    accounts: DEMO_ACCOUNTS.map((account, index) => ({
      id: `A${String(index + 1).padStart(2, '0')}`,
      name: account.name,
      dryRisk: index === 0 ? 0.02 : 0.05,
    })),
    sites,
    statedAssignments: assignments,
    faults,
    rainScript: [
      { day: '2026-08-12', rainMm: 9, stormHour: 17 },
      { day: '2026-08-20', rainMm: 22, stormHour: 17.5 },
      { day: '2026-08-27', rainMm: 52, stormHour: 16.5 },
      { day: '2026-08-28', rainMm: 0 },
      { day: '2026-08-29', rainMm: 0 },
      { day: '2026-08-30', rainMm: 0 },
      { day: '2026-08-31', rainMm: 11, stormHour: 15 },
      { day: '2026-09-01', rainMm: 27, stormHour: 17 },
    ],
    waterScript,
    extras: {
      gateways,
      depots: [...DEMO_DEPOTS],
      trucks: [...DEMO_TRUCKS],
      people: DEMO_PEOPLE.map((person) => ({ ...person, units: { volume: 'L', length: 'mm', temperature: 'Cel' } })),
    },
    technicianIds: DEMO_PEOPLE.filter(({ role }) => role === 'technician').map(({ id }) => id),
    stationSiteIds,
  };
}

const POSITIONS = [
  'left of the door',
  'right of the door',
  'corner',
  'by the wall',
  'by the rail',
  'centre',
  'far end',
  'near end',
];

function swap(nodes: NodePlan[], pots: readonly PotPlan[], faults: TrueFault[], atMs: number): void {
  const [a, b] = SWAP.pots;
  const before = [nodes[a]!, nodes[b]!] as const;
  nodes[a] = { ...before[0], places: [...before[0].places, { potIndex: b, fromMs: atMs, zeroMm: 0 }] };
  nodes[b] = { ...before[1], places: [...before[1].places, { potIndex: a, fromMs: atMs, zeroMm: 0 }] };
  for (const index of SWAP.pots) {
    faults.push({
      containerId: pots[index]!.id,
      nodeId: nodes[index]!.id,
      kind: 'nodes_swapped',
      fromMs: atMs,
      toMs: null,
      size: null,
      unit: '',
      heightMm: null,
    });
  }
}

/** The crew until the client leaves in mid August; then a neighbour with a can, now more, now less. */
function holidayWaterings(pots: readonly PotPlan[], atDay: (day: number, hour: number) => number): ScriptedWatering[] {
  const watering: ScriptedWatering[] = [];
  pots.forEach((pot, index) => {
    for (const day of [2, 8, 14, 20, 26]) {
      watering.push({ containerId: pot.id, atMs: atDay(day, 9 + 0.15 * index), by: 'crew', shareOfMissing: 1.1 });
    }
    [31, 35, 40, 43, 47, 51, 55].forEach((day, k) => {
      watering.push({
        containerId: pot.id,
        atMs: atDay(day, 19.3 + 0.1 * index),
        by: 'unknown',
        shareOfMissing: 0.45 + 0.12 * ((k + index) % 4),
      });
    });
  });
  return watering;
}
