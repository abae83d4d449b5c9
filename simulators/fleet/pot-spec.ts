import { addDays, type Calendar } from '../calendar.js';
import type { FactorSpan, LeakModel, PotModel, PotState } from '../pot/physics.js';
import {
  type DemandSpan,
  demandByHour,
  drawPlanting,
  EXPOSURES,
  type Exposure,
  growthByDay,
  ownEt0MmPerHour,
  type PlantChange,
  type Planting,
  type PlantKind,
} from '../pot/planting.js';
import { drawShape, SHAPE_KINDS, type Shape, type ShapeKind, sectionMm2 } from '../pot/shapes.js';
import { pourStrapping, round, VolumeCurve } from '../pot/volume-curve.js';
import { Draw } from '../rng.js';
import type { SiteWeather } from '../weather/site.js';

/** What is true of a pot before anything happens to it. */
export interface PotSpec {
  readonly id: string;
  readonly name: string;
  readonly place: string;
  readonly shape: Shape;
  readonly covered: boolean;
  readonly planting: Planting;
  readonly plantChanges: readonly PlantChange[];
  readonly installedDay: string;
  readonly plantedDay: string;
  readonly strapping: readonly (readonly [number, number])[];
  readonly statedOverflowMm: number;
  readonly statedFootMm: number;
  readonly soilSurfaceM2: number;
  readonly potKg: number;
  /** What the wick can lift against the use of the thirstiest days. */
  readonly liftShare: number;
  readonly model: PotModel;
  readonly start: PotState;
}

/** Faults that live in the pot rather than in its sensor. */
export interface PotFaults {
  /** Height of the crack as a share of the overflow's. */
  readonly leaks: readonly (Omit<LeakModel, 'crackMm'> & { readonly crackShare: number })[];
  readonly portFactors: readonly FactorSpan[];
  readonly wickFactors: readonly FactorSpan[];
  readonly demandSpans: readonly DemandSpan[];
}

export const NO_POT_FAULTS: PotFaults = { leaks: [], portFactors: [], wickFactors: [], demandSpans: [] };

/** Fixed choices of a pot; what is absent is drawn. */
export interface PotWishes {
  readonly shape?: ShapeKind;
  readonly plant?: PlantKind;
  readonly covered?: boolean;
  readonly exposure?: Exposure['name'];
  /** Days after the span's first day on which the pot was planted; negative is before. */
  readonly plantedDay?: number;
  readonly autonomyDays?: number;
  readonly name?: string;
  readonly place?: string;
  /** Factor on what the wick can lift, 1 where absent. */
  readonly liftFactor?: number;
}

const COVERED_EXPOSURES = ['porch', 'morning sun', 'afternoon sun', 'porch'] as const;
const OPEN_EXPOSURES = ['open', 'open', 'morning sun', 'afternoon sun', 'dappled', 'roof', 'pool deck'] as const;
const PLANT_KINDS: readonly PlantKind[] = [
  'annuals',
  'annuals',
  'evergreen',
  'evergreen',
  'perennial',
  'grass',
  'fern',
  'succulent',
  'citrus',
];

