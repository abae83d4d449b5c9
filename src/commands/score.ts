import { existsSync } from 'node:fs';
import { join } from 'node:path';
import { DomainError } from '../domain/errors.js';
import { type Command, UsageError } from './command.js';
import { parseOptions } from './options.js';

const HELP = `Usage: brimline score --truth DIR --out DIR [--fleet-dir DIR]

Compares what replay said with the truth of a simulated fleet, beside the naive ways of doing it: last two points,
lines through 3 and 7 days, Theil-Sen, a 20 % threshold. Prints one table and writes it to score.txt and score.json in
the folder of the replay.

  --truth DIR      the folder "truth" that the fleet simulator wrote
  --out DIR        the folder that replay wrote forecasts.csv, events.csv and findings.csv into
  --fleet-dir DIR  where fleet.json and readings.csv are (default: the folder around --truth)

Example, from nothing to a score:
  node dist/simulators/main.js fleet --seed 7 --out fleet-7
  brimline replay --fleet fleet-7/fleet.json --readings fleet-7/readings.csv --weather fleet-7/weather.csv \\
    --origins fleet-7/origins.csv --out fleet-7/out
  brimline score --truth fleet-7/truth --out fleet-7/out`;

export const score: Command = {
  name: 'score',
  summary: 'compare what replay said with the truth of a simulated fleet',
  help: HELP,
  async run(args, terminal) {
    const { options } = parseOptions(args, { truth: 'value', out: 'value', 'fleet-dir': 'value' });
    const truthDir = options.truth;
    const outDir = options.out;
    if (truthDir === undefined) throw new UsageError('score needs --truth; --help shows an example.');
    if (outDir === undefined) throw new UsageError('score needs --out; --help shows an example.');
    for (const [dir, file, maker] of [
      [truthDir, 'containers.csv', 'the fleet simulator'],
      [outDir, 'forecasts.csv', 'brimline replay'],
    ] as const) {
      if (existsSync(join(dir, file))) continue;
      throw new DomainError('file_unreadable', `${dir} holds no ${file}; give the folder that ${maker} wrote.`);
    }
    // Loaded here and nowhere else: a server has no use for the scorer.
    const { scoreReplay } = await import('../../simulators/score/score-fleet.js');
    await scoreReplay({ truthDir, outDir, fleetDir: options['fleet-dir'] ?? null }, (line) => terminal.out(line));
  },
};
