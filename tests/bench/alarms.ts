import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { parseArgs } from 'node:util';
import type { App } from '../../src/app/context.js';
import { DAY_MS } from '../../src/domain/local-day.js';
import { printReport, reportOf } from './alarms/report.js';
import { liveThrough } from './alarms/season.js';
import { SeasonWorld } from './alarms/world.js';
import type { Benchmark } from './run.js';

const HELP = `Usage: npm run --silent bench alarms -- [--days N] [--containers N] [--seed S] [--interval-s N] [--settle-days N]

Lives through a season of a simulated fleet with every fault, storm, outage and holiday, at simulated time: what nodes
send is turned into alarms, tasks and alerts by the server's own stages, in a store of its own, and the crew goes where
these send it, which changes what the nodes see next. Prints the table of alarms and alerts against the figures of
ANSI/ISA-18.2 and EEMUA 191.

  --days N         days, the settling included (120)
  --containers N   pots (120)
  --seed S         of the fleet and the crew (season-dev); rules are tuned on season-dev and reported on season-report
  --first-day DATE first local day (2026-03-01)
  --interval-s N   every node reports so often; 0: each as it was drawn, every 15 to 60 minutes (3600)
  --settle-days N  days at the beginning that are not counted, while pots are being learned (14)
  --dir DIR        where the store is put (a temporary folder); memory saves the waiting for the disk

Ctrl-C ends it early and reports what was lived through.`;

export const benchmark: Benchmark = {
  name: 'alarms',
  summary: 'alarms and alerts of a simulated season against the figures of the standards',
  help: HELP,
  async run(args) {
    const options = readArguments(args);
    const dir = mkdtempSync(join(options.dir, 'brimline-alarm-study-'));
    try {
      await study(dir, options);
    } finally {
      rmSync(dir, { recursive: true, force: true });
    }
  },
};

/** Days on which the firm is closed: some that fall on working days of 2026 and 2027, of our choosing. */
const HOLIDAYS = [
  '2026-04-03',
  '2026-04-06',
  '2026-05-01',
  '2026-06-24',
  '2026-09-11',
  '2026-10-12',
  '2026-12-08',
  '2026-12-25',
  '2027-01-01',
  '2027-01-06',
];

interface StudyOptions {
  readonly days: number;
  readonly containers: number;
  readonly seed: string;
  readonly firstDay: string;
  readonly intervalS: number | null;
  readonly settleDays: number;
  readonly dir: string;
}

async function study(dataDir: string, options: StudyOptions): Promise<void> {
  const { seed, settleDays, containers } = options;
  const world = new SeasonWorld(options);
  let isToStop = false;
  const onSignal = (): void => {
    isToStop = true;
  };
  process.once('SIGINT', onSignal);
  const season = await liveThrough({
    world,
    dataDir,
    holidays: HOLIDAYS,
    seed,
    onProgress: (line) => process.stderr.write(`${line}\n`),
    isToStop: () => isToStop,
  });
  process.removeListener('SIGINT', onSignal);
  try {
    const nothing = () => {};
    const app: App = {
      store: season.store,
      clock: { nowMs: () => season.endMs },
      log: { debug: nothing, info: nothing, warn: nothing, error: nothing },
    };
    const fromMs = world.startMs + settleDays * DAY_MS;
    const toMs = season.endMs;
    if (toMs <= fromMs + DAY_MS) throw new Error('stopped before a day was counted');
    const report = await reportOf({ app, season, fromMs, toMs }, world.dryOuts(world.startMs, toMs));
    printReport(report, season, containers, Math.round((toMs - fromMs) / DAY_MS));
  } finally {
    await season.store.close();
  }
}

function readArguments(args: readonly string[]): StudyOptions {
  const { values } = parseArgs({
    args: [...args],
    options: {
      days: { type: 'string', default: '120' },
      containers: { type: 'string', default: '120' },
      seed: { type: 'string', default: 'season-dev' },
      'first-day': { type: 'string', default: '2026-03-01' },
      'interval-s': { type: 'string', default: '3600' },
      'settle-days': { type: 'string', default: '14' },
      dir: { type: 'string', default: tmpdir() },
    },
  });
  const number = (name: 'days' | 'containers' | 'interval-s' | 'settle-days', low: number, high: number): number => {
    const value = Number(values[name]);
    if (!(value >= low && value <= high))
      throw new Error(`--${name} is not a number from ${low} to ${high}\n\n${HELP}`);
    return value;
  };
  const intervalS = number('interval-s', 0, 21_600);
  return {
    days: number('days', 1, 800),
    containers: number('containers', 1, 2_000),
    seed: values.seed,
    firstDay: values['first-day'],
    intervalS: intervalS === 0 ? null : intervalS,
    settleDays: number('settle-days', 0, 400),
    dir: values.dir,
  };
}
