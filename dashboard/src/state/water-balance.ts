/** The balance of a period as two lists of equal sum: where the water came from, and where it went. */

export interface LedgerFigures {
  readonly openingLitres: number;
  readonly refillCrewLitres: number;
  readonly refillOtherLitres: number;
  readonly rainLitres: number;
  readonly uptakeLitres: number;
  readonly leakLitres: number;
  readonly overflowLitres: number;
  readonly drainedLitres: number;
  readonly unexplainedLitres: number;
  readonly closingLitres: number;
}

export type SourceKind = 'crew' | 'other' | 'rain' | 'from_store' | 'unexplained_gain';
export type FateKind = 'uptake' | 'leak' | 'overflow' | 'drained' | 'into_store' | 'unexplained_loss';

export interface BalancePart<Kind> {
  readonly kind: Kind;
  readonly litres: number;
}

export interface WaterBalance {
  readonly sources: readonly BalancePart<SourceKind>[];
  readonly fates: readonly BalancePart<FateKind>[];
  /** Sum of each side. */
  readonly totalLitres: number;
}

/** Below this a part is rounding, not water. */
const LEAST_LITRES = 1e-6;

/**
 * opening + in = out + unexplained + closing, rearranged so that nothing is negative: a store that shrank is a source,
 * one that grew a fate, and so for the unexplained.
 */
export function waterBalance(figures: LedgerFigures): WaterBalance {
  const storedLitres = figures.closingLitres - figures.openingLitres;
  const unexplained = figures.unexplainedLitres;
  const sources: BalancePart<SourceKind>[] = [
    { kind: 'crew', litres: figures.refillCrewLitres },
    { kind: 'other', litres: figures.refillOtherLitres },
    { kind: 'rain', litres: figures.rainLitres },
    { kind: 'from_store', litres: Math.max(0, -storedLitres) },
    { kind: 'unexplained_gain', litres: Math.max(0, -unexplained) },
  ];
  const fates: BalancePart<FateKind>[] = [
    { kind: 'uptake', litres: figures.uptakeLitres },
    { kind: 'leak', litres: figures.leakLitres },
    { kind: 'overflow', litres: figures.overflowLitres },
    { kind: 'drained', litres: figures.drainedLitres },
    { kind: 'into_store', litres: Math.max(0, storedLitres) },
    { kind: 'unexplained_loss', litres: Math.max(0, unexplained) },
  ];
  return {
    sources: sources.filter((part) => part.litres > LEAST_LITRES),
    fates: fates.filter((part) => part.litres > LEAST_LITRES),
    totalLitres: sources.reduce((sum, part) => sum + part.litres, 0),
  };
}

/** Adds ledgers of different pots over the same days. */
export function addFigures(rows: readonly LedgerFigures[]): LedgerFigures {
  const sum = (pick: (row: LedgerFigures) => number): number => rows.reduce((total, row) => total + pick(row), 0);
  return {
    openingLitres: sum((row) => row.openingLitres),
    refillCrewLitres: sum((row) => row.refillCrewLitres),
    refillOtherLitres: sum((row) => row.refillOtherLitres),
    rainLitres: sum((row) => row.rainLitres),
    uptakeLitres: sum((row) => row.uptakeLitres),
    leakLitres: sum((row) => row.leakLitres),
    overflowLitres: sum((row) => row.overflowLitres),
    drainedLitres: sum((row) => row.drainedLitres),
    unexplainedLitres: sum((row) => row.unexplainedLitres),
    closingLitres: sum((row) => row.closingLitres),
  };
}
