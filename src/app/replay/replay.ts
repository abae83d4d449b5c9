import { existsSync } from 'node:fs';
import { availableParallelism } from 'node:os';
import { fileURLToPath } from 'node:url';
import { Worker } from 'node:worker_threads';
import { shareWeather, sharingSites } from '../../analytics/weather-sharing.js';
import { type EpochMs, ID_PATTERN, type NodeId, type SiteId } from '../../domain/ids.js';
import type { Container, Fleet, Site } from '../../domain/registry.js';
import { shown } from '../../domain/senml/shown.js';
import type { WeatherDay } from '../../domain/weather.js';
import { type CsvFormat, parseInstant, type RefusedRow, readCsv, refuseRow } from '../readings/import-csv-table.js';
import type { CsvSource } from '../readings/import-files.js';
import { readingsFormat } from '../readings/import-readings.js';
import { weatherFormat } from '../readings/import-weather.js';
import { type BucketJob, type BucketResult, replayBucket } from './replay-bucket.js';
import { calibrateReplay } from './replay-calibration.js';
import { type ReplayFiles, replayFiles } from './replay-output.js';
import { SpoolWriter } from './replay-spool.js';

export interface ReplaySources {
  readonly fleet: Fleet;
  readonly readings: CsvSource;
  readonly readingsBytes: number;
  readonly weather: CsvSource | null;
  readonly origins: CsvSource;
}

export interface ReplayOptions {
  /** An empty folder for the sorted readings; about as large as the readings file. */
  readonly spoolDir: string;
  /** Threads that replay; 0 does all in this one. */
  readonly threads: number;
  readonly onProgress: (line: string) => void;
}

export interface ReplayTally {
  readonly rows: number;
  readonly taken: number;
  readonly refused: readonly RefusedRow[];
}

export interface ReplayResult {
  readonly files: ReplayFiles;
  readonly readings: ReplayTally;
  readonly weather: ReplayTally;
  readonly origins: ReplayTally;
  readonly containers: number;
}

/** A bucket of this many bytes of CSV takes some 30 MB while it is replayed. */
const BUCKET_BYTES = 12 * 1024 * 1024;
/** Nearly all that a replay makes is dead by the next reading: a larger nursery spares copying the rest again and again. */
const YOUNG_MB = 64;
/** Simulated fleets may lie in the future. */
const END_OF_TIME_MS = 8.64e15;

/** All the cores there are: the replay is nothing but computing. */
export function usualThreads(): number {
  return Math.max(1, availableParallelism());
}

/**
 * Runs the live analysis over files and answers at each origin by what had been received by then. Readings are sorted
 * into buckets on disk first, since they may come in any order; then pots are replayed on several threads.
 *
 * @throws DomainError `file_unreadable` where a file lacks a column
 */
