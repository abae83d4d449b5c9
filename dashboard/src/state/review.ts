import type { ReviewItem } from '../api/views.js';

/** What the figures of a period come to, each null where it cannot be said. */
export interface ReviewFigures {
  /** Of what the pots took on the crew's visits, at the tariff. */
  readonly cost: number | null;
  /** Of what leaked and ran over. */
  readonly lossCost: number | null;
  readonly litresPerVisit: number | null;
  /** What the crew wrote down beyond what the pots took; negative where they took more. */
  readonly meterOverLitres: number;
  readonly litresPerPotDay: number | null;
  readonly litresPerPotMm: number | null;
  /** Drawn beyond what the earlier thirst would have drawn in this weather, as a share of that. */
  readonly beyondWeatherFraction: number | null;
}

const LITRES_PER_M3 = 1_000;
/** Fewer litres than this say nothing by their ratio. */
const LEAST_COMPARED_LITRES = 5;

export function figuresOf(item: ReviewItem, pricePerM3: number | null): ReviewFigures {
  const { weatherLitres, comparableLitres, potMm } = item;
  const cost = (litres: number): number | null => (pricePerM3 === null ? null : (litres / LITRES_PER_M3) * pricePerM3);
  return {
    cost: cost(item.tookLitres),
    lossCost: cost(item.leakLitres + item.overflowLitres),
    litresPerVisit: item.visits === 0 ? null : item.meterLitres / item.visits,
    meterOverLitres: item.meterLitres - item.tookLitres,
    litresPerPotDay: item.containerDays === 0 ? null : item.uptakeLitres / item.containerDays,
    litresPerPotMm: potMm === null || potMm <= 0 ? null : item.uptakeLitres / potMm,
    beyondWeatherFraction:
      weatherLitres === null || comparableLitres === null || weatherLitres < LEAST_COMPARED_LITRES
        ? null
        : (comparableLitres - weatherLitres) / weatherLitres,
  };
}

/** Items of one site, or of whatever was chosen, as one. Ratios are taken again from the sums. */
export function sumItems(items: readonly ReviewItem[]): ReviewItem | null {
  const [first, ...rest] = items;
  if (first === undefined) return null;
  return rest.reduce(addItems, first);
}

function addItems(a: ReviewItem, b: ReviewItem): ReviewItem {
  const both = (x: number | null, y: number | null): number | null => (x === null || y === null ? null : x + y);
  const either = (x: number | null, y: number | null): number | null => (x === null ? y : y === null ? x : x + y);
  return {
    id: a.id,
    name: a.name,
    containers: a.containers + b.containers,
    containerDays: a.containerDays + b.containerDays,
    uptakeLitres: a.uptakeLitres + b.uptakeLitres,
    tookLitres: a.tookLitres + b.tookLitres,
    meterLitres: a.meterLitres + b.meterLitres,
    leakLitres: a.leakLitres + b.leakLitres,
    overflowLitres: a.overflowLitres + b.overflowLitres,
    visits: a.visits + b.visits,
    dryHours: a.dryHours + b.dryHours,
    potMm: both(a.potMm, b.potMm),
    before:
      a.before === null || b.before === null
        ? (a.before ?? b.before)
        : {
            uptakeLitres: a.before.uptakeLitres + b.before.uptakeLitres,
            containerDays: a.before.containerDays + b.before.containerDays,
            potMm: both(a.before.potMm, b.before.potMm),
          },
    weatherLitres: either(a.weatherLitres, b.weatherLitres),
    comparableLitres: either(a.comparableLitres, b.comparableLitres),
  };
}
