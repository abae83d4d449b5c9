#!/usr/bin/env node
import { fleetCommand } from './commands/fleet.js';
import { liveCommand } from './commands/live.js';
import { scoreCommand } from './commands/score.js';
import { studyCommand } from './commands/study.js';
import { UsageError } from './commands/usage.js';

interface SimulatorCommand {
  readonly summary: string;
  run(args: readonly string[]): Promise<void>;
}

const COMMANDS: Readonly<Record<string, SimulatorCommand>> = {
  fleet: { summary: 'simulate a fleet and write its files, with the truth beside them', run: fleetCommand },
  live: { summary: 'go on with a fleet over MQTT and HTTP, in step with a scaled clock', run: liveCommand },
  score: { summary: 'compare a replay with the truth of a simulated fleet', run: scoreCommand },
  study: { summary: 'generate, replay and score the fleets of a list of seeds', run: studyCommand },
};

function help(): string {
  const names = Object.entries(COMMANDS).map(([name, command]) => `  ${name.padEnd(8)} ${command.summary}`);
  return [
    'Usage: node dist/simulators/main.js COMMAND [options]',
    '',
    'Simulated container gardens for the demo and for scoring. They share no model with the product.',
    '',
    ...names,
    '',
    'COMMAND --help explains each command.',
  ].join('\n');
}

async function main(argv: readonly string[]): Promise<number> {
  const [name, ...args] = argv;
  if (name === undefined || name === '--help' || name === 'help') {
    console.log(help());
    return name === undefined ? 2 : 0;
  }
  const command = COMMANDS[name];
  if (command === undefined) {
    console.error(`There is no command "${name}".\n\n${help()}`);
    return 2;
  }
  try {
    await command.run(args);
    return 0;
  } catch (error) {
    if (error instanceof UsageError) {
      console.error(error.message);
      return 2;
    }
    console.error(error instanceof Error ? (error.stack ?? error.message) : String(error));
    return 1;
  }
}

process.exitCode = await main(process.argv.slice(2));
