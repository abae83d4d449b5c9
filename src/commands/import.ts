import { createReadStream } from 'node:fs';
import { readFile, stat } from 'node:fs/promises';
import { basename } from 'node:path';
import type { App } from '../app/context.js';
import { type CsvSource, type ImportSummary, importReadings, importWeather } from '../app/readings/import-files.js';
import { type FleetSummary, importFleet } from '../app/readings/import-fleet.js';
import { importVisits } from '../app/readings/import-visits.js';
import { DomainError } from '../domain/errors.js';
import type { Log } from '../domain/ports/log.js';
import { openStore } from '../store/open.js';
import { type Command, type Terminal, UsageError } from './command.js';
import { keyFileOf, parseOptions } from './options.js';

const HELP = `Usage: brimline import --data DIR [--fleet F] [--readings F]... [--weather F]... [--visits F]... [--json]

Loads a fleet and a history into a store; it may run beside the server. Rows that cannot be taken are named by line
number and kept in quarantine, and the import goes on. Importing the same file again changes nothing.

  --data DIR     the data folder, the same that serve is given (or BRIMLINE_DATA); made where it does not exist
  --fleet F      fleet.json: accounts, sites, containers, assignments; taken whole or, where anything is faulty, not at all
  --readings F   readings.csv: node,time,level_mm,moisture_pct,temperature_c,battery_v and, if there, received
  --weather F    weather.csv: site,date,tmin_c,tmax_c,humidity_pct,wind_ms,solar_mj,rain_mm,et0_mm and, if there,
                 rain_probability and issued (the moment a forecast was made)
  --visits F     visits.csv: visit,site,technician,time,container,work,litres: what the crew did in the past; work is
                 refill, drain, wet_from_above, repack_wick, replant, clear_overflow or other
  --json         print the result as one JSON document

Times are ISO 8601 in UTC, such as 2026-06-01T10:00:00Z. Exit status: 0 done, also with quarantined rows; 1 failed;
2 wrong usage.

Example:
  brimline import --data ./brimline-data --fleet fleet.json --readings readings.csv --weather weather.csv`;

/** A server beside the import may hold the store for the length of a commit; this many of them fit. */
const BUSY_TIMEOUT_MS = 60_000;
const READ_CHUNK_BYTES = 256 * 1024;
const VISIT_FAULTS_SHOWN = 20;
const MAX_FLEET_BYTES = 256 * 1024 * 1024;

interface FileResult {
  readonly file: string;
  readonly summary: ImportSummary;
}

export const importCommand: Command = {
  name: 'import',
  summary: 'load a fleet and a history of readings and weather',
  help: HELP,
  async run(args, terminal, environment) {
    const { options } = parseOptions(args, {
      data: 'value',
      fleet: 'value',
      readings: 'values',
      weather: 'values',
      visits: 'values',
      json: 'flag',
    });
    const dir = options.data ?? environment.BRIMLINE_DATA;
    if (dir === undefined || dir === '') throw new UsageError('import needs --data DIR, the data folder.');
    const readings = options.readings ?? [];
    const weather = options.weather ?? [];
    const visits = options.visits ?? [];
    const fleet = options.fleet ?? null;
    if (fleet === null && readings.length + weather.length + visits.length === 0) {
      throw new UsageError('import needs something to import: --fleet F, --readings F, --weather F or --visits F.');
    }
    // Before anything is written: a mistyped third name should not leave two imports done.
    for (const file of [...(fleet === null ? [] : [fleet]), ...readings, ...weather, ...visits]) await checkFile(file);

    const store = await openStore({
      dir,
      keyFile: keyFileOf(environment),
      busyTimeoutMs: BUSY_TIMEOUT_MS,
      log: terminalLog(terminal),
    });
    try {
      const app: App = { store, clock: { nowMs: () => Date.now() }, log: terminalLog(terminal) };
      const fleetSummary = fleet === null ? null : await importFleet(app, basename(fleet), await readFleet(fleet));
      if (fleetSummary !== null && options.json !== true) printFleet(terminal, basename(fleet ?? ''), fleetSummary);
      const readingFiles = await importAll(app, readings, importReadings, terminal, options.json === true);
      const weatherFiles = await importAll(app, weather, importWeather, terminal, options.json === true);
      const visitFiles = await importAllVisits(app, visits, terminal, options.json === true);
      if (options.json === true) {
        terminal.out(
          JSON.stringify({
            fleet: fleetSummary,
            readings: readingFiles.map(toJson),
            weather: weatherFiles.map(toJson),
            visits: visitFiles,
          }),
        );
      }
    } finally {
      await store.close();
    }
  },
};

