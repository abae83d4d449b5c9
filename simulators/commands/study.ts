import { spawn } from 'node:child_process';
import { once } from 'node:events';
import {
  createReadStream,
  createWriteStream,
  existsSync,
  mkdirSync,
  readFileSync,
  rmSync,
  writeFileSync,
} from 'node:fs';
import { dirname, extname, join } from 'node:path';
import { createInterface } from 'node:readline';
import { fileURLToPath } from 'node:url';
import { writeFleet } from '../files/write-fleet.js';
import { DEFAULT_FIRST_DAY, PROFILES, planRandomFleet } from '../fleet/random-fleet.js';
import { type FleetSample, renderReport, summarise } from '../score/report.js';
import { collectFleet } from '../score/score-fleet.js';
import { CLIMATE_IDS } from '../weather/climates.js';
import { Arguments, UsageError } from './usage.js';

const HELP = `Usage: node dist/simulators/main.js study --seeds dev|reporting|FILE --out DIR [options]

Generates the fleets of a list of seeds, lets the product replay each through its own command line, scores them together
and prints the tables. Healthy fleets are replayed twice more, for the rows "no weather" (latitude alone) and "no
moisture" (the probe's column emptied). Writes DIR/score.txt and DIR/score.json.

  --seeds NAME   dev (tune on these), reporting (never tune on these), or a JSON file of the same form
  --out DIR      work folder; fleets that are there already are used again
  --only NAME    only the fleets whose name contains this
  --containers N the first N pots of each fleet's seed instead of as many as the list says
  --plain        without the rows "no weather" and "no moisture"
  --reuse        score replays that are there already; for a study in several sittings with one and the same program

Example: node dist/simulators/main.js study --seeds dev --out study-dev
`;

interface SeedList {
  readonly fleets: readonly {
    readonly name: string;
    readonly seed: string;
    readonly profile: string;
    readonly containers: number;
    readonly days: number;
    readonly climate: string;
    /** Share of the pots with a leak or another fault instead of the profile's own. */
    readonly faultyShare?: number;
    /** Days between the forecasts that are asked of a pot; 0 for a fleet that shows findings alone. */
    readonly originEveryDays?: number;
  }[];
}

const HERE = dirname(fileURLToPath(import.meta.url));

function seedFile(name: string): string {
  if (name !== 'dev' && name !== 'reporting') return name;
  // Compiled files stand one folder deeper, in dist; the lists stay with the sources.
  for (const base of [join(HERE, '..'), join(HERE, '../../../simulators')]) {
    const path = join(base, `${name}-seeds.json`);
    if (existsSync(path)) return path;
  }
  throw new UsageError(`There is no list of seeds called ${name}; give a JSON file.`);
}

/** Runs the product's own command line, as anybody would. */
async function brimline(args: readonly string[]): Promise<void> {
  const main = join(HERE, `../../src/main${extname(fileURLToPath(import.meta.url))}`);
  const child = spawn(process.execPath, [...process.execArgv, main, ...args], { stdio: ['ignore', 'pipe', 'inherit'] });
  child.stdout.resume();
  const status = await new Promise<number | null>((resolve, reject) => {
    child.on('error', reject);
    child.on('exit', resolve);
  });
  if (status !== 0) throw new Error(`brimline ${args[0]} ended with status ${status}`);
}

