import { createReadStream } from 'node:fs';
import { readFile } from 'node:fs/promises';
import { join } from 'node:path';
import { readCsv } from '../../../src/app/import-csv-table.js';
import { readingsFormat } from '../../../src/app/import-readings.js';
import { weatherFormat } from '../../../src/app/import-weather.js';
import type { EpochMs } from '../../../src/domain/ids.js';
import { LocalDays } from '../../../src/domain/local-day.js';
import type { Reading } from '../../../src/domain/reading.js';
import type { Site } from '../../../src/domain/registry.js';
import type { WeatherDay } from '../../../src/domain/weather.js';
import type { WorkDone } from '../../../src/domain/work.js';

const END_OF_TIME_MS = 8.64e15;

/** Readings in the order of their receipt, a stretch of time at a time; the file is read as it is needed. */
export class ReadingFeed {
  readonly #batches: AsyncIterator<readonly Reading[]>;
  #waiting: Reading[] = [];
  #ended = false;

  constructor(dir: string) {
    this.#batches = readingsOf(join(dir, 'readings.csv'))[Symbol.asyncIterator]();
  }

  /** What was received up to an instant and not given out yet. */
  async until(nowMs: EpochMs): Promise<readonly Reading[]> {
    while (!this.#ended && (this.#waiting.at(-1)?.receivedMs ?? Number.NEGATIVE_INFINITY) <= nowMs) {
      const next = await this.#batches.next();
      if (next.done === true) this.#ended = true;
      else this.#waiting.push(...next.value);
    }
    const later = this.#waiting.findIndex((reading) => reading.receivedMs > nowMs);
    const count = later < 0 ? this.#waiting.length : later;
    return this.#waiting.splice(0, count);
  }
}

async function* readingsOf(file: string): AsyncGenerator<readonly Reading[]> {
  const format = readingsFormat({ nowMs: END_OF_TIME_MS, knowsNode: () => true, firstAssignmentMs: () => 0 });
  for await (const batch of readCsv(createReadStream(file), 'readings.csv', format)) {
    yield batch.rows.map(({ row }) => row);
  }
}

export interface KnownWeather {
  readonly knownMs: EpochMs;
  readonly day: WeatherDay;
}

/** Days of weather by the moment at which they became known: an observed day at its end, a forecast at its issue. */
export async function weatherOf(dir: string, sites: readonly Site[]): Promise<readonly KnownWeather[]> {
  const zones = new Map(sites.map((site) => [site.id, site.timeZone]));
  const format = weatherFormat({ nowMs: END_OF_TIME_MS, timeZone: (id) => zones.get(id) ?? null });
  const known: KnownWeather[] = [];
  const file = createReadStream(join(dir, 'weather.csv'));
  for await (const batch of readCsv(file, 'weather.csv', format)) {
    for (const { row: day } of batch.rows) {
      known.push({ day, knownMs: day.issuedMs ?? new LocalDays(zones.get(day.siteId) ?? 'UTC').endMs(day.day) });
    }
  }
  return known.sort((a, b) => a.knownMs - b.knownMs);
}

/** Work that the simulated crew did at a pot. */
export interface CrewWork {
  readonly containerId: string;
  readonly atMs: EpochMs;
  readonly work: WorkDone;
  readonly litres: number | null;
}

/** What the crew did and reported, in order; neighbours and gardeners report nothing. */
export async function crewWorkOf(dir: string): Promise<readonly CrewWork[]> {
  const rows = await truthRows(join(dir, 'truth', 'visits.csv'));
  return rows
    .filter((row) => row.by === 'crew')
    .map((row) => ({
      containerId: row.container!,
      atMs: Date.parse(row.time!),
      work: row.work as WorkDone,
      litres: row.reported_litres === '' ? null : Number(row.reported_litres),
    }))
    .sort((a, b) => a.atMs - b.atMs || (a.containerId < b.containerId ? -1 : 1));
}

/** A dry-out that really happened. */
export interface DryOut {
  readonly containerId: string;
  readonly atMs: EpochMs;
}

/** Shorter dips to the foot of the wick are ended by the crew or by rain before they matter. */
const DRY_HOURS = 6;

/** When the water really came to stand at the wick foot as the fleet file states it, for six hours and more. */
export async function dryOutsOf(dir: string, footMm: ReadonlyMap<string, number>): Promise<readonly DryOut[]> {
  const outs: DryOut[] = [];
  let pot = '';
  let wasWet = false;
  let sinceMs: EpochMs | null = null;
  let hours = 0;
  for (const line of (await readFile(join(dir, 'truth', 'hourly.csv'), 'utf8')).split('\n').slice(1)) {
    const [containerId, time, level] = line.split(',');
    if (containerId === undefined || time === undefined || level === undefined) continue;
    if (containerId !== pot) {
      pot = containerId;
      wasWet = false;
      sinceMs = null;
    }
    if (Number(level) > (footMm.get(pot) ?? 0)) {
      wasWet = true;
      sinceMs = null;
      continue;
    }
    if (sinceMs === null) {
      sinceMs = Date.parse(time);
      hours = 0;
    }
    hours += 1;
    if (hours === DRY_HOURS && wasWet) {
      outs.push({ containerId: pot, atMs: sinceMs });
      wasWet = false;
    }
  }
  return outs;
}

async function truthRows(file: string): Promise<readonly Readonly<Record<string, string>>[]> {
  const [head, ...lines] = (await readFile(file, 'utf8')).trim().split('\n');
  const names = (head ?? '').split(',');
  return lines.map((line) => {
    const cells = line.split(',');
    return Object.fromEntries(names.map((name, index) => [name, cells[index] ?? '']));
  });
}