export async function replayFleet(sources: ReplaySources, options: ReplayOptions): Promise<ReplayResult> {
  const { fleet } = sources;
  const zones = new Map(fleet.sites.map((site) => [site.id, site.timeZone]));
  const observed: WeatherDay[] = [];
  const forecasts: WeatherDay[] = [];
  const weather = await readRows(
    sources.weather,
    weatherFormat({ nowMs: END_OF_TIME_MS, timeZone: (id) => zones.get(id) ?? null }),
    (day) => (day.issuedMs === null ? observed : forecasts).push(day),
    (rows) => options.onProgress(`weather: ${rows} rows`),
  );
  const ids = new Set(fleet.containers.map((container) => container.id));
  const origins: Origin[] = [];
  const originRows = await readRows(
    sources.origins,
    originsFormat(ids),
    (origin) => origins.push(origin),
    () => {},
  );

  const plan = planBuckets(fleet, sources.readingsBytes, options.threads);
  const spool = new SpoolWriter(options.spoolDir, plan.buckets.length);
  const nodeNumbers = new Map(plan.nodes.map((nodeId, index) => [nodeId, index]));
  const startedMs = performance.now();
  let bytes = 0;
  const readings = await readRows(
    { name: sources.readings.name, input: counted(sources.readings.input, (length) => (bytes += length)) },
    readingsFormat({
      nowMs: END_OF_TIME_MS,
      knowsNode: (id) => plan.knownNodes.has(id),
      firstAssignmentMs: (id) => plan.firstAssignmentMs.get(id) ?? null,
    }),
    (reading) => {
      const node = nodeNumbers.get(reading.nodeId);
      if (node === undefined) return;
      for (const bucket of plan.bucketsOfNode[node]!) spool.add(bucket, node, reading);
    },
    (rows) => {
      const percent = Math.floor((bytes / Math.max(1, sources.readingsBytes)) * 100);
      options.onProgress(`readings: ${percent} %, ${rows} rows sorted`);
    },
  );
  spool.close();

  const observedBySite = new Map<SiteId, WeatherDay[]>(fleet.sites.map((site) => [site.id, []]));
  for (const day of observed) observedBySite.get(day.siteId)?.push(day);
  const jobs = plan.buckets.map((containers, bucket): BucketJob => {
    const siteIds = new Set(containers.map((container) => container.siteId));
    const here = new Set(containers.map((container) => container.id));
    return {
      spoolDir: options.spoolDir,
      bucket,
      nodes: plan.nodes,
      promisedIntervalS: plan.nodes.map((id) => fleet.nodes.find((node) => node.id === id)?.promisedIntervalS ?? null),
      sites: fleet.sites.filter((site) => siteIds.has(site.id)),
      containers,
      assignments: fleet.assignments.filter((assignment) => here.has(assignment.containerId)),
      observed: fleet.sites
        .filter((site) => siteIds.has(site.id))
        .map((site) => ({ siteId: site.id, days: sharedDays(site, fleet.sites, observedBySite) })),
      forecasts: forecasts.filter((day) => siteIds.has(day.siteId)),
      origins: origins.filter((origin) => origin.containerId === null || here.has(origin.containerId)),
    };
  });
  let pots = 0;
  let done = 0;
  const results = await runJobs(jobs, options.threads, (result) => {
    pots += result.pots.length;
    done += result.readings;
    const seconds = (performance.now() - startedMs) / 1000;
    options.onProgress(
      `replay: ${pots} of ${fleet.containers.length} containers, ${done} readings, ${seconds.toFixed(0)} s`,
    );
  });
  return {
    files: replayFiles(calibrateReplay(results.flatMap((result) => result.pots))),
    readings,
    weather,
    origins: originRows,
    containers: fleet.containers.length,
  };
}

function sharedDays(
  site: Site,
  sites: readonly Site[],
  observedBySite: ReadonlyMap<SiteId, readonly WeatherDay[]>,
): readonly WeatherDay[] {
  const own = observedBySite.get(site.id) ?? [];
  return shareWeather(
    own,
    sharingSites(site, sites).map((other) => observedBySite.get(other.id) ?? []),
  );
}

interface Origin {
  readonly containerId: string | null;
  readonly timeMs: EpochMs;
}

function originsFormat(containers: ReadonlySet<string>): CsvFormat<Origin> {
  return {
    contentType: 'text/csv; table=origins',
    required: ['time'],
    anyOf: ['time'],
    optional: ['container'],
    parse: (row) => {
      const timeMs = parseInstant('time', row.cell('time'));
      if (typeof timeMs !== 'number') return { kind: 'refused', ...timeMs };
      const containerId = row.cell('container');
      if (containerId === '') return { kind: 'row', row: { containerId: null, timeMs } };
      if (!ID_PATTERN.test(containerId) || !containers.has(containerId)) {
        return refuseRow('bad_row', `container is ${shown(containerId)}, which the fleet file does not know.`);
      }
      return { kind: 'row', row: { containerId, timeMs } };
    },
  };
}

async function readRows<Row>(
  source: CsvSource | null,
  format: CsvFormat<Row>,
  take: (row: Row) => void,
  onRows: (rows: number) => void,
): Promise<ReplayTally> {
  let taken = 0;
  const refused: RefusedRow[] = [];
  if (source !== null) {
    for await (const batch of readCsv(source.input, source.name, format)) {
      for (const { row } of batch.rows) take(row);
      taken += batch.rows.length;
      refused.push(...batch.refused);
      onRows(taken + refused.length);
    }
  }
  return { rows: taken + refused.length, taken, refused };
}