export async function studyCommand(args: readonly string[]): Promise<void> {
  const given = Arguments.parse(
    args,
    {
      seeds: { type: 'string' },
      out: { type: 'string' },
      only: { type: 'string' },
      containers: { type: 'string' },
      plain: { type: 'boolean' },
      reuse: { type: 'boolean' },
    },
    HELP,
  );
  if (given === null) return;
  const out = given.required('out');
  const list = JSON.parse(readFileSync(seedFile(given.required('seeds')), 'utf8')) as SeedList;
  const only = given.optional('only');
  const fleets = list.fleets.filter((fleet) => only === null || fleet.name.includes(only));
  if (fleets.length === 0) throw new UsageError(`No fleet of the list has "${only}" in its name.`);
  const count = given.optional('containers');
  if (count !== null && !(Number.isInteger(Number(count)) && Number(count) > 0)) {
    throw new UsageError(`--containers is "${count}"; a whole number above 0 was expected.`);
  }
  const reuse = given.flag('reuse');
  const samples: FleetSample[] = [];
  for (const fleet of fleets) {
    const dir = join(out, fleet.name);
    mkdirSync(dir, { recursive: true });
    const profile = PROFILES.find((p) => p === fleet.profile);
    const climate = [...CLIMATE_IDS, 'mixed' as const].find((c) => c === fleet.climate);
    if (profile === undefined || climate === undefined) {
      throw new UsageError(
        `Fleet ${fleet.name} has profile "${fleet.profile}" and climate "${fleet.climate}", which are not both known.`,
      );
    }
    if (!existsSync(join(dir, 'truth/meta.json'))) {
      const { days, seed } = fleet;
      const containers = count === null ? fleet.containers : Number(count);
      const plan = planRandomFleet({
        seed,
        profile,
        containers,
        days,
        climate,
        firstDay: DEFAULT_FIRST_DAY,
        moistureShare: 0.94,
        faultyShare: fleet.faultyShare,
      });
      const originEveryDays = fleet.originEveryDays ?? 4;
      writeFleet(plan, dir, { originEveryDays, hourlyTruth: false, replan: null, progress: () => undefined });
      console.error(`${fleet.name}: generated`);
    }
    const runs = given.flag('plain') || profile !== 'healthy' ? [PLAIN] : [PLAIN, NO_WEATHER, NO_MOISTURE];
    for (const run of runs) {
      const outDir = join(dir, run.folder);
      if (reuse && existsSync(join(outDir, 'findings.csv'))) continue;
      const readings = run.moisture ? join(dir, 'readings.csv') : join(dir, 'readings-no-moisture.csv');
      if (!run.moisture) await emptyColumn(join(dir, 'readings.csv'), readings, 'moisture_pct');
      const files = ['--fleet', join(dir, 'fleet.json'), '--readings', readings, '--origins', join(dir, 'origins.csv')];
      if (run.weather) files.push('--weather', join(dir, 'weather.csv'));
      await brimline(['replay', ...files, '--out', outDir]);
      if (!run.moisture) rmSync(readings);
      console.error(`${fleet.name}: replayed into ${run.folder}`);
    }
    const variants = runs.slice(1).map(({ name, folder }) => ({ name, outDir: join(dir, folder) }));
    samples.push(await collectFleet(join(dir, 'truth'), join(dir, PLAIN.folder), { variants }));
    console.error(`${fleet.name}: scored`);
  }
  const report = summarise(samples);
  const text = renderReport(report, `Study of ${given.required('seeds')}`);
  writeFileSync(join(out, 'score.txt'), `${text}\n`);
  writeFileSync(join(out, 'score.json'), `${JSON.stringify(report, null, 1)}\n`);
  console.log(text);
}

interface Run {
  readonly name: string;
  readonly folder: string;
  readonly weather: boolean;
  readonly moisture: boolean;
}

const PLAIN: Run = { name: '', folder: 'out', weather: true, moisture: true };
const NO_WEATHER: Run = { name: 'no weather', folder: 'out-no-weather', weather: false, moisture: true };
const NO_MOISTURE: Run = { name: 'no moisture', folder: 'out-no-moisture', weather: true, moisture: false };

/** Copies a CSV file without quotes, with the cells of one column left empty. */
async function emptyColumn(from: string, to: string, column: string): Promise<void> {
  const lines = createInterface({ input: createReadStream(from), crlfDelay: Number.POSITIVE_INFINITY });
  const output = createWriteStream(to);
  let at: number | null = null;
  for await (const line of lines) {
    const cells = line.split(',');
    if (at === null) at = cells.indexOf(column);
    else cells[at] = '';
    if (!output.write(`${cells.join(',')}\n`)) await once(output, 'drain');
  }
  output.end();
  await once(output, 'finish');
}
