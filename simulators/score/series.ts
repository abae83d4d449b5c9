import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { numberOf, readCsv, timeOf } from './read-csv.js';

/** A pot's level as its node sent it, in order of time; for the naive ways only. */
export interface LevelSeries {
  readonly timeMs: Float64Array;
  readonly receivedMs: Float64Array;
  readonly levelMm: Float64Array;
  /** When the present node began, for each change of node. */
  readonly nodeStartsMs: readonly number[];
}

interface FleetFile {
  readonly containers: readonly { readonly id: string; readonly nodeId?: string }[];
  readonly assignments: readonly {
    readonly nodeId: string;
    readonly containerId: string;
    readonly from: string;
    readonly to: string | null;
    readonly zeroMm?: number;
  }[];
}

interface Place {
  readonly containerId: string;
  readonly fromMs: number;
  readonly toMs: number;
  readonly zeroMm: number;
}

/** Level series of all pots of a fleet folder, by container. */
export async function loadSeries(fleetDir: string): Promise<Map<string, LevelSeries>> {
  const fleet = JSON.parse(readFileSync(join(fleetDir, 'fleet.json'), 'utf8')) as FleetFile;
  const places = new Map<string, Place[]>();
  const put = (nodeId: string, place: Place): void => {
    const list = places.get(nodeId);
    if (list === undefined) places.set(nodeId, [place]);
    else list.push(place);
  };
  for (const c of fleet.containers) {
    if (c.nodeId !== undefined) put(c.nodeId, { containerId: c.id, fromMs: -Infinity, toMs: Infinity, zeroMm: 0 });
  }
  for (const a of fleet.assignments) {
    put(a.nodeId, {
      containerId: a.containerId,
      fromMs: timeOf(a.from)!,
      toMs: a.to === null ? Infinity : timeOf(a.to)!,
      zeroMm: a.zeroMm ?? 0,
    });
  }
  const raw = new Map<
    string,
    { timeMs: number[]; receivedMs: number[]; levelMm: number[]; nodes: Map<string, number> }
  >();
  await readCsv(join(fleetDir, 'readings.csv'), (row) => {
    const level = numberOf(row('level_mm'));
    const list = places.get(row('node'));
    if (level === null || list === undefined) return;
    const timeMs = timeOf(row('time'))!;
    const place = list.find((p) => timeMs >= p.fromMs && timeMs < p.toMs);
    if (place === undefined) return;
    let series = raw.get(place.containerId);
    if (series === undefined) {
      series = { timeMs: [], receivedMs: [], levelMm: [], nodes: new Map() };
      raw.set(place.containerId, series);
    }
    series.timeMs.push(timeMs);
    series.receivedMs.push(timeOf(row('received')) ?? timeMs);
    series.levelMm.push(level + place.zeroMm);
    const known = series.nodes.get(row('node'));
    if (known === undefined || timeMs < known) series.nodes.set(row('node'), timeMs);
  });
  const sorted = new Map<string, LevelSeries>();
  for (const [id, series] of raw) {
    const order = series.timeMs.map((_, index) => index).sort((a, b) => series.timeMs[a]! - series.timeMs[b]!);
    sorted.set(id, {
      timeMs: Float64Array.from(order, (k) => series.timeMs[k]!),
      receivedMs: Float64Array.from(order, (k) => series.receivedMs[k]!),
      levelMm: Float64Array.from(order, (k) => series.levelMm[k]!),
      nodeStartsMs: [...series.nodes.values()].sort((a, b) => a - b),
    });
  }
  return sorted;
}
