import { isMainThread, parentPort, receiveMessageOnPort, Worker, workerData } from 'node:worker_threads';
import type { Plan, Problem } from '../../dispatch/problem.js';
import { type Solved, solve } from '../../dispatch/solve.js';
import { seededRng } from './seeded-rng.js';

/** What a planning thread is started with. */
interface WorkerTask {
  readonly problem: Problem;
  readonly seed: number;
  readonly seconds: number;
  /** Threads that share the process's time; null where seconds are those of the wall. */
  readonly sharers: number | null;
  readonly start: Plan | null;
  readonly heat: number;
}

type FromWorker =
  | { readonly kind: 'better'; readonly plan: Plan }
  | { readonly kind: 'done'; readonly plan: Plan; readonly iterations: number };

export interface PlanRequest {
  readonly problem: Problem;
  readonly workers: number;
  /** Time for the search; laying out the problem comes on top. */
  readonly seconds: number;
  /** Seconds of the processor that each thread gets, instead of the wall: for measuring on a machine that others use. */
  readonly ofProcessor?: boolean;
  readonly seed: number;
  readonly start?: Plan;
  readonly heat?: number;
  /** Told of each plan that is better than all before; the last good one is always whole. */
  readonly onBetter?: (plan: Plan) => void;
  /** Ends the search early with the best plan so far. */
  readonly signal?: AbortSignal;
}

/**
 * Plans in worker threads, each with a seed of its own, that tell one another of better plans. Runs from compiled files
 * only. Rejects where a thread fails; the others are stopped then.
 */
export async function planInWorkers(request: PlanRequest): Promise<Solved> {
  const { problem, seconds, seed } = request;
  const threads: Worker[] = [];
  let best: Plan | null = null;
  let iterations = 0;
  const take = (plan: Plan, from: Worker) => {
    if (best !== null && plan.cost >= best.cost) return;
    best = plan;
    request.onBetter?.(plan);
    for (const other of threads) if (other !== from) other.postMessage(plan);
  };
  const runs = Array.from({ length: request.workers }, (_, k) => {
    const task: WorkerTask = {
      problem,
      seed: seed + 7919 * k,
      seconds,
      sharers: request.ofProcessor === true ? request.workers : null,
      start: request.start ?? null,
      heat: request.heat ?? 1,
    };
    const worker = new Worker(new URL(import.meta.url), { workerData: task });
    threads.push(worker);
    return new Promise<void>((resolve, reject) => {
      worker.on('message', (message: FromWorker) => {
        take(message.plan, worker);
        if (message.kind === 'done') {
          iterations += message.iterations;
          resolve();
        }
      });
      worker.on('error', reject);
      worker.on('exit', () => resolve());
    });
  });
  const stop = () => {
    for (const worker of threads) void worker.terminate();
  };
  request.signal?.addEventListener('abort', stop, { once: true });
  try {
    await Promise.all(runs);
  } finally {
    request.signal?.removeEventListener('abort', stop);
    await Promise.all(threads.map((worker) => worker.terminate()));
  }
  if (best === null) throw new Error('The planning was stopped before there was a first plan.');
  return { plan: best, iterations };
}

/** Milliseconds from now on: of the wall, or of the processor, as one of `sharers` threads that are busy alike. */
function stopwatch(sharers: number | null): () => number {
  if (sharers === null) {
    const startedMs = performance.now();
    return () => performance.now() - startedMs;
  }
  const before = process.cpuUsage();
  return () => {
    const { user, system } = process.cpuUsage(before);
    return (user + system) / 1000 / sharers;
  };
}

function runAsWorker(task: WorkerTask): void {
  const port = parentPort!;
  const spentMs = stopwatch(task.sharers);
  const say = (message: FromWorker) => port.postMessage(message);
  const solved = solve(task.problem, seededRng(task.seed), {
    progress: () => spentMs() / (task.seconds * 1000),
    heat: task.heat,
    ...(task.start === null ? {} : { start: task.start }),
    onBetter: (plan) => say({ kind: 'better', plan }),
    adopt: () => {
      let newest: Plan | null = null;
      for (let got = receiveMessageOnPort(port); got !== undefined; got = receiveMessageOnPort(port)) {
        newest = got.message as Plan;
      }
      return newest;
    },
  });
  say({ kind: 'done', plan: solved.plan, iterations: solved.iterations });
}

if (!isMainThread && parentPort !== null) runAsWorker(workerData as WorkerTask);
