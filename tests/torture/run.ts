import { parseArgs } from 'node:util';
import { seededRng } from '../support/pot-series.js';
import { broker } from './broker.js';
import { clockSteps } from './clock-steps.js';
import { fullDisk } from './full-disk.js';
import { halfOpen } from './half-open.js';
import { life } from './life.js';
import { overload } from './overload.js';
import { powerLoss } from './power-loss.js';
import { retention } from './retention.js';
import type { Outcome, Scenario } from './scenario.js';
import { upgrade } from './upgrade.js';

const SCENARIOS: readonly Scenario[] = [
  life,
  broker,
  retention,
  powerLoss,
  upgrade,
  clockSteps,
  halfOpen,
  fullDisk,
  overload,
];

const HELP = `Usage: npm run torture -- [--kills N] [--minutes N] [--seed N] [--only NAME[,NAME]]

Kills the real program (kill -9) again and again while nodes publish and people work, starts it again, and checks that
nothing which was acknowledged is lost, doubled or changed, that the ledger closes, and that the store is whole.

  --kills N     kills in all, shared among the scenarios  (300; takes about a quarter of an hour)
  --minutes N   how long the overload lasts               (0.5)
  --seed N      another seed kills at other moments       (1)
  --only NAMES  some scenarios:
${SCENARIOS.map(({ name, summary }) => `                  ${name.padEnd(12)}${summary}`).join('\n')}

Needs what “npm run build” made. It ends with 1 at the first fault.`;

interface Line extends Outcome {
  readonly name: string;
  readonly seconds: number;
}

async function main(): Promise<number> {
  const { values } = parseArgs({
    options: {
      kills: { type: 'string', default: '300' },
      minutes: { type: 'string', default: '0.5' },
      seed: { type: 'string', default: '1' },
      only: { type: 'string' },
      help: { type: 'boolean', short: 'h', default: false },
    },
  });
  if (values.help) {
    console.log(HELP);
    return 0;
  }
  const kills = Number(values.kills);
  const minutes = Number(values.minutes);
  const seed = Number(values.seed);
  if (!Number.isInteger(kills) || kills < 1 || !Number.isInteger(seed) || !(minutes > 0)) {
    console.error('--kills and --seed take whole numbers, --minutes a number above 0.');
    return 2;
  }
  const chosen = choose(values.only);
  if (typeof chosen === 'string') {
    console.error(chosen);
    return 2;
  }
  const lines: Line[] = [];
  const shares = chosen.reduce((sum, scenario) => sum + scenario.share, 0);
  for (const scenario of chosen) {
    const missing = scenario.missing?.() ?? null;
    if (missing !== null) {
      console.log(`${scenario.name}: NOT RUN, ${missing}`);
      continue;
    }
    const startedMs = performance.now();
    const plan = {
      kills: Math.max(1, Math.round((kills * scenario.share) / shares)),
      minutes,
      random: seededRng(seed),
      say: (line: string) => console.log(`  ${scenario.name}: ${line}`),
    };
    const line = { name: scenario.name, ...(await scenario.run(plan)) };
    lines.push({ ...line, seconds: (performance.now() - startedMs) / 1000 });
  }
  report(lines);
  return lines.some(({ faults }) => faults.length > 0) ? 1 : 0;
}

function choose(only: string | undefined): readonly Scenario[] | string {
  if (only === undefined) return SCENARIOS;
  const names = only.split(',').map((name) => name.trim());
  const unknown = names.find((name) => !SCENARIOS.some((scenario) => scenario.name === name));
  if (unknown !== undefined) {
    return `There is no scenario “${unknown}”. There are: ${SCENARIOS.map(({ name }) => name).join(', ')}.`;
  }
  return SCENARIOS.filter(({ name }) => names.includes(name));
}

function report(lines: readonly Line[]): void {
  console.log('\nscenario        kills  readings acknowledged  acts answered  faults  seconds');
  for (const { name, kills, acknowledged, acts, faults, seconds } of lines) {
    console.log(
      `${name.padEnd(14)}${String(kills).padStart(7)}${String(acknowledged).padStart(23)}${String(acts).padStart(15)}` +
        `${String(faults.length).padStart(8)}${seconds.toFixed(0).padStart(9)}`,
    );
  }
  for (const { name, notes, faults } of lines) {
    for (const note of notes) console.log(`${name}: ${note}`);
    for (const fault of faults.slice(0, 10)) console.log(`${name}: FAULT: ${fault}`);
  }
}

process.exitCode = await main();
