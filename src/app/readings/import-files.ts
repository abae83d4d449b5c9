import { WHOLE_FLEET } from '../../domain/access.js';
import type { Write } from '../../domain/change-set.js';
import { type EpochMs, ID_PATTERN, type SiteId } from '../../domain/ids.js';
import type { Reading, RefusalCode } from '../../domain/reading.js';
import type { WeatherDay } from '../../domain/weather.js';
import type { App } from '../context.js';
import { type CsvBatch, type CsvFormat, quarantineOfRow, type RefusedRow, readCsv } from './import-csv-table.js';
import { readingsFormat } from './import-readings.js';
import { weatherFormat } from './import-weather.js';
import { IngestDirectory } from './ingest-directory.js';

/**
 * Rows in one commit: measured on two cores, 1,000 rows a commit reach 69 k rows/s and 10,000 reach 83 k; a server
 * beside the import waits about a tenth of a second for its turn.
 */
const ROWS_PER_COMMIT = 10_000;

/** So many bad rows are told one by one; all are counted. */
const BAD_ROWS_SHOWN = 20;

export interface ImportSummary {
  /** Rows of the file, without header and blank lines. */
  readonly rows: number;
  /** New, or filling in what was missing. */
  readonly taken: number;
  readonly repeated: number;
  readonly corrected: number;
  readonly quarantined: number;
  readonly quarantinedBy: ReadonlyMap<RefusalCode, number>;
  readonly firstBadRows: readonly { readonly line: number; readonly refusal: RefusalCode; readonly detail: string }[];
}

export interface CsvSource {
  /** The file's name without folders; it becomes part of the quarantined rows' source. */
  readonly name: string;
  readonly input: AsyncIterable<Uint8Array>;
}

/**
 * Imports `readings.csv` by stream, in constant memory. Rows that cannot be taken go to quarantine with their line
 * number, and the import goes on. Importing the same file again changes nothing.
 *
 * @param onProgress called after each commit with the number of rows done
 * @throws DomainError `file_unreadable` where the header is not one of readings
 */
export async function importReadings(
  app: App,
  source: CsvSource,
  onProgress: (rows: number) => void,
): Promise<ImportSummary> {
  const directory = new IngestDirectory(app.store);
  await directory.refresh();
  const format = readingsFormat({
    nowMs: app.clock.nowMs(),
    knowsNode: (id) => directory.node(id) !== null,
    firstAssignmentMs: (id) => directory.firstAssignmentMs(id),
  });
  return importCsv(
    app,
    source,
    format,
    onProgress,
    (row) => row.timeMs,
    async (rows, writes) => {
      if (rows.length > 0) writes.push({ kind: 'readings', rows });
      return (result) => ({
        taken: result.added + result.completed,
        repeated: result.repeated,
        corrected: result.corrected,
      });
    },
  );
}

/** Imports `weather.csv` as {@link importReadings} does readings. */
export async function importWeather(
  app: App,
  source: CsvSource,
  onProgress: (rows: number) => void,
): Promise<ImportSummary> {
  const sites = await app.store.registry.sites(WHOLE_FLEET);
  const zones = new Map(sites.map((site) => [site.id, site.timeZone]));
  const format = weatherFormat({ nowMs: app.clock.nowMs(), timeZone: (id) => zones.get(id) ?? null });
  const nowMs = app.clock.nowMs();
  return importCsv(
    app,
    source,
    format,
    onProgress,
    () => nowMs,
    async (rows, writes) => {
      const known = await knownDays(app, rows);
      const counts = { taken: 0, repeated: 0, corrected: 0 };
      const fresh: WeatherDay[] = [];
      for (const row of rows) {
        const key = dayKey(row);
        const before = known.get(key);
        const fate = before === undefined ? 'taken' : compareDays(before, row);
        counts[fate] += 1;
        if (fate === 'repeated') continue;
        fresh.push(row);
        known.set(key, before === undefined ? row : mergedDay(before, row));
      }
      if (fresh.length > 0) writes.push({ kind: 'weather_days', rows: fresh });
      return () => counts;
    },
  );
}

type Counts = Pick<ImportSummary, 'taken' | 'repeated' | 'corrected'>;
type ReadingCounts = { added: number; completed: number; corrected: number; repeated: number };

/** Adds what the rows of one commit write, and says how to count them once it is done. */
type Prepare<Row> = (rows: readonly Row[], writes: Write[]) => Promise<(result: ReadingCounts) => Counts>;

