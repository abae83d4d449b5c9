import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { parseArgs } from 'node:util';
import { writeFleet } from '../../simulators/files/write-fleet.js';
import { planAgain, type Replan } from '../../simulators/fleet/replan.js';
import type { App } from '../../src/app/context.js';
import { WHOLE_FLEET } from '../../src/domain/access.js';
import { DAY_MS } from '../../src/domain/local-day.js';
import { dryOutsOf } from './alarms/feed.js';
import { printReport, reportOf } from './alarms/report.js';
import { liveThrough } from './alarms/season.js';
import type { Benchmark } from './run.js';

const HELP = `Usage: npm run --silent bench alarms -- [--days N] [--containers N] [--seed S] [--step-hours N] [--settle-days N]

Lives through a season of a simulated fleet with every fault, storm and outage: readings arrive when they were received,
and the server's own stages turn them into alarms, tasks and alerts, in a store of its own, at simulated time. Prints the
table of alarms and alerts against the figures of ANSI/ISA-18.2 and EEMUA 191.

  --days N         days, the settling included (60)
  --containers N   pots (120)
  --seed S         of the fleet (alarm-study)
  --first-day DATE first local day (2026-06-01)
  --step-hours N   the clock steps so far at once; what came up in between counts as raised together (1)
  --settle-days N  days at the beginning that are not counted, while pots are being learned (14)`;

export const benchmark: Benchmark = {
  name: 'alarms',
  summary: 'alarms and alerts of a simulated season against the figures of the standards',
  help: HELP,
  async run(args) {
    const options = readArguments(args);
    const dir = mkdtempSync(join(tmpdir(), 'brimline-alarm-study-'));
    try {
      await study(dir, options);
    } finally {
      rmSync(dir, { recursive: true, force: true });
    }
  },
};

interface StudyOptions {
  readonly days: number;
  readonly containers: number;
  readonly seed: string;
  readonly firstDay: string;
  readonly stepHours: number;
  readonly settleDays: number;
}

async function study(dir: string, options: StudyOptions): Promise<void> {
  const fleetDir = join(dir, 'fleet');
  const { seed, containers, days, firstDay } = options;
  const progress = (line: string): void => {
    process.stderr.write(`${line}\n`);
  };
  const replan: Replan = {
    kind: 'random',
    options: { seed, profile: 'mixed', containers, days, firstDay, climate: 'coast', moistureShare: 0.94 },
  };
  progress('simulating the fleet');
  const written = writeFleet(planAgain(replan), fleetDir, {
    originEveryDays: 0,
    hourlyTruth: true,
    replan,
    progress: () => {},
  });
  progress(`${written.containers} containers, ${written.readings} readings`);
  const calendars = written.sites.map((site) => site.calendar);
  const startMs = Math.min(...calendars.map((calendar) => calendar.startMs));
  const endMs = Math.max(...calendars.map((calendar) => calendar.dayStartMs[days]!));
  const season = await liveThrough({
    fleetDir,
    dataDir: join(dir, 'data'),
    startMs,
    endMs,
    stepHours: options.stepHours,
    onProgress: progress,
  });
  try {
    const pots = await season.store.registry.containers(WHOLE_FLEET);
    const foot = new Map(pots.map((pot) => [pot.id, pot.reservoir.wickFootMm]));
    const nothing = () => {};
    const app: App = {
      store: season.store,
      clock: { nowMs: () => endMs },
      log: { debug: nothing, info: nothing, warn: nothing, error: nothing },
    };
    const fromMs = startMs + options.settleDays * DAY_MS;
    const report = await reportOf(app, season, fromMs, endMs, await dryOutsOf(fleetDir, foot));
    printReport(report, season, pots.length, days - options.settleDays);
  } finally {
    await season.store.close();
  }
}

function readArguments(args: readonly string[]): StudyOptions {
  const { values } = parseArgs({
    args: [...args],
    options: {
      days: { type: 'string', default: '60' },
      containers: { type: 'string', default: '120' },
      seed: { type: 'string', default: 'alarm-study' },
      'first-day': { type: 'string', default: '2026-06-01' },
      'step-hours': { type: 'string', default: '1' },
      'settle-days': { type: 'string', default: '14' },
    },
  });
  const number = (name: 'days' | 'containers' | 'step-hours' | 'settle-days', low: number, high: number): number => {
    const value = Number(values[name]);
    if (!(value >= low && value <= high))
      throw new Error(`--${name} is not a number from ${low} to ${high}\n\n${HELP}`);
    return value;
  };
  return {
    days: number('days', 1, 800),
    containers: number('containers', 1, 2_000),
    seed: values.seed,
    firstDay: values['first-day'],
    stepHours: number('step-hours', 0.25, 24),
    settleDays: number('settle-days', 0, 400),
  };
}
