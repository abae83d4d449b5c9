import type { PotInput } from '../domain/analysis.js';
import type { EpochMs, NodeId, SiteId } from '../domain/ids.js';
import { LocalDays } from '../domain/local-day.js';
import type { Assignment, Container, Site } from '../domain/registry.js';
import type { WeatherDay } from '../domain/weather.js';
import { assignmentInputs } from './pot-inputs.js';
import { type Arrival, type PotReplayResult, replayPot } from './replay-pot.js';
import { readSpool, type SpooledReading } from './replay-spool.js';

/** A share of the fleet that one worker takes in one piece. */
export interface BucketJob {
  readonly spoolDir: string;
  readonly bucket: number;
  /** Nodes by their number in the spool. */
  readonly nodes: readonly NodeId[];
  readonly promisedIntervalS: readonly (number | null)[];
  readonly sites: readonly Site[];
  readonly containers: readonly Container[];
  readonly assignments: readonly Assignment[];
  /** Observed days by site, gaps filled from its neighbours. */
  readonly observed: readonly { readonly siteId: SiteId; readonly days: readonly WeatherDay[] }[];
  readonly forecasts: readonly WeatherDay[];
  readonly origins: readonly { readonly containerId: string | null; readonly timeMs: EpochMs }[];
}

export interface BucketResult {
  readonly bucket: number;
  readonly readings: number;
  readonly pots: readonly { readonly containerId: string; readonly result: PotReplayResult }[];
}

/** Replays the pots of a bucket, one after the other. */
export function replayBucket(job: BucketJob): BucketResult {
  const spooled = readSpool(job.spoolDir, job.bucket);
  const byNode = new Map<NodeId, SpooledReading[]>();
  for (const reading of spooled) {
    const nodeId = job.nodes[reading.node]!;
    const rows = byNode.get(nodeId);
    if (rows === undefined) byNode.set(nodeId, [reading]);
    else rows.push(reading);
  }
  const promised = new Map(job.nodes.map((nodeId, index) => [nodeId, job.promisedIntervalS[index] ?? null]));
  const pots = job.containers.map((container) => {
    const site = job.sites.find((candidate) => candidate.id === container.siteId);
    if (site === undefined) throw new Error(`container ${container.id} stands on no site of its bucket`);
    const arrivals = [
      ...readingArrivals(container, job.assignments, byNode),
      ...weatherArrivals(site, job.observed.find((entry) => entry.siteId === site.id)?.days ?? []),
      ...assignmentInputs(job.assignments, container.id).map(atOwnTime),
    ];
    const forecasts = job.forecasts.filter((day) => day.siteId === site.id);
    const originsMs = job.origins
      .filter((origin) => origin.containerId === null || origin.containerId === container.id)
      .map((origin) => origin.timeMs)
      .sort((a, b) => a - b);
    const lastNode = job.assignments.filter((assignment) => assignment.containerId === container.id).at(-1)?.nodeId;
    const promisedIntervalS = lastNode === undefined ? null : (promised.get(lastNode) ?? null);
    const ctx = { container, site, calibration: null };
    return { containerId: container.id, result: replayPot({ ctx, promisedIntervalS, arrivals, forecasts, originsMs }) };
  });
  return { bucket: job.bucket, readings: spooled.length, pots };
}

function atOwnTime(input: PotInput): Arrival {
  return { receivedMs: input.timeMs, input };
}

/** What the nodes of a pot sent while they were assigned to it, as height above its floor. */
function readingArrivals(
  container: Container,
  assignments: readonly Assignment[],
  byNode: ReadonlyMap<NodeId, readonly SpooledReading[]>,
): readonly Arrival[] {
  const arrivals: Arrival[] = [];
  for (const assignment of assignments) {
    if (assignment.containerId !== container.id) continue;
    for (const row of byNode.get(assignment.nodeId) ?? []) {
      if (row.timeMs < assignment.fromMs || (assignment.toMs !== null && row.timeMs >= assignment.toMs)) continue;
      arrivals.push({
        receivedMs: row.receivedMs,
        input: {
          kind: 'reading',
          timeMs: row.timeMs,
          reading: {
            nodeId: assignment.nodeId,
            timeMs: row.timeMs,
            receivedMs: row.receivedMs,
            levelMm: row.levelMm === null ? null : row.levelMm + assignment.zeroMm,
            moistureFraction: row.moistureFraction,
            temperatureC: row.temperatureC,
            batteryV: row.batteryV,
            batteryFraction: null,
          },
        },
      });
    }
  }
  return arrivals;
}

/** An observed day is known from its end on. */
function weatherArrivals(site: Site, observed: readonly WeatherDay[]): readonly Arrival[] {
  const calendar = new LocalDays(site.timeZone);
  return observed.map((day): Arrival => {
    const timeMs = calendar.endMs(day.day);
    return { receivedMs: timeMs, input: { kind: 'weather', timeMs, day } };
  });
}