async function importCsv<Row extends Reading | WeatherDay>(
  app: App,
  source: CsvSource,
  format: CsvFormat<Row>,
  onProgress: (rows: number) => void,
  receivedMsOf: (row: Row) => EpochMs,
  prepare: Prepare<Row>,
): Promise<ImportSummary> {
  const tally = new Tally();
  let rows: Row[] = [];
  let refused: RefusedRow[] = [];
  let lastReceivedMs: EpochMs | null = null;
  const flush = async (): Promise<void> => {
    const writes: Write[] = [];
    const count = await prepare(rows, writes);
    // A row that could not be read has no time of its own; it is filed beside its neighbours.
    const receivedMs = lastReceivedMs ?? app.clock.nowMs();
    if (refused.length > 0) {
      writes.push({
        kind: 'quarantined',
        rows: refused.map((row) =>
          quarantineOfRow(
            row,
            source.name,
            format.contentType,
            ID_PATTERN.test(row.node) ? row.node : null,
            receivedMs,
          ),
        ),
      });
    }
    const nothing = { added: 0, completed: 0, corrected: 0, repeated: 0 };
    const result =
      writes.length === 0
        ? nothing
        : (
            await app.store.commit({
              atMs: app.clock.nowMs(),
              actor: { kind: 'command', id: 'import' },
              writes,
              cursor: null,
            })
          ).readings;
    tally.add(rows.length, count(result), refused);
    rows = [];
    refused = [];
    onProgress(tally.rows);
  };
  for await (const batch of readCsv(source.input, source.name, format)) {
    for (const part of slices(batch)) {
      for (const { row } of part.rows) {
        rows.push(row);
        lastReceivedMs = receivedMsOf(row);
      }
      refused.push(...part.refused);
      if (rows.length + refused.length >= ROWS_PER_COMMIT) await flush();
    }
  }
  if (rows.length + refused.length > 0) await flush();
  return tally.summary();
}

/** A chunk of a file may hold more rows than a commit should. */
function* slices<Row>(batch: CsvBatch<Row>): Generator<CsvBatch<Row>> {
  const longest = Math.max(batch.rows.length, batch.refused.length);
  for (let at = 0; at < longest; at += ROWS_PER_COMMIT) {
    yield {
      rows: batch.rows.slice(at, at + ROWS_PER_COMMIT),
      refused: batch.refused.slice(at, at + ROWS_PER_COMMIT),
    };
  }
}

class Tally {
  rows = 0;
  #counts = { taken: 0, repeated: 0, corrected: 0 };
  #quarantined = 0;
  readonly #by = new Map<RefusalCode, number>();
  readonly #first: { line: number; refusal: RefusalCode; detail: string }[] = [];

  add(rows: number, counts: Counts, refused: readonly RefusedRow[]): void {
    this.rows += rows + refused.length;
    this.#counts.taken += counts.taken;
    this.#counts.repeated += counts.repeated;
    this.#counts.corrected += counts.corrected;
    this.#quarantined += refused.length;
    for (const { line, refusal, detail } of refused) {
      this.#by.set(refusal, (this.#by.get(refusal) ?? 0) + 1);
      if (this.#first.length < BAD_ROWS_SHOWN) this.#first.push({ line, refusal, detail });
    }
  }

  summary(): ImportSummary {
    return {
      rows: this.rows,
      ...this.#counts,
      quarantined: this.#quarantined,
      quarantinedBy: this.#by,
      firstBadRows: this.#first,
    };
  }
}

const dayKey = (row: WeatherDay): string => `${row.siteId} ${row.day} ${row.issuedMs ?? ''}`;

const DAY_VALUES = [
  'tminC',
  'tmaxC',
  'humidityFraction',
  'windMPerS',
  'solarMjPerM2',
  'rainMm',
  'et0Mm',
  'rainProbability',
] as const satisfies readonly (keyof WeatherDay)[];

/** A value that is not given does not erase one that is known. */
function compareDays(before: WeatherDay, row: WeatherDay): 'taken' | 'repeated' | 'corrected' {
  let fate: 'taken' | 'repeated' = 'repeated';
  for (const field of DAY_VALUES) {
    const value = row[field];
    if (value === null || value === before[field]) continue;
    if (before[field] !== null) return 'corrected';
    fate = 'taken';
  }
  return fate;
}

function mergedDay(before: WeatherDay, row: WeatherDay): WeatherDay {
  const given = Object.fromEntries(DAY_VALUES.flatMap((field) => (row[field] === null ? [] : [[field, row[field]]])));
  return { ...before, ...given };
}

/** What the store holds for the days of these rows, by key. */
async function knownDays(app: App, rows: readonly WeatherDay[]): Promise<Map<string, WeatherDay>> {
  const spans = new Map<string, { siteId: SiteId; issuedMs: EpochMs | null; from: string; to: string }>();
  for (const { siteId, day, issuedMs } of rows) {
    const key = `${siteId} ${issuedMs ?? ''}`;
    const span = spans.get(key) ?? { siteId, issuedMs, from: day, to: day };
    if (day < span.from) span.from = day;
    if (day > span.to) span.to = day;
    spans.set(key, span);
  }
  const known = new Map<string, WeatherDay>();
  for (const { siteId, issuedMs, from, to } of spans.values()) {
    const days =
      issuedMs === null
        ? await app.store.weather.observedDays(siteId, from, to)
        : (await app.store.weather.forecastDays(siteId, from, issuedMs)).filter((day) => day.issuedMs === issuedMs);
    for (const day of days) known.set(dayKey(day), day);
  }
  return known;
}
