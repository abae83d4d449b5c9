/**
 * What the planner is asked: tours (one technician's day each), customers (sites) and what it costs to bring them water
 * late, early or by a long way round. Plain data, so that a worker thread can be handed it. Amounts are in one unit of the
 * asker's choice (litres for the rounds), times in minutes of the day, costs in one currency of the asker's choice.
 */
export interface Problem {
  readonly dayCount: number;
  readonly placeCount: number;
  /** Distance from place i to place j at [i * placeCount + j]; need not be symmetric. */
  readonly distance: Float64Array;
  /** Driving minutes, laid out as `distance`; null where times play no part. */
  readonly minutes: Float64Array | null;
  readonly tours: readonly Tour[];
  readonly customers: readonly Customer[];
  /** Where a tank may be filled on the way. */
  readonly refillPlaces: readonly RefillPlace[];
  /** A stock that the deliveries are taken from; null where there is always enough. */
  readonly supply: Supply | null;
}

/** One technician (or vehicle) on one day. */
export interface Tour {
  readonly id: string;
  readonly day: number;
  readonly startPlace: number;
  readonly endPlace: number;
  readonly openMinute: number;
  /** The end of the paid shift; Infinity where there is none. */
  readonly closeMinute: number;
  readonly overtimeMinutes: number;
  readonly costPerOvertimeMinute: number;
  readonly tankUnits: number;
  /** What is in the tank at the start. */
  readonly tankUnitsAtStart: number;
  readonly mayRefill: boolean;
  /** Paid once where the tour has any stop. */
  readonly fixedCost: number;
  readonly costPerDistance: number;
  readonly costPerMinute: number;
  /** Work stops from `fromMinute` for `minutes`, in the middle of a drive or a service too, and goes on afterwards. */
  readonly pause: { readonly fromMinute: number; readonly minutes: number } | null;
  readonly skills: readonly string[];
}

export interface RefillPlace {
  readonly place: number;
  readonly minutes: number;
}

export interface Supply {
  readonly initialUnits: number;
  /** Arrives at the beginning of each day. */
  readonly producedUnits: readonly number[];
  /** Cost per unit that stands there at the end of a day. */
  readonly holdingCost: number;
  readonly costPerUnitShort: number;
}

export interface TimeWindow {
  readonly fromMinute: number;
  /** The latest start of service. */
  readonly toMinute: number;
}

/** The visit stays on its day; on its tour and at its place within it where these are given. */
export interface Lock {
  readonly day: number;
  readonly tour: number | null;
  readonly position: 'first' | 'last' | null;
}

export interface Customer {
  readonly id: string;
  readonly place: number;
  /** Per day; an empty list is a closed day. */
  readonly windows: readonly (readonly TimeWindow[])[];
  readonly serviceMinutes: number;
  readonly serviceMinutesPerUnit: number;
  /** False where what is delivered comes from a tap on the spot and not from the tank. */
  readonly usesTank: boolean;
  readonly skills: readonly string[];
  /** Indices of tours that may not come here. */
  readonly forbiddenTours: readonly number[];
  readonly locks: readonly Lock[];
  readonly published: PublishedVisits | null;
  readonly demand: Demand;
}

/** Visits that people have been told of, and what it costs to go another way. */
export interface PublishedVisits {
  /** Tour index per day, -1 where no visit was published. */
  readonly tourByDay: readonly number[];
  /** Cost of a visit on a day that was not published, by day. */
  readonly otherDayCost: readonly number[];
  /** Cost of a visit on its published day by another tour, by day. */
  readonly otherTourCost: readonly number[];
}

export type Demand = OnceDemand | StockDemand | RiskDemand;

/** One visit, some day. */
export interface OnceDemand {
  readonly kind: 'once';
  readonly units: number;
  readonly dayCost: readonly number[];
  readonly unservedCost: number;
}

/** A known use from a known stock; whole units. */
export interface StockDemand {
  readonly kind: 'stock';
  readonly initialUnits: number;
  readonly capacityUnits: number;
  /** Used at the end of each day, after the visit. */
  readonly usedUnits: readonly number[];
  /** Cost per unit that is left at the end of a day. */
  readonly holdingCost: number;
  /** `fill`: a visit fills to capacity. `free`: any amount up to it. */
  readonly policy: 'fill' | 'free';
  readonly costPerUnitShort: number;
}

/** Pots that must not run dry: how long each visit lasts comes from the forecast. Index 0 stands for "before any visit". */
export interface RiskDemand {
  readonly kind: 'risk';
  /** [0]: last day on which the first visit keeps the risk; [p + 1]: the same for the visit after one on day p. May lie past the horizon. */
  readonly latestDay: readonly number[];
  /** [p + 1][d]: expected units that fill everything on day d after a visit on day p. */
  readonly units: readonly (readonly number[])[];
  /** [p + 1][d]: minutes at the site of that visit, beside `serviceMinutes` and those of its units. */
  readonly extraMinutes: readonly (readonly number[])[];
  /** Cost of each visit, whoever makes it. */
  readonly visitCost: number;
  readonly costPerExtraMinute: number;
  /** Cost of each day past the latest one. */
  readonly lateCostPerDay: number;
  /** [p + 1]: worth of what lasts past the horizon's end, where the last visit is on day p ([0]: where there is none). */
  readonly endCredit: readonly number[];
}

/** One stop of a plan. */
export interface PlannedStop {
  readonly customer: number;
  readonly units: number;
  /** Minutes at the stop, all told. */
  readonly minutes: number;
  /** Index into `refillPlaces` of the fill right after this stop; null for none. */
  readonly refillAfter: number | null;
}

export interface PlannedTour {
  readonly tour: number;
  /** Index into `refillPlaces` of a fill before the first stop; null for none. */
  readonly refillAtStart: number | null;
  readonly stops: readonly PlannedStop[];
}

/** The planner's answer; tours without stops are left out. */
export interface Plan {
  readonly tours: readonly PlannedTour[];
  /** The objective, as `evaluatePlan` splits it. */
  readonly cost: number;
}
