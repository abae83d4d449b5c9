import { existsSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { numberOf, readCsv, timeOf } from './read-csv.js';

const HOUR_MS = 3_600_000;
/** For so long a smaller use may rightly be remarked on. */
const PLANTS_CHANGED_MS = 21 * 24 * HOUR_MS;
/** A cell may rightly be called low this long before its end. */
const CELL_OLD_MS = 150 * 24 * HOUR_MS;
/** Lift against the use of the thirstiest days below which hot days dry the soil above standing water. */
const WEAK_LIFT = 2.5;

export interface TrueContainer {
  readonly id: string;
  readonly covered: boolean;
  readonly cam: boolean;
  readonly climate: string;
  readonly moisture: boolean;
  readonly overflowMm: number;
  readonly areaM2: number;
  readonly noiseMm: number;
  readonly intervalS: number;
  readonly startMs: number;
  readonly endMs: number;
  /** When its node's cell cannot carry the radio any more; null beyond what was simulated. */
  readonly cellEndMs: number | null;
}

export interface TrueOrigin {
  readonly containerId: string;
  readonly originMs: number;
  readonly dryMs: number | null;
  readonly stressMs: number | null;
  readonly statedFootMm: number;
}

export interface Fault {
  readonly containerId: string;
  readonly kind: string;
  readonly fromMs: number;
  /** The span's end where it was never mended. */
  readonly toMs: number;
  readonly size: number | null;
  readonly heightMm: number | null;
  readonly activeLitresPerDay: number | null;
  readonly activeDays: number | null;
  /** What the plants would have drawn in the week after it began. */
  readonly demandLitres7d: number | null;
  readonly levelMm: number | null;
}

export interface TrueEvent {
  readonly containerId: string;
  readonly kind: string;
  readonly startMs: number;
  readonly endMs: number;
  readonly litres: number;
  readonly riseMm: number;
  /** Of the end, or of the highest stand for water above the invert. */
  readonly endLevelMm: number;
}

/**
 * A time that explains findings which are no fault of the pot: a gateway's outage, a planting cut back or changed, a cell
 * near its end, a wick that cannot lift what the hottest days ask for.
 */
export interface Excuse {
  readonly containerId: string;
  readonly kind: 'outage' | 'plants_changed' | 'cell_old' | 'weak_wick';
  readonly fromMs: number;
  readonly toMs: number;
}

export interface Truth {
  readonly profile: string;
  readonly containers: ReadonlyMap<string, TrueContainer>;
  readonly origins: readonly TrueOrigin[];
  readonly faults: readonly Fault[];
  readonly events: readonly TrueEvent[];
  readonly excuses: readonly Excuse[];
}

/** Loads a truth folder. @throws Error that names the folder where it is not one */
export async function loadTruth(dir: string): Promise<Truth> {
  if (!existsSync(join(dir, 'containers.csv'))) {
    throw new Error(`${dir} holds no containers.csv: give the folder "truth" that the fleet simulator wrote.`);
  }
  const meta = JSON.parse(readFileSync(join(dir, 'meta.json'), 'utf8')) as { profile: string };
  const containers = new Map<string, TrueContainer>();
  const excuses: Excuse[] = [];
  await readCsv(join(dir, 'containers.csv'), (row) => {
    const id = row('container');
    const cellEndMs = timeOf(row('cell_end'));
    if (cellEndMs !== null) {
      excuses.push({ containerId: id, kind: 'cell_old', fromMs: cellEndMs - CELL_OLD_MS, toMs: Infinity });
    }
    if (Number(row('lift_share')) < WEAK_LIFT) {
      excuses.push({ containerId: id, kind: 'weak_wick', fromMs: -Infinity, toMs: Infinity });
    }
    containers.set(row('container'), {
      id: row('container'),
      covered: row('covered') === '1',
      cam: row('cam') === '1',
      climate: row('climate'),
      moisture: row('moisture') === '1',
      overflowMm: Number(row('overflow_mm')),
      areaM2: Number(row('area_m2')),
      noiseMm: Math.hypot(Number(row('noise_mm')), Number(row('quantum_mm')) / Math.sqrt(12)),
      intervalS: Number(row('interval_s')),
      startMs: timeOf(row('start'))!,
      endMs: timeOf(row('end'))!,
      cellEndMs,
    });
  });
  const origins: TrueOrigin[] = [];
  await readCsv(join(dir, 'origins.csv'), (row) => {
    origins.push({
      containerId: row('container'),
      originMs: timeOf(row('origin'))!,
      dryMs: timeOf(row('dry')),
      stressMs: timeOf(row('stress')),
      statedFootMm: Number(row('stated_foot_mm')),
    });
  });
  const faults: Fault[] = [];
  await readCsv(join(dir, 'faults.csv'), (row) => {
    const container = containers.get(row('container'));
    if (container === undefined) return;
    faults.push({
      containerId: container.id,
      kind: row('kind'),
      fromMs: timeOf(row('from'))!,
      toMs: timeOf(row('to')) ?? container.endMs,
      size: numberOf(row('size')),
      heightMm: numberOf(row('height_mm')),
      activeLitresPerDay: numberOf(row('active_l_per_day')),
      activeDays: numberOf(row('active_days')),
      demandLitres7d: numberOf(row('demand_l_7d')),
      levelMm: numberOf(row('level_mm')),
    });
  });
  const events: TrueEvent[] = [];
  await readCsv(join(dir, 'events.csv'), (row) => {
    events.push({
      containerId: row('container'),
      kind: row('kind'),
      startMs: timeOf(row('start'))!,
      endMs: timeOf(row('end'))!,
      litres: Number(row('litres')),
      riseMm: Number(row('end_level_mm')) - Number(row('start_level_mm')),
      endLevelMm: Number(row('end_level_mm')),
    });
  });
  await readCsv(join(dir, 'outages.csv'), (row) => {
    excuses.push({
      containerId: row('container'),
      kind: 'outage',
      fromMs: timeOf(row('from'))!,
      toMs: timeOf(row('to'))! + HOUR_MS,
    });
  });
  await readCsv(join(dir, 'plants.csv'), (row) => {
    const dayMs = timeOf(`${row('date')}T00:00:00Z`)!;
    excuses.push({
      containerId: row('container'),
      kind: 'plants_changed',
      fromMs: dayMs - 12 * HOUR_MS,
      toMs: dayMs + PLANTS_CHANGED_MS,
    });
  });
  return { excuses, profile: meta.profile, containers, origins, faults, events };
}
