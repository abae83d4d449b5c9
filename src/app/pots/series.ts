import type { CleaningReason } from '../../analytics/analysis.js';
import { makeStrapping } from '../../analytics/strapping.js';
import type { Principal } from '../../domain/access.js';
import { DomainError } from '../../domain/errors.js';
import type { ContainerId, EpochMs } from '../../domain/ids.js';
import { DAY_MS, LocalDays } from '../../domain/local-day.js';
import type { Finding, PotEvent, PotReading, RollupValues } from '../../domain/pot.js';
import { cleanedBetween } from '../analysis/past-fold.js';
import { type App, allowed } from '../context.js';
import { containerOf } from './containers.js';

export type SeriesResolution = 'raw' | 'hour' | 'day';

export interface ContainerSeries {
  readonly containerId: ContainerId;
  readonly resolution: SeriesResolution;
  readonly fromMs: EpochMs;
  readonly toMs: EpochMs;
  /** Times of readings, starts of UTC hours or starts of site-local days; one value a time in every column. */
  readonly times: readonly EpochMs[];
  readonly levelMm: readonly (number | null)[];
  /** Null for raw readings. */
  readonly levelMinMm: readonly (number | null)[] | null;
  readonly levelMaxMm: readonly (number | null)[] | null;
  readonly litres: readonly (number | null)[];
  readonly moistureFraction: readonly (number | null)[];
  readonly temperatureC: readonly (number | null)[];
  readonly batteryV: readonly (number | null)[];
  /** The level after cleaning, and why; null unless asked for, and for anything but raw readings. */
  readonly cleanedLevelMm: readonly (number | null)[] | null;
  readonly cleaningReason: readonly CleaningReason[] | null;
  readonly events: readonly PotEvent[];
  readonly findings: readonly Finding[];
}

/** Up to these spans a resolution is chosen where none is asked for: about a thousand points on a screen. */
const RAW_UP_TO_MS = 10 * DAY_MS;
const HOURS_UP_TO_MS = 60 * DAY_MS;

/** Beyond these a request would hold more than about 60 000 points, at a reading a minute. */
const LONGEST_MS: Readonly<Record<SeriesResolution, number>> = {
  raw: 45 * DAY_MS,
  hour: 1_100 * DAY_MS,
  day: 20 * 366 * DAY_MS,
};

/**
 * A container's level, litres and the rest over [fromMs, toMs).
 * @throws DomainError `invalid_input` for a span too long for the resolution
 */
export async function containerSeries(
  app: App,
  who: Principal,
  id: ContainerId,
  query: {
    readonly fromMs: EpochMs;
    readonly toMs: EpochMs;
    readonly resolution: SeriesResolution | null;
    readonly cleaning: boolean;
  },
): Promise<ContainerSeries> {
  const scope = allowed(who, 'containers.read');
  const container = await containerOf(app, who, id);
  const { fromMs, toMs } = query;
  const resolution = query.resolution ?? resolutionFor(toMs - fromMs);
  if (toMs - fromMs > LONGEST_MS[resolution]) {
    const detail = `spans more than ${LONGEST_MS[resolution] / DAY_MS} days at resolution ${resolution}; ask for a shorter span or a coarser resolution`;
    throw new DomainError('invalid_input', `The series ${detail}.`, { faults: [{ pointer: '?to', detail }] });
  }
  const { pots, registry, readings } = app.store;
  const [events, findings] = await Promise.all([
    pots.events(scope, id, fromMs, toMs),
    pots.findings(scope, { containerId: id, openOnly: false, fromMs }),
  ]);
  const common = {
    containerId: id,
    resolution,
    fromMs,
    toMs,
    events,
    findings: findings.filter((finding) => (finding.onsetMs ?? finding.openedMs) < toMs),
    cleanedLevelMm: null,
    cleaningReason: null,
  };
  if (resolution === 'raw') {
    const { litresAt } = makeStrapping(container.reservoir);
    const rows = await readings.ofContainer(scope, id, fromMs, toMs);
    return {
      ...common,
      ...(query.cleaning ? await cleaning(app, id, rows, toMs) : {}),
      times: rows.map((row) => row.timeMs),
      levelMm: rows.map((row) => row.levelMm),
      levelMinMm: null,
      levelMaxMm: null,
      litres: rows.map((row) => (row.levelMm === null ? null : litresAt(row.levelMm))),
      moistureFraction: rows.map((row) => row.moistureFraction),
      temperatureC: rows.map((row) => row.temperatureC),
      batteryV: rows.map((row) => row.batteryV),
    };
  }
  if (resolution === 'hour') {
    const rows = await pots.hourRollups(scope, id, fromMs, toMs);
    return { ...common, times: rows.map((row) => row.hourMs), ...columns(rows) };
  }
  const site = await registry.site(scope, container.siteId);
  if (site === null) throw new Error(`container ${id} stands on site ${container.siteId}, which is not there`);
  const days = new LocalDays(site.timeZone);
  const rows = await pots.dayRollups(scope, id, days.dayOf(fromMs), days.dayOf(toMs - 1));
  return { ...common, times: rows.map((row) => days.startMs(row.day)), ...columns(rows) };
}

/** What became of each reading's level, as the analysis sees it now. */
async function cleaning(
  app: App,
  id: ContainerId,
  rows: readonly PotReading[],
  toMs: EpochMs,
): Promise<Pick<ContainerSeries, 'cleanedLevelMm' | 'cleaningReason'>> {
  const first = rows[0];
  if (first === undefined) return { cleanedLevelMm: [], cleaningReason: [] };
  const levels = await cleanedBetween(app, id, first.timeMs, toMs);
  const byReading = new Map(levels.map((level) => [`${level.nodeId} ${level.timeMs}`, level]));
  const found = rows.map((row) => byReading.get(`${row.nodeId} ${row.timeMs}`) ?? null);
  return {
    cleanedLevelMm: found.map((level) => level?.levelMm ?? null),
    cleaningReason: found.map((level) => level?.reason ?? 'waits'),
  };
}

function resolutionFor(spanMs: number): SeriesResolution {
  if (spanMs <= RAW_UP_TO_MS) return 'raw';
  return spanMs <= HOURS_UP_TO_MS ? 'hour' : 'day';
}

function columns(
  rows: readonly RollupValues[],
): Pick<
  ContainerSeries,
  'levelMm' | 'levelMinMm' | 'levelMaxMm' | 'litres' | 'moistureFraction' | 'temperatureC' | 'batteryV'
> {
  return {
    levelMm: rows.map((row) => row.levelMeanMm),
    levelMinMm: rows.map((row) => row.levelMinMm),
    levelMaxMm: rows.map((row) => row.levelMaxMm),
    litres: rows.map((row) => row.litresMean),
    moistureFraction: rows.map((row) => row.moistureMean),
    temperatureC: rows.map((row) => row.temperatureMeanC),
    batteryV: rows.map((row) => row.batteryMinV),
  };
}