async function* counted(input: AsyncIterable<Uint8Array>, count: (length: number) => void): AsyncGenerator<Uint8Array> {
  for await (const chunk of input) {
    count(chunk.byteLength);
    yield chunk;
  }
}

interface BucketPlan {
  readonly buckets: readonly (readonly Container[])[];
  readonly nodes: readonly NodeId[];
  readonly bucketsOfNode: readonly (readonly number[])[];
  readonly knownNodes: ReadonlySet<NodeId>;
  readonly firstAssignmentMs: ReadonlyMap<NodeId, EpochMs>;
}

/** Deals the pots out, those of a site together, into buckets of about equal numbers. */
function planBuckets(fleet: Fleet, readingsBytes: number, threads: number): BucketPlan {
  const wanted = Math.max(Math.ceil(readingsBytes / BUCKET_BYTES), threads * 2, 1);
  const count = Math.max(1, Math.min(wanted, fleet.sites.length));
  const buckets: Container[][] = Array.from({ length: count }, () => []);
  const bucketOf = new Map<string, number>();
  for (const site of fleet.sites) {
    const own = fleet.containers.filter((container) => container.siteId === site.id);
    let least = 0;
    for (let bucket = 1; bucket < count; bucket++) if (buckets[bucket]!.length < buckets[least]!.length) least = bucket;
    buckets[least]!.push(...own);
    for (const container of own) bucketOf.set(container.id, least);
  }
  const nodes: NodeId[] = [];
  const bucketSets = new Map<NodeId, Set<number>>();
  const firstAssignmentMs = new Map<NodeId, EpochMs>();
  for (const assignment of fleet.assignments) {
    let set = bucketSets.get(assignment.nodeId);
    if (set === undefined) {
      set = new Set();
      bucketSets.set(assignment.nodeId, set);
      nodes.push(assignment.nodeId);
    }
    const bucket = bucketOf.get(assignment.containerId);
    if (bucket !== undefined) set.add(bucket);
    const first = firstAssignmentMs.get(assignment.nodeId);
    firstAssignmentMs.set(assignment.nodeId, Math.min(first ?? assignment.fromMs, assignment.fromMs));
  }
  return {
    buckets,
    nodes,
    bucketsOfNode: nodes.map((nodeId) => [...bucketSets.get(nodeId)!]),
    knownNodes: new Set([...nodes, ...fleet.nodes.map((node) => node.id)]),
    firstAssignmentMs,
  };
}

async function runJobs(
  jobs: readonly BucketJob[],
  threads: number,
  onResult: (result: BucketResult) => void,
): Promise<readonly BucketResult[]> {
  const results: BucketResult[] = [];
  const file = fileURLToPath(new URL('./replay-worker.js', import.meta.url));
  // Workers run compiled files only; from source everything is done in this thread.
  if (threads === 0 || !existsSync(file)) {
    for (const job of jobs) {
      const result = replayBucket(job);
      results.push(result);
      onResult(result);
    }
    return results;
  }
  let next = 0;
  const runWorker = (): Promise<void> =>
    new Promise((resolve, reject) => {
      const worker = new Worker(file, { resourceLimits: { maxYoungGenerationSizeMb: YOUNG_MB } });
      const give = (): void => {
        const job = jobs[next];
        next += 1;
        if (job === undefined) void worker.terminate();
        else worker.postMessage(job);
      };
      worker.on('message', (result: BucketResult) => {
        results.push(result);
        onResult(result);
        give();
      });
      worker.on('error', reject);
      worker.on('exit', () => resolve());
      give();
    });
  await Promise.all(Array.from({ length: Math.min(threads, jobs.length) }, runWorker));
  if (results.length < jobs.length) throw new Error('a worker of the replay ended before its work was done');
  return results;
}
