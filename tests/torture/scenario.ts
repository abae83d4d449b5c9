import { rmSync } from 'node:fs';

/** One way of tormenting the program, and what must hold after it. */
export interface Scenario {
  readonly name: string;
  readonly summary: string;
  /** Its share of all kills that are asked for. */
  readonly share: number;
  /** Null where it can run here; otherwise what is missing, in words. */
  readonly missing?: () => string | null;
  run(plan: Plan): Promise<Outcome>;
}

export interface Plan {
  readonly kills: number;
  /** For scenarios that last rather than kill. */
  readonly minutes: number;
  /** Uniform in [0, 1). */
  readonly random: () => number;
  /** For progress; one line. */
  readonly say: (line: string) => void;
}

export interface Outcome {
  readonly kills: number;
  /** Readings that were acknowledged to a node. */
  readonly acknowledged: number;
  /** People's acts that were answered with success. */
  readonly acts: number;
  /** Everything that was lost, doubled, damaged or did not add up, in words. */
  readonly faults: readonly string[];
  /** What else is worth a line. */
  readonly notes: readonly string[];
}

/** Removes the folder of a scenario that found nothing; otherwise says where the evidence lies. */
export function keptWhereFaulty(dir: string, outcome: Outcome): Outcome {
  if (outcome.faults.length > 0) return { ...outcome, notes: [...outcome.notes, `what it left is in ${dir}`] };
  rmSync(dir, { recursive: true, force: true });
  return outcome;
}
