import { spawn } from 'node:child_process';
import { existsSync, mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { dirname, extname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { writeFleet } from '../files/write-fleet.js';
import { DEFAULT_FIRST_DAY, PROFILES, planRandomFleet } from '../fleet/random-fleet.js';
import { type FleetSample, renderReport, summarise } from '../score/report.js';
import { collectFleet } from '../score/score-fleet.js';
import { CLIMATE_IDS } from '../weather/climates.js';
import { Arguments, UsageError } from './usage.js';

const HELP = `Usage: node dist/simulators/main.js study --seeds dev|reporting|FILE --out DIR [options]

Generates the fleets of a list of seeds, lets the product replay each through its own command line, once with weather
and once without, scores them together and prints the tables. Writes DIR/score.txt and DIR/score.json.

  --seeds NAME   dev (tune on these), reporting (never tune on these), or a JSON file of the same form
  --out DIR      work folder; fleets that are there already are used again
  --only NAME    only the fleets whose name contains this
  --no-weather   also replay without weather (healthy fleets only)

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
      'no-weather': { type: 'boolean' },
    },
    HELP,
  );
  if (given === null) return;
  const out = given.required('out');
  const list = JSON.parse(readFileSync(seedFile(given.required('seeds')), 'utf8')) as SeedList;
  const only = given.optional('only');
  const fleets = list.fleets.filter((fleet) => only === null || fleet.name.includes(only));
  if (fleets.length === 0) throw new UsageError(`No fleet of the list has "${only}" in its name.`);
  const withWeather: FleetSample[] = [];
  const without: FleetSample[] = [];
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
      const { containers, days, seed } = fleet;
      const plan = planRandomFleet({
        seed,
        profile,
        containers,
        days,
        climate,
        firstDay: DEFAULT_FIRST_DAY,
        moistureShare: 0.94,
      });
      writeFleet(plan, dir, { originEveryDays: 4, hourlyTruth: false, replan: null, progress: () => undefined });
      console.error(`${fleet.name}: generated`);
    }
    const files = [
      '--fleet',
      join(dir, 'fleet.json'),
      '--readings',
      join(dir, 'readings.csv'),
      '--origins',
      join(dir, 'origins.csv'),
    ];
    await brimline(['replay', ...files, '--weather', join(dir, 'weather.csv'), '--out', join(dir, 'out')]);
    withWeather.push(await collectFleet(join(dir, 'truth'), join(dir, 'out')));
    console.error(`${fleet.name}: replayed and scored`);
    if (given.flag('no-weather') && profile === 'healthy') {
      await brimline(['replay', ...files, '--out', join(dir, 'out-no-weather')]);
      without.push(await collectFleet(join(dir, 'truth'), join(dir, 'out-no-weather')));
      console.error(`${fleet.name}: replayed without weather and scored`);
    }
  }
  const report = summarise(withWeather);
  const texts = [renderReport(report, `Study of ${given.required('seeds')}: with weather`)];
  if (without.length > 0) texts.push(renderReport(summarise(without), 'The same healthy fleets without weather'));
  const text = texts.join('\n\n');
  writeFileSync(join(out, 'score.txt'), `${text}\n`);
  writeFileSync(
    join(out, 'score.json'),
    `${JSON.stringify({ withWeather: report, withoutWeather: without.length > 0 ? summarise(without) : null }, null, 1)}\n`,
  );
  console.log(text);
}