/** Draws one pot of a site, with its faults built in. */
export function drawPot(
  id: string,
  weather: SiteWeather,
  calendar: Calendar,
  seed: string,
  wishes: PotWishes,
  faults: PotFaults,
): PotSpec {
  const draw = new Draw(seed, 'pot', id);
  const covered = wishes.covered ?? draw.chance(0.58);
  const exposureName = wishes.exposure ?? draw.pick(covered ? COVERED_EXPOSURES : OPEN_EXPOSURES);
  const exposure = EXPOSURES.find((e) => e.name === exposureName)!;
  const kind = wishes.plant ?? draw.pick(PLANT_KINDS);
  const plantedDay = wishes.plantedDay ?? (draw.chance(0.08) ? draw.integer(-30, 0) : -draw.integer(90, 900));

  const heightMm = draw.uniform(90, 200);
  const scale = Math.min(2.3, Math.max(0.35, draw.spread(0.5)));
  const shape = drawShape(wishes.shape ?? draw.pick(SHAPE_KINDS), scale, heightMm, draw);
  const overflowMm = Math.round(shape.heightMm * draw.uniform(0.86, 0.95));
  const footMm = draw.uniform(6, 18);
  const plateMm = overflowMm + draw.uniform(5, 12);
  const section = sectionMm2(shape, overflowMm / 2);
  const curve = VolumeCurve.ofShape(
    shape,
    {
      footMm,
      wickMm2: section * draw.uniform(0.02, 0.06),
      feetMm2: section * draw.uniform(0.005, 0.02),
      plateMm,
      topMm: overflowMm + 80,
    },
    0.22,
  );
  const usableLitres = curve.litresAt(overflowMm) - curve.litresAt(footMm);

  const surfaceM2 = (sectionMm2(shape, shape.heightMm) / 1e6) * draw.uniform(1.05, 1.45);
  const depthMm = draw.uniform(200, 430);
  const soilVolume = surfaceM2 * depthMm;
  const rest = draw.uniform(0.4, 0.52);
  const wilt = draw.uniform(0.09, 0.16);
  const restLitres = rest * soilVolume;

  const drawn = drawPlanting(kind, exposure, plantedDay, draw);
  const et0 = ownEt0MmPerHour(exposure, weather, calendar);
  const peakMm = peakEt0MmPerDay(et0);
  const autonomyDays = wishes.autonomyDays ?? Math.min(32, Math.max(4, 9 * draw.spread(0.45)));
  const wantedFactor = usableLitres / (autonomyDays * peakMm * surfaceM2);
  // Lysimeter studies of potted shrubs (Beeson 2010, HortScience 45:1260) reach 2.4 on the container's own surface.
  const potFactor = Math.min(3, Math.max(0.2, wantedFactor));
  const planting: Planting = { ...drawn, plantFactor: potFactor / drawn.canopyRatio };
  const peakLitresPerDay = peakMm * surfaceM2 * potFactor;
  const growth = growthByDay(planting, weather, calendar, new Draw(seed, 'demand', id));
  const demandLPerHour = demandByHour(planting, surfaceM2, weather, calendar, et0, faults.demandSpans, growth.factors);

  const limited = draw.chance(0.07);
  const liftShare = (limited ? draw.uniform(1.1, 1.8) : draw.uniform(3, 10)) * (wishes.liftFactor ?? 1);
  const portMm = draw.uniform(12, 20);
  const model: PotModel = {
    curve,
    overflowMm,
    footMm,
    plateMm,
    soil: {
      litres: soilVolume,
      restLitres,
      fieldLitres: restLitres + draw.uniform(0.015, 0.05) * soilVolume,
      wiltLitres: wilt * soilVolume,
      saturatedLitres: draw.uniform(0.68, 0.76) * soilVolume,
      depletion: draw.uniform(0.35, 0.55),
    },
    wickLagHours: Math.exp(draw.uniform(Math.log(1.5), Math.log(10))),
    wickLiftLPerHour: (peakLitresPerDay / 24) * liftShare,
    rootShare: plantedDay < -200 && draw.chance(0.4) ? draw.uniform(0.03, 0.25) : 0,
    rootDepthMm: draw.uniform(2, 8),
    catchM2: covered ? 0 : surfaceM2 * draw.uniform(0.4, 0.85),
    rainBypass: draw.uniform(0.03, 0.25),
    percolationHours: draw.uniform(1.5, 6),
    interceptMm: draw.uniform(0.4, 1.6),
    portAreaM2: (Math.PI * (portMm / 1000) ** 2) / 4,
    demandLPerHour,
    rainMmPerStep: weather.rainMmPerStep,
    leaks: faults.leaks.map(({ crackShare, ...leak }) => ({ ...leak, crackMm: crackShare * overflowMm })),
    portFactors: faults.portFactors,
    wickFactors: faults.wickFactors,
  };
  const startLevel = footMm + (overflowMm - footMm) * draw.uniform(0.4, 1);
  const start: PotState = {
    litres: curve.litresAt(startLevel),
    levelMm: startLevel,
    soilLitres: restLitres,
    interceptedMm: 0,
  };
  const strapping = pourStrapping(curve, overflowMm, draw.integer(5, 8), draw);
  const statedOverflowMm = overflowMm + Math.round(draw.normal(0, 0.5) * 2) / 2;
  // The last pour is the one that shows at the port.
  const [, lastLitres] = strapping.pop()!;
  const [beforeMm] = strapping[strapping.length - 1]!;
  strapping.push([Math.max(beforeMm + 1, statedOverflowMm), lastLitres]);
  return {
    id,
    name: wishes.name ?? `${id} ${kind}`,
    place: wishes.place ?? exposure.name,
    shape,
    covered,
    planting,
    plantChanges: growth.changes,
    installedDay: addDays(calendar.days[0]!, Math.min(0, plantedDay)),
    plantedDay: addDays(calendar.days[0]!, plantedDay),
    strapping,
    statedOverflowMm,
    statedFootMm: round(Math.max(1, footMm + draw.normal(0, 0.6)), 1),
    soilSurfaceM2: surfaceM2,
    potKg: Math.round(8 + 180 * surfaceM2 * draw.uniform(0.5, 1.5)),
    model,
    liftShare,
    start,
  };
}

/** Mean of the thirstiest tenth of the days. */
function peakEt0MmPerDay(et0: Float32Array): number {
  const days: number[] = [];
  for (let h = 0; h + 24 <= et0.length; h += 24) {
    let sum = 0;
    for (let k = h; k < h + 24; k++) sum += et0[k]!;
    days.push(sum);
  }
  days.sort((a, b) => b - a);
  const top = days.slice(0, Math.max(1, Math.floor(days.length / 10)));
  return top.reduce((sum, value) => sum + value, 0) / top.length;
}
