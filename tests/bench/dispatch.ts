import { existsSync } from 'node:fs';
import { parseArgs } from 'node:util';
import { planInWorkers } from '../../src/app/planning/plan-worker.js';
import type { Plan, Problem } from '../../src/dispatch/problem.js';
import { checkPlan, type FilePlan } from './dispatch/check-plan.js';
import { knownValue } from './dispatch/known-values.js';
import { checkPublished } from './dispatch/published.js';
import type { RawInstance } from './dispatch/raw-instance.js';
import { readInstance } from './dispatch/read-files.js';
import { poseProblem } from './dispatch/to-problem.js';
import type { Benchmark } from './run.js';

const HELP = `Usage: npm run --silent bench dispatch -- [OPTIONS] FILE...

Solves public benchmark files with the product's planner and prints
instance,kind,cost,best,gap_pct,seconds,feasible and a mean and worst gap per kind.

FILE        .txt (Solomon, Gehring-Homberger), .vrp, .tsp or .dat (Archetti, inventory routing);
            a .json file of published inventory solutions is evaluated, not solved.
--seconds N search time for each file (default 10)
--processor the seconds are those of the processor that each thread gets, not of the wall
--workers N threads (default 2)
--seed N    first seed (default 1)
--policy P  ML (any amount, default) or OU (fill up) for .dat files
--best V    known value, for a single file without one beside it

Known values come from a .sol file, solutions.txt, optima.csv or best-known.csv beside the instance.
Fails where a plan breaks a rule of its file.`;

interface Line {
  readonly kind: string;
  readonly gap: number | null;
  readonly feasible: boolean;
}

/** A plan in the terms of a file: nodes are customers counted from 1. */
function toFilePlan(plan: Plan, problem: Problem): FilePlan {
  const days: (readonly [number, number])[][][] = Array.from({ length: problem.dayCount }, () => []);
  for (const { tour, stops } of plan.tours) {
    days[problem.tours[tour]!.day]!.push(stops.map((stop) => [stop.customer + 1, stop.units] as const));
  }
  return days;
}

async function solveFile(path: string, raw: RawInstance, best: number | null, options: Options): Promise<Line> {
  const { problem, scale, constant } = poseProblem(raw);
  const startedMs = performance.now();
  const { plan } = await planInWorkers({ problem, ...options });
  const seconds = (performance.now() - startedMs) / 1000;
  const checked = checkPlan(raw, toFilePlan(plan, problem));
  const claimed = plan.cost * scale + constant;
  const faults = [...checked.faults];
  if (faults.length === 0 && Math.abs(claimed - checked.cost) > 1e-3) {
    faults.push(`the planner says ${claimed}, the checker ${checked.cost}`);
  }
  for (const fault of faults) console.error(`${path}: ${fault}`);
  const gap = best === null ? null : (100 * (checked.cost - best)) / best;
  const cells = [
    raw.name,
    raw.kind,
    checked.cost,
    best ?? '',
    gap?.toFixed(3) ?? '',
    seconds.toFixed(1),
    faults.length === 0 ? 'yes' : 'no',
  ];
  console.log(cells.join(','));
  return { kind: raw.kind, gap, feasible: faults.length === 0 };
}

function summarise(lines: readonly Line[]): void {
  for (const kind of new Set(lines.map((line) => line.kind))) {
    const gaps = lines.flatMap((line) => (line.kind === kind && line.gap !== null ? [line.gap] : []));
    if (gaps.length === 0) continue;
    const mean = gaps.reduce((sum, gap) => sum + gap, 0) / gaps.length;
    // Values beside the inventory files were proved to 0.02 %.
    const reached = gaps.filter((gap) => gap <= 0.02).length;
    console.log(
      `# ${kind}: ${gaps.length} files, mean gap ${mean.toFixed(3)} %, worst ${Math.max(...gaps).toFixed(3)} %, ${reached} at the known value`,
    );
  }
}

interface Options {
  readonly seconds: number;
  readonly ofProcessor: boolean;
  readonly workers: number;
  readonly seed: number;
}

function positive(name: string, text: string): number {
  const value = Number(text);
  if (!(value > 0)) throw new Error(`--${name} ${text}: give a number above 0.`);
  return value;
}

async function run(args: readonly string[]): Promise<void> {
  const { values, positionals } = parseArgs({
    args: [...args],
    allowPositionals: true,
    options: {
      seconds: { type: 'string', default: '10' },
      processor: { type: 'boolean', default: false },
      workers: { type: 'string', default: '2' },
      seed: { type: 'string', default: '1' },
      policy: { type: 'string', default: 'ML' },
      best: { type: 'string' },
    },
  });
  if (positionals.length === 0) throw new Error('Which files? Give one or more; --help tells the forms.');
  const missing = positionals.filter((path) => !existsSync(path));
  if (missing.length > 0) throw new Error(`There is no file ${missing.join(', ')}.`);
  const { policy } = values;
  if (policy !== 'ML' && policy !== 'OU') throw new Error(`--policy ${policy}: give ML or OU.`);
  if (values.best !== undefined && positionals.length > 1) throw new Error('--best goes with a single file.');
  const options = {
    seconds: positive('seconds', values.seconds),
    ofProcessor: values.processor,
    workers: positive('workers', values.workers),
    seed: positive('seed', values.seed),
  };
  console.log('instance,kind,cost,best,gap_pct,seconds,feasible');
  const lines: Line[] = [];
  for (const path of positionals) {
    if (path.endsWith('.json')) {
      lines.push(...checkPublished(path));
      continue;
    }
    const raw = readInstance(path, policy);
    const best = values.best === undefined ? knownValue(path, raw) : positive('best', values.best);
    lines.push(await solveFile(path, raw, best, options));
  }
  summarise(lines);
  if (lines.some((line) => !line.feasible)) throw new Error('Some plans break a rule of their file: see above.');
}

export const benchmark: Benchmark = {
  name: 'dispatch',
  summary: 'the planner on public routing and inventory-routing files',
  help: HELP,
  run,
};
