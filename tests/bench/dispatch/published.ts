import { existsSync, readFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { checkPlan, type FilePlan } from './check-plan.js';
import { readInstance } from './read-files.js';

interface PublishedSolution {
  readonly instance: string;
  readonly published_value: number;
  readonly recomputed_excl_initial: number;
  readonly recomputed_incl_initial: number;
  readonly days: FilePlan;
}

/** A published vehicle of K shares of the single one is rounded up where the file's is rounded down. */
const VEHICLE_ROUNDING = 1;

/**
 * Evaluates published solutions (Chitsaz, Cordeau and Jans 2019, supplement) whose instance lies in the folders beside them:
 * their cost, initial stock included, has to come out to the cent.
 */
export function checkPublished(path: string): { kind: string; gap: number | null; feasible: boolean }[] {
  const out: { kind: string; gap: number | null; feasible: boolean }[] = [];
  const solutions = JSON.parse(readFileSync(path, 'utf8')) as PublishedSolution[];
  for (const solution of solutions) {
    const [, name, group] = /^(.+)_([LH]\d)$/.exec(solution.instance) ?? [];
    const file = join(dirname(path), group ?? '', `${name}.dat`);
    if (!existsSync(file)) {
      console.log(`# ${solution.instance}: its instance is not beside ${path}`);
      continue;
    }
    const raw = readInstance(file, 'ML');
    if (raw.form !== 'inventory') throw new Error(`${file} is no inventory instance.`);
    const { cost, faults } = checkPlan({ ...raw, capacity: raw.capacity + VEHICLE_ROUNDING }, solution.days);
    const initial =
      raw.supplier.holding * raw.supplier.initial +
      raw.customers.reduce((sum, one) => sum + one.holding * one.initial, 0);
    const total = cost + initial;
    const agrees = Math.abs(total - solution.published_value) < 0.006 && faults.length === 0;
    for (const fault of faults) console.error(`${solution.instance}: ${fault}`);
    console.log(
      `${solution.instance},published,${total.toFixed(2)},${solution.published_value},${(total - solution.published_value).toFixed(3)},0.0,${agrees ? 'yes' : 'no'}`,
    );
    out.push({ kind: 'published', gap: total - solution.published_value, feasible: agrees });
  }
  return out;
}
