import { findSwaps } from '../../analytics/findings/nodes-swapped.js';
import { SkillHistory } from '../../analytics/forecast-archive.js';
import type { PotInput } from '../../domain/analysis.js';
import type { EpochMs, NodeId, SiteId } from '../../domain/ids.js';
import { addDays, LocalDays } from '../../domain/local-day.js';
import type { Finding } from '../../domain/pot.js';
import type { Assignment, Container, Site } from '../../domain/registry.js';
import type { WeatherDay } from '../../domain/weather.js';
import { assignmentInputs } from '../analysis/pot-inputs.js';
import { findingChanges } from '../analysis/say.js';
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
  readonly pots: readonly ReplayedPot[];
}

export interface ReplayedPot {
  readonly containerId: string;
  readonly result: PotReplayResult;
}

/** When the pots of a site are compared, on its wall. */
const NIGHT_HOUR = 3;

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
  const nights = new Map(job.sites.map((site) => [site.id, nightsOf(site, spooled)]));
  const skills = new Map(job.sites.map((site) => [site.id, skillOf(site, job)]));
  const pots = job.containers.map((container): ReplayedPot => {
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
    const comparedMs = nights.get(site.id) ?? [];
    const skill = skills.get(site.id)!;
    const result = replayPot({ ctx, promisedIntervalS, arrivals, forecasts, skill, originsMs, comparedMs });
    return { containerId: container.id, result };
  });
  const compared = job.sites.flatMap((site) => {
    const here = new Set(job.containers.filter((one) => one.siteId === site.id).map((one) => one.id));
    return comparePots(
      pots.filter((pot) => here.has(pot.containerId)),
      nights.get(site.id) ?? [],
    );
  });
  return { bucket: job.bucket, readings: spooled.length, pots: compared };
}

/** The nightly job's time of the live service, for each night of the record. */
function nightsOf(site: Site, readings: readonly SpooledReading[]): readonly EpochMs[] {
  let firstMs = Number.POSITIVE_INFINITY;
  let lastMs = Number.NEGATIVE_INFINITY;
  for (const { receivedMs } of readings) {
    firstMs = Math.min(firstMs, receivedMs);
    lastMs = Math.max(lastMs, receivedMs);
  }
  if (firstMs > lastMs) return [];
  const calendar = new LocalDays(site.timeZone);
  const nights: EpochMs[] = [];
  for (let day = calendar.dayOf(firstMs); ; day = addDays(day, 1)) {
    const atMs = calendar.atMs(day, NIGHT_HOUR);
    if (atMs > lastMs) return nights;
    if (atMs >= firstMs) nights.push(atMs);
  }
}

/** Compares the pots of a site night by night, and adds what is said of exchanged nodes to their findings. */
function comparePots(pots: readonly ReplayedPot[], nights: readonly EpochMs[]): readonly ReplayedPot[] {
  const records = new Map(pots.map((pot) => [pot.containerId, new Map<string, Finding>()]));
  const standing = new Map<string, readonly Finding[]>();
  nights.forEach((atMs, night) => {
    const summaries = pots.map((pot) => pot.result.summaries[night] ?? null).filter((one) => one !== null);
    const drafts = summaries.length < 2 ? [] : findSwaps(summaries);
    for (const { containerId } of pots) {
      const own = drafts.filter((draft) => draft.containerId === containerId);
      const { changed, open } = findingChanges(standing.get(containerId) ?? [], own, atMs);
      for (const finding of changed) records.get(containerId)!.set(finding.id, finding);
      standing.set(containerId, open);
    }
  });
  return pots.map((pot) => {
    const findings = [...pot.result.findings, ...records.get(pot.containerId)!.values()];
    findings.sort((x, y) => x.openedMs - y.openedMs || (x.id < y.id ? -1 : 1));
    return { containerId: pot.containerId, result: { ...pot.result, findings, summaries: [] } };
  });
}

function skillOf(site: Site, job: BucketJob): SkillHistory {
  const observed = job.observed.find((entry) => entry.siteId === site.id)?.days ?? [];
  const issued = job.forecasts.filter((day) => day.siteId === site.id);
  return new SkillHistory({ site }, observed, issued);
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
