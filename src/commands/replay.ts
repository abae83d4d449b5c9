import { createReadStream } from 'node:fs';
import { mkdir, mkdtemp, readFile, rm, stat, writeFile } from 'node:fs/promises';
import { basename, join } from 'node:path';
import { readFleetFile } from '../app/readings/import-fleet.js';
import { type ReplayTally, replayFleet, usualThreads } from '../app/replay/replay.js';
import { DomainError } from '../domain/errors.js';
import type { Fleet } from '../domain/registry.js';
import { type Command, type Terminal, UsageError } from './command.js';
import { parseOptions } from './options.js';

const HELP = `Usage: brimline replay --fleet F --readings F [--weather F] --origins F --out DIR [--threads N]

Runs the live analysis over files, in a store of its own, and writes what the program would have known at chosen
moments. Nothing received later than a moment is used for it.

  --fleet F      fleet.json: sites, containers, assignments
  --readings F   readings.csv: node,time,level_mm,moisture_pct,temperature_c,battery_v and, if there, received;
                 in any order
  --weather F    weather.csv: observed days, and forecasts with the moment of their issue
  --origins F    origins.csv: time and, if there, container; without a container the moment is asked of every one
  --out DIR      folder for forecasts.csv, events.csv and findings.csv; made where it does not exist
  --threads N    threads that compute (default: one for each core)

Rows that cannot be taken are named by line number and passed over. Times are ISO 8601 in UTC. An empty cell is not
known; a time more than 60 days ahead is left empty. Exit status: 0 done, also with bad rows; 1 failed; 2 wrong usage.

Example:
  brimline replay --fleet fleet.json --readings readings.csv --weather weather.csv --origins origins.csv --out ./out`;

const READ_CHUNK_BYTES = 256 * 1024;
const BAD_ROWS_SHOWN = 20;
const MOST_THREADS = 64;

const NOBODY: Fleet = {
  accounts: [],
  sites: [],
  containers: [],
  gateways: [],
  nodes: [],
  assignments: [],
  depots: [],
  trucks: [],
  people: [],
};

export const replay: Command = {
  name: 'replay',
  summary: 'run the analysis over files and write what it would have known when',
  help: HELP,
  async run(args, terminal) {
    const { options } = parseOptions(args, {
      fleet: 'value',
      readings: 'value',
      weather: 'value',
      origins: 'value',
      out: 'value',
      threads: 'value',
    });
    const file = (name: 'fleet' | 'readings' | 'origins' | 'out'): string => {
      const given = options[name];
      if (given === undefined) throw new UsageError(`replay needs --${name}; --help shows an example.`);
      return given;
    };
    const fleetFile = file('fleet');
    const readingsFile = file('readings');
    const originsFile = file('origins');
    const outDir = file('out');
    const threads = threadsOf(options.threads);
    const weatherFile = options.weather ?? null;
    for (const name of [fleetFile, readingsFile, originsFile, ...(weatherFile === null ? [] : [weatherFile])]) {
      await checkFile(name);
    }
    const { fleet, notes } = readFleetFile(basename(fleetFile), await readFile(fleetFile), NOBODY);
    for (const note of notes) terminal.err(`${basename(fleetFile)}: ${note}`);
    await mkdir(outDir, { recursive: true });
    const spoolDir = await mkdtemp(join(outDir, '.spool-'));
    try {
      const result = await replayFleet(
        {
          fleet,
          readings: source(readingsFile),
          readingsBytes: (await stat(readingsFile)).size,
          weather: weatherFile === null ? null : source(weatherFile),
          origins: source(originsFile),
        },
        { spoolDir, threads, onProgress: (line) => terminal.progress(line) },
      );
      await writeFile(join(outDir, 'forecasts.csv'), result.files.forecasts);
      await writeFile(join(outDir, 'events.csv'), result.files.events);
      await writeFile(join(outDir, 'findings.csv'), result.files.findings);
      printTally(terminal, basename(readingsFile), result.readings);
      if (weatherFile !== null) printTally(terminal, basename(weatherFile), result.weather);
      printTally(terminal, basename(originsFile), result.origins);
      terminal.out(`${result.containers} containers replayed into ${outDir}`);
    } finally {
      await rm(spoolDir, { recursive: true, force: true });
    }
  },
};

function threadsOf(given: string | undefined): number {
  if (given === undefined) return usualThreads();
  const threads = Number(given);
  if (!Number.isInteger(threads) || threads < 0 || threads > MOST_THREADS) {
    throw new UsageError(`--threads is “${given}”; a whole number from 0 to ${MOST_THREADS} was expected.`);
  }
  return threads;
}

function source(file: string): { readonly name: string; readonly input: AsyncIterable<Uint8Array> } {
  return { name: basename(file), input: createReadStream(file, { highWaterMark: READ_CHUNK_BYTES }) };
}

async function checkFile(file: string): Promise<void> {
  try {
    if ((await stat(file)).isFile()) return;
  } catch (cause) {
    const code = cause instanceof Error && 'code' in cause ? String(cause.code) : 'unknown';
    const why = code === 'ENOENT' ? 'there is no such file' : code === 'EACCES' ? 'it may not be read' : code;
    throw new DomainError('file_unreadable', `${file} cannot be read: ${why}. Nothing was replayed.`, { cause });
  }
  throw new DomainError('file_unreadable', `${file} is not a file. Nothing was replayed.`);
}

function printTally(terminal: Terminal, name: string, tally: ReplayTally): void {
  terminal.out(`${name}: ${tally.rows} rows: ${tally.taken} taken, ${tally.refused.length} refused`);
  for (const { line, detail } of tally.refused.slice(0, BAD_ROWS_SHOWN)) terminal.out(`  line ${line}: ${detail}`);
  const more = tally.refused.length - BAD_ROWS_SHOWN;
  if (more > 0) terminal.out(`  and ${more} more`);
}
