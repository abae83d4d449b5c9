/** What a public benchmark file says, before it is put to the planner. */
export type RawInstance = RawRouting | RawInventory;

/** How a file's legs are measured. */
export type LegRule = 'truncate-1' | 'nearest' | 'att' | 'geo' | 'matrix';

/** One vehicle fleet from one depot (node 0), each customer once. */
export interface RawRouting {
  readonly form: 'routing';
  readonly name: string;
  readonly kind: 'vrptw' | 'cvrp' | 'tsp';
  readonly rule: LegRule;
  readonly points: readonly (readonly [x: number, y: number])[];
  /** Row by row, for `matrix` only. */
  readonly matrix: readonly number[] | null;
  readonly vehicles: number;
  readonly capacity: number;
  readonly demands: readonly number[];
  readonly windows: readonly (readonly [open: number, close: number])[] | null;
  readonly serviceTimes: readonly number[] | null;
}

/** Archetti, Bertazzi, Laporte and Speranza (2007): a supplier (node 0) and customers with stock. */
export interface RawInventory {
  readonly form: 'inventory';
  readonly name: string;
  readonly kind: 'irp-single' | 'irp-h3' | 'irp-h6';
  readonly days: number;
  readonly vehicles: number;
  readonly capacity: number;
  /** `ML`: any amount up to the capacity; `OU`: always up to it. */
  readonly policy: 'ML' | 'OU';
  readonly supplier: {
    readonly x: number;
    readonly y: number;
    readonly initial: number;
    readonly produced: number;
    readonly holding: number;
  };
  readonly customers: readonly {
    readonly x: number;
    readonly y: number;
    readonly initial: number;
    readonly capacity: number;
    readonly used: number;
    readonly holding: number;
  }[];
}