async function importAll(
  app: App,
  files: readonly string[],
  importFile: (app: App, source: CsvSource, onProgress: (rows: number) => void) => Promise<ImportSummary>,
  terminal: Terminal,
  quiet: boolean,
): Promise<FileResult[]> {
  const results: FileResult[] = [];
  for (const file of files) {
    const { size } = await stat(file);
    const input = createReadStream(file, { highWaterMark: READ_CHUNK_BYTES });
    const name = basename(file);
    const startedMs = performance.now();
    const summary = await importFile(app, { name, input }, (rows) => {
      const seconds = (performance.now() - startedMs) / 1000;
      const share = size === 0 ? 100 : Math.floor((input.bytesRead / size) * 100);
      terminal.progress(`${name}: ${share} %, ${rows} rows, ${Math.round(rows / Math.max(seconds, 0.001))} rows/s`);
    });
    results.push({ file: name, summary });
    if (!quiet) printSummary(terminal, name, summary);
  }
  return results;
}

async function importAllVisits(app: App, files: readonly string[], terminal: Terminal, quiet: boolean) {
  const results = [];
  for (const file of files) {
    const name = basename(file);
    const summary = await importVisits(app, { name, input: createReadStream(file) });
    results.push({ file: name, ...summary });
    if (quiet) continue;
    const { rows, visitsTaken, visitsRepeated, refused } = summary;
    terminal.out(
      `${name}: ${rows} rows: ${visitsTaken} visits taken, ${visitsRepeated} repeated, ${refused.length} refused`,
    );
    for (const { line, detail } of refused.slice(0, VISIT_FAULTS_SHOWN)) terminal.out(`  line ${line}: ${detail}`);
  }
  return results;
}

async function checkFile(file: string): Promise<void> {
  try {
    if ((await stat(file)).isFile()) return;
  } catch (cause) {
    const code = cause instanceof Error && 'code' in cause ? String(cause.code) : 'unknown';
    const why = code === 'ENOENT' ? 'there is no such file' : code === 'EACCES' ? 'it may not be read' : code;
    throw new DomainError('file_unreadable', `${file} cannot be read: ${why}. Nothing was imported.`, { cause });
  }
  throw new DomainError('file_unreadable', `${file} is not a file. Nothing was imported.`);
}

async function readFleet(file: string): Promise<Uint8Array> {
  const { size } = await stat(file);
  if (size > MAX_FLEET_BYTES) {
    throw new DomainError('file_unreadable', `${file} has ${size} bytes; a fleet file may have ${MAX_FLEET_BYTES}.`);
  }
  return readFile(file);
}

function printFleet(terminal: Terminal, name: string, summary: FleetSummary): void {
  const counts = Object.entries(summary.counts).filter(([, count]) => count > 0);
  terminal.out(`${name}: ${counts.map(([list, count]) => `${count} ${list}`).join(', ') || 'nothing in it'}`);
  for (const note of summary.notes) terminal.out(`  note: ${note}`);
}

function printSummary(terminal: Terminal, name: string, summary: ImportSummary): void {
  const { rows, taken, repeated, corrected, quarantined } = summary;
  terminal.out(
    `${name}: ${rows} rows: ${taken} taken, ${repeated} repeated, ${corrected} corrected, ${quarantined} quarantined`,
  );
  for (const { line, detail } of summary.firstBadRows) terminal.out(`  line ${line}: ${detail}`);
  const more = quarantined - summary.firstBadRows.length;
  if (more > 0) terminal.out(`  and ${more} more`);
  for (const [refusal, count] of summary.quarantinedBy) terminal.out(`  ${refusal}: ${count}`);
  if (quarantined > 0) {
    terminal.out('  They are kept in quarantine; mend the cause and run them again there, or import the mended file.');
  }
}

function toJson({ file, summary }: FileResult): object {
  return { file, ...summary, quarantinedBy: Object.fromEntries(summary.quarantinedBy) };
}

/** What the store has to say while it is opened belongs to the faults, not to the result. */
function terminalLog(terminal: Terminal): Log {
  return {
    debug: () => {},
    info: () => {},
    warn: (_fields, text) => terminal.err(text),
    error: (_fields, text) => terminal.err(text),
  };
}
