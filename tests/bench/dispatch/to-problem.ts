import type { Customer, Problem, Tour } from '../../../src/dispatch/problem.js';
import type { RawInstance, RawInventory, RawRouting } from './raw-instance.js';

/** A file put to the planner: the problem, and how its cost reads in the file's own terms. */
export interface Posed {
  readonly problem: Problem;
  /** Published cost = cost of the plan * scale + constant. */
  readonly scale: number;
  readonly constant: number;
}

/** Dearer than any leg: leaving a customer out or short is a last resort. */
const LEFT_OUT = 1e6;

export function poseProblem(raw: RawInstance): Posed {
  return raw.form === 'routing' ? poseRouting(raw) : poseInventory(raw);
}

function tour(day: number, capacity: number, closeMinute: number): Tour {
  return {
    id: `day ${day}`,
    day,
    startPlace: 0,
    endPlace: 0,
    openMinute: 0,
    closeMinute,
    overtimeMinutes: 0,
    costPerOvertimeMinute: 0,
    tankUnits: capacity,
    tankUnitsAtStart: capacity,
    mayRefill: false,
    fixedCost: 0,
    costPerDistance: 1,
    costPerMinute: 0,
    pause: null,
    skills: [],
  };
}

const OPEN = { fromMinute: 0, toMinute: Number.POSITIVE_INFINITY };

const PLAIN = {
  serviceMinutes: 0,
  serviceMinutesPerUnit: 0,
  usesTank: true,
  skills: [],
  forbiddenTours: [],
  locks: [],
  published: null,
} as const;

function poseRouting(raw: RawRouting): Posed {
  const size = raw.demands.length;
  // Legs truncated to one decimal are whole tenths, so that sums stay exact.
  const tenths = raw.rule === 'truncate-1' ? 10 : 1;
  const distance = new Float64Array(size * size);
  for (let i = 0; i < size; i++) for (let j = 0; j < size; j++) distance[i * size + j] = legLength(raw, i, j);
  const { windows } = raw;
  const customers: Customer[] = raw.demands.slice(1).map((units, k) => ({
    ...PLAIN,
    id: String(k + 1),
    place: k + 1,
    windows: [
      windows === null ? [OPEN] : [{ fromMinute: windows[k + 1]![0] * tenths, toMinute: windows[k + 1]![1] * tenths }],
    ],
    serviceMinutes: (raw.serviceTimes?.[k + 1] ?? 0) * tenths,
    demand: { kind: 'once', units, dayCost: [0], unservedCost: LEFT_OUT * tenths },
  }));
  // No good plan uses twice the vehicles that the load alone asks for, unless windows force it.
  const needed = Math.ceil(raw.demands.reduce((sum, one) => sum + one, 0) / raw.capacity);
  const fleet = windows === null ? Math.min(raw.vehicles, Math.max(1, 2 * needed + 2)) : raw.vehicles;
  const closing = windows === null ? Number.POSITIVE_INFINITY : windows[0]![1] * tenths;
  return {
    problem: {
      dayCount: 1,
      placeCount: size,
      distance,
      minutes: windows === null ? null : distance,
      tours: Array.from({ length: fleet }, () => tour(0, raw.capacity, closing)),
      customers,
      refillPlaces: [],
      supply: null,
    },
    scale: 1 / tenths,
    constant: 0,
  };
}

/** Length of a leg in the planner's whole units, by the file's rule (Reinelt 1995, TSPLIB 95, section 2). */
function legLength(raw: RawRouting, i: number, j: number): number {
  if (i === j) return 0;
  if (raw.rule === 'matrix') return raw.matrix![i * raw.demands.length + j]!;
  const [x1, y1] = raw.points[i]!;
  const [x2, y2] = raw.points[j]!;
  // Not `Math.hypot`: its last digit is off where the root is whole, and the leg lost a tenth.
  const straight = Math.sqrt((x1 - x2) ** 2 + (y1 - y2) ** 2);
  switch (raw.rule) {
    case 'truncate-1':
      return Math.floor(10 * straight);
    case 'nearest':
      return Math.floor(straight + 0.5);
    case 'att':
      return Math.ceil(Math.sqrt(((x1 - x2) ** 2 + (y1 - y2) ** 2) / 10));
    case 'geo':
      return greatCircle(x1, y1, x2, y2);
  }
}

/** TSPLIB 95, section 2.4: degrees and minutes, a sphere of 6378.388 km, and pi as it is written there. */
function greatCircle(x1: number, y1: number, x2: number, y2: number): number {
  const radians = (value: number) => {
    const degrees = Math.trunc(value);
    return ((3_141_592 / 1e6) * (degrees + (5 * (value - degrees)) / 3)) / 180;
  };
  const q1 = Math.cos(radians(y1) - radians(y2));
  const q2 = Math.cos(radians(x1) - radians(x2));
  const q3 = Math.cos(radians(x1) + radians(x2));
  return Math.trunc(6378.388 * Math.acos(0.5 * ((1 + q1) * q2 - (1 - q1) * q3)) + 1);
}

function poseInventory(raw: RawInventory): Posed {
  const { days, supplier } = raw;
  const points = [supplier, ...raw.customers];
  const size = points.length;
  const distance = new Float64Array(size * size);
  for (let i = 0; i < size; i++) {
    for (let j = 0; j < size; j++) {
      distance[i * size + j] = Math.floor(Math.hypot(points[i]!.x - points[j]!.x, points[i]!.y - points[j]!.y) + 0.5);
    }
  }
  const customers: Customer[] = raw.customers.map((one, k) => ({
    ...PLAIN,
    id: String(k + 1),
    place: k + 1,
    windows: Array.from({ length: days }, () => [OPEN]),
    demand: {
      kind: 'stock',
      initialUnits: one.initial,
      capacityUnits: one.capacity,
      usedUnits: new Array<number>(days).fill(one.used),
      holdingCost: one.holding,
      policy: raw.policy === 'ML' ? 'free' : 'fill',
      costPerUnitShort: LEFT_OUT,
    },
  }));
  // What the supplier holds if nothing is ever delivered; the planner counts what deliveries save of it.
  let constant = 0;
  for (let day = 1; day <= days; day++) constant += supplier.holding * (supplier.initial + day * supplier.produced);
  return {
    problem: {
      dayCount: days,
      placeCount: size,
      distance,
      minutes: null,
      tours: Array.from({ length: days * raw.vehicles }, (_, k) =>
        tour(Math.floor(k / raw.vehicles), raw.capacity, Number.POSITIVE_INFINITY),
      ),
      customers,
      refillPlaces: [],
      supply: {
        initialUnits: supplier.initial,
        producedUnits: new Array<number>(days).fill(supplier.produced),
        holdingCost: supplier.holding,
        costPerUnitShort: LEFT_OUT,
      },
    },
    scale: 1,
    constant,
  };
}
